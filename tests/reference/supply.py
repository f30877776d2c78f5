"""Lines of switching supplies, seen in the spectra of waveforms that are made and transformed.

Nothing here knows where a line should lie: waveforms are written down in time, sent through a nonlinearity,
and NumPy's FFT is searched for what stands above the floor. Every rate is a whole number of bins, so that a
line fills one bin.

- "beats": the product of two sawtooth-like ripples of a few harmonics each, 1/k high, as a loop that
  multiplies or a square-law device makes it; boards draw their switching frequencies within a tolerance.
- "doubling": a current-mode converter's ripple whose cycles repeat only after two, three or four.
- "bursts": a ripple that is gated on and off, rectified.
- "spread": a carrier and its harmonics moved to and fro by a triangle, a sine or a random walk in the limits:
  from where to where the middle 96 % of each harmonic's power lies. SciPy's integrate makes the phase.

Lines are told up to below the lowest switching frequency.
"""

import numpy as np
from scipy.integrate import cumulative_trapezoid

from reference import write

TAU = 2 * np.pi


def found(signal, resolution, below, floor):
    """Frequencies and amplitudes of the lines above `floor` times the highest, from above 0 to below `below`."""
    spectrum = 2 * np.abs(np.fft.rfft(signal)) / len(signal)
    spectrum = spectrum[1 : int(np.ceil(below / resolution))]
    places = np.nonzero(spectrum > floor * np.max(spectrum))[0]
    return [float((place + 1) * resolution) for place in places], [float(spectrum[place]) for place in places]


def ripple(phase, orders):
    """A sawtooth of so many harmonics; `phase` in turns."""
    return sum(np.sin(TAU * k * phase) / k for k in range(1, orders + 1))


def beats(random):
    """Products of two ripples on boards within their tolerances."""
    resolution, size, cases = 100.0, 1 << 17, []
    time = np.arange(size) / (resolution * size)
    for marked, tolerances, orders in [
        ((400e3, 520e3), (0.1, 0.1), 3),
        ((65e3, 300e3), (0.06, 0.12), 5),
        ((500e3, 500e3), (0.03, 0.02), 4),
        ((450e3, 910e3), (0.02, 0.05), 2),
    ]:
        boards = []
        while len(boards) < 6:
            strays = 1 + np.array(tolerances) * random.uniform(-1, 1, 2)
            f1, f2 = resolution * np.round(np.array(marked) * strays / resolution)
            inside = np.abs(np.array([f1, f2]) / marked - 1) <= tolerances
            # Two beats in one bin, or one at 0, would be counted as one or none.
            sizes = [abs(m * f1 - n * f2) for m in range(1, orders + 1) for n in range(1, orders + 1)]
            if not all(inside) or len(set(sizes)) < len(sizes) or min(sizes) == 0:
                continue
            signal = ripple(f1 * time, orders) * ripple(f2 * time, orders)
            lines, amplitudes = found(signal, resolution, min(f1, f2), 1e-6)
            boards.append({"frequencies": [f1, f2], "lines": lines, "amplitudes": amplitudes})
        cases.append({"marked": marked, "tolerances": tolerances, "orders": orders, "boards": boards})
    return cases


def doubling(random):
    """A triangular ripple whose peaks differ from cycle to cycle, over whole cycles of a pattern."""
    cases = []
    for cycles in (2, 3, 4):
        resolution, frequency, samples = 100.0, 120e3, 256
        duties = 0.5 + 0.15 * random.uniform(-1, 1, cycles)
        within = (np.arange(samples) + 0.5) / samples
        pattern = np.concatenate([np.where(within < d, within / d, (1 - within) / (1 - d)) * (0.8 + d) for d in duties])
        signal = np.tile(pattern, int(frequency / resolution / cycles))
        lines, _ = found(signal, resolution, 1.5 * frequency, 1e-6)
        cases.append({"frequency": frequency, "divisor": cycles, "below": 1.5 * frequency, "lines": lines})
    return cases


def bursts():
    """A ripple gated on and off, rectified: what a loop's nonlinearity finds of it below the carrier."""
    cases, resolution, size = [], 50.0, 1 << 17
    time = np.arange(size) / (resolution * size)
    for frequency, rate, share in [(200e3, 1.6e3, 0.13), (100e3, 800.0, 0.31), (300e3, 12.8e3, 0.2)]:
        # A whole number of samples to a burst, so that sampling folds nothing between the lines.
        gate = (rate * time) % 1 < share
        # The carrier starts with each burst, as a comparator makes it.
        since = ((rate * time) % 1) / rate
        signal = np.where(gate, np.abs(ripple(frequency * since, 3)), 0)
        lines, _ = found(signal, resolution, 5.5 * rate, 1e-3)
        cases.append({"frequency": frequency, "rate": rate, "below": 5.5 * rate, "lines": lines})
    return cases


def spread(random):
    """Where the middle 96 % of each harmonic's power lies while the switching frequency moves."""
    cases, resolution, size = [], 100.0, 1 << 17
    time = np.arange(size + 1) / (resolution * size)
    for frequency, depth, rate, shape in [
        (400e3, 0.03, 9e3, "triangle"),
        (250e3, 0.06, 4e3, "sine"),
        (600e3, 0.01, 20e3, "triangle"),
        (300e3, 0.004, 9e3, "sine"),
        (300e3, 0.05, 2e3, "walk"),
    ]:
        turns = rate * time
        if shape == "triangle":
            moved = 1 - 4 * np.abs(turns % 1 - 0.5)
        elif shape == "sine":
            moved = np.sin(TAU * turns)
        else:
            values = random.uniform(-1, 1, int(2 * rate / resolution))
            moved = np.interp(2 * turns, np.arange(len(values) + 1), np.append(values, values[0]))
        phase = cumulative_trapezoid(frequency * (1 + depth * moved), time, initial=0)[:-1]
        bands = []
        for k in (1, 2, 3):
            power = np.abs(np.fft.rfft(np.hanning(size) * np.sin(TAU * k * phase))) ** 2
            share = np.cumsum(power) / np.sum(power)
            bands.append([float(resolution * np.searchsorted(share, q)) for q in (0.02, 0.98)])
        cases.append({"frequency": frequency, "depth": depth, "rate": rate, "shape": shape, "bands": bands})
    return cases


def main():
    random = np.random.default_rng(20270309)
    data = {
        "beats": beats(random),
        "doubling": doubling(random),
        "bursts": bursts(),
        "spread": spread(random),
    }
    write(__file__, data, ["numpy", "scipy"])


if __name__ == "__main__":
    main()
