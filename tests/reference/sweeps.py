"""Frequency responses as texts in many forms, with the complex values that they stand for.

Every text is put together here from formatted numbers, and the values are those of the very digits in the
text, by Python's complex arithmetic. `bad_lines` are the lines, counted from 1, that are rows without a
value. Where rows share a frequency, the value is their mean.
"""

import cmath
import math
import random
from collections import defaultdict

from reference import write

TAU = 2 * math.pi
SEED = 20240612


def plant(f):
    """A response that goes through more than half a turn: two modes and a delay; f in Hz."""
    s = 1j * TAU * f
    modes = [(27.0, 0.08, 40.0), (2350.0, 0.006, 8.0)]
    total = sum(gain * (TAU * 27) ** 2 / (s**2 + 2 * d * TAU * f0 * s + (TAU * f0) ** 2) for f0, d, gain in modes)
    return total * cmath.exp(-s * 6e-6)


def grid(count, low=5.0, high=20e3):
    """Frequencies in Hz, alike in every decade."""
    return [low * (high / low) ** (k / (count - 1)) for k in range(count)]


def polar(level, angle):
    """The value of a magnitude in dB and a phase in degrees."""
    return cmath.rect(10 ** (level / 20), math.radians(angle))


def table(rows, formats, separator, comma=False):
    """Lines of formatted rows, and the numbers that their digits are."""
    lines, numbers = [], []
    for row in rows:
        cells = [format(value, form) for value, form in zip(row, formats)]
        numbers.append([float(cell) for cell in cells])
        lines.append(separator.join(cell.replace(".", ",") if comma else cell for cell in cells))
    return lines, numbers


def case(name, lines, pairs, bad_lines=(), end="\n"):
    """One text, and its points in order of frequency."""
    same = defaultdict(list)
    for f, z in pairs:
        same[f].append(z)
    points = sorted((f, sum(zs) / len(zs)) for f, zs in same.items())
    return {
        "name": name,
        "text": end.join(lines) + end,
        "frequencies": [f for f, _ in points],
        "response": [[z.real, z.imag] for _, z in points],
        "bad_lines": list(bad_lines),
    }


def levels(frequencies):
    """Rows of frequency, dB and degrees."""
    answers = [(f, plant(f)) for f in frequencies]
    return [(f, 20 * math.log10(abs(z)), math.degrees(cmath.phase(z))) for f, z in answers]


def cases():
    """All texts."""
    rng = random.Random(SEED)

    lines, n = table(levels(grid(60)), [".6g", ".4f", ".3f"], "\t")
    head = ["\ufeff# Analyzer export", "Frequency (Hz)\tMagnitude (dB)\tPhase (deg)"]
    yield case("tabs, mark of byte order, CR LF", head + lines, [(f, polar(a, p)) for f, a, p in n], end="\r\n")

    lines, n = table(levels(grid(50)), [".3f", ".4f", ".3f"], ";", comma=True)
    head = ["Frequenz [Hz];Betrag [dB];Phase [°]", ""]
    yield case("semicolons and decimal commas", head + lines, [(f, polar(a, p)) for f, a, p in n])

    rows = [(k, rng.uniform(0.9, 1.0), *row) for k, row in enumerate(levels(grid(40)))]
    rng.shuffle(rows)
    lines, n = table(rows, ["d", ".3f", ".5e", ".4f", ".3f"], ",")
    head = ['"Index","Coherence","Frequency (Hz)","Mag[dB]","Phase_deg"']
    yield case("commas, an index, a coherence, shuffled", head + lines, [(f, polar(a, p)) for _, _, f, a, p in n])

    rows = [(TAU * f, plant(f).real, plant(f).imag) for f in grid(40)]
    lines, n = table(rows, ["14.6f", "16.8e", "16.8e"], " ")
    head = ["! solver output", "!   w rad/s   Re   Im"]
    lines = [line.replace("e", "D") for line in lines]
    yield case("blanks, exponents of Fortran, rad/s", head + lines, [(w / TAU, complex(a, b)) for w, a, b in n])

    rows = [(f, abs(plant(f)), cmath.phase(plant(f))) for f in grid(40)]
    lines, n = table(rows, [".8g", ".6e", ".6f"], " ")
    yield case("ratio and radians without a header", lines, [(f, cmath.rect(a, p)) for f, a, p in n])

    lines, n = table(levels(grid(40, 5.3)), [".3f", ".4f", ".3f"], ", ", comma=True)
    yield case("decimal commas, comma and blank", lines, [(f, polar(a, p)) for f, a, p in n])

    rows = [(f / 1e3, abs(plant(f)), p) for f, _, p in levels(grid(30))]
    lines, n = table(rows, [".6f", ".6e", ".3f"], " | ")
    head = ["| f (kHz) | gain (V/V) | phase (deg) |", "|---|---|---|"]
    lines = [f"| {line} |" for line in lines]
    values = [(f * 1e3, cmath.rect(a, math.radians(p))) for f, a, p in n]
    yield case("bars and kHz", head + lines, values)

    rows, turned, last = [], 0.0, 0.0
    for f, level, phase in levels(grid(200)):
        turned += (phase - last + 180) % 360 - 180
        last = phase
        rows.append((f, level, turned - 360, -3.0, 12.0))
    lines, n = table(rows[::-1], [".5g", ".4f", ".3f", ".1f", ".1f"], "\t")
    head = ["% two channels, downwards, phase not wrapped", "f\tMag 1 (dB)\tPhase 1\tMag 2 (dB)\tPhase 2"]
    yield case("two channels from high to low", head + lines, [(f, polar(a, p)) for f, a, p, _, _ in n])

    frequencies = grid(20)
    lines, n = table(levels(frequencies + frequencies[5:9]), [".6g", ".4f", ".3f"], ";")
    lines[2] = "7.5;NaN;-3.1"
    lines[7] = "0;-20;-160"
    lines[9] = "12.5;1e9;-160"
    lines[11] = "12.5;-20"
    lines.insert(4, "")
    lines.insert(6, "// drive turned down here")
    good = [row for k, row in enumerate(n) if k not in (2, 7, 9, 11)]
    text = ["f (Hz);|H| (dB);arg (deg)"] + lines
    bad = [4, 11, 13, 15]
    yield case("doubled and bad rows", text, [(f, polar(a, p)) for f, a, p in good], bad)

    rows = [(f, plant(f).real, plant(f).imag) for f in grid(60)]
    lines, n = table(rows, [".9g", ".9e", ".9e"], "\t")
    yield case("real and imaginary part without a header", lines, [(f, complex(a, b)) for f, a, b in n])


def main():
    write(__file__, {"cases": list(cases())}, [])


if __name__ == "__main__":
    main()
