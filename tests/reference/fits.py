"""Plants of a few modes seen through noise, and what other methods make of them.

300 plants P(s) = exp(-s·delay)·(g/s^n + sum of A/(s² + 2ζωs + ω²)) are drawn, a quarter each with a constant,
1/s and 1/s² beside the modes and with a suspension (no rigid part, lowest mode damped up to 0.1). Data are made by a
recipe that the reader of the JSON follows as well: frequencies evenly spread over the logarithm and denser
about each mode, noise of 0.5 % in both parts, relative to the answer, from SplitMix64 and Box and Muller's
transform; `probe` holds a few of the points, so that the reader can tell whether it has the same ones.

How plants are drawn: 1 to 4 modes (the suspension counts), ζ from 0.002 to 0.1 and neighbours at least a factor
1.2 apart, both over the logarithm; one residue in four negative; a delay of 0.05 to 1.5 turns at the highest frequency.
A plant is drawn again when a mode could not be told well enough by any method: when Cramér and Rao's bound, from the
true derivatives, is above 0.04 % for a frequency or 2 % for a damping, a fifth of what the check asks for; or when
a mode, at its frequency, is less than 0.4 of the rest. `redrawn` counts them.

The other methods, on the same data with the same weights:
- scipy.optimize.least_squares on all unknowns, from a start off by up to 2 % in frequency and a factor 2 in damping
  ("trf" on scaled unknowns; and from the true values);
- vector fitting of scikit-rf with as many poles as the plant has, the true delay taken out, a constant beside
  the poles and residues complex. It has more freedom than the model, and weighs all points alike. Where it does
  not settle, it ends elsewhere on another machine: its cost stands under "self_check", which is not compared.
Costs are sums of |model - measured|²/size², size = |measured|, at least a fifth of the median of five neighbours.

A second set repeats the noise on three plants: the scatter of least_squares' answers is what stated
uncertainties should be.
"""

import warnings

import numpy as np
from skrf import Network
from skrf.vectorFitting import VectorFitting
from scipy.optimize import least_squares

from reference import write

TAU = 2 * np.pi
PLANTS = 300
NOISE = 0.005
SPREAD = np.arange(-12, 13) / 2.0  # half-widths about a mode
MASK = (1 << 64) - 1


class SplitMix:
    """Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (2014)."""

    def __init__(self, seed):
        self.state = seed

    def unit(self):
        """In (0, 1), 53 bits."""
        self.state = (self.state + 0x9E3779B97F4A7C15) & MASK
        z = self.state
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
        return ((z ^ (z >> 31)) >> 11) * 2.0**-53 + 2.0**-54

    def normal(self):
        """Two normal deviates, as a complex number."""
        size = np.sqrt(-2 * np.log(self.unit()))
        return complex(size * np.exp(1j * TAU * self.unit()))


def rational(plant, s):
    """The plant without its delay."""
    total = np.zeros_like(s)
    if plant["integrators"] is not None:
        total = total + plant["gain"] / s ** plant["integrators"]
    for f, zeta, a in plant["modes"]:
        total = total + a / (s * s + 2 * zeta * TAU * f * s + (TAU * f) ** 2)
    return total


def answer(plant, frequencies):
    s = 1j * TAU * frequencies
    return rational(plant, s) * np.exp(-s * plant["delay"])


def grid(plant):
    """The sweep's frequencies."""
    low, high, count = plant["low"], plant["high"], plant["count"]
    points = [low * (high / low) ** (i / (count - 1)) for i in range(count)]
    for f, zeta, _ in plant["modes"]:
        points += [f * (1 + zeta * u) for u in SPREAD if low < f * (1 + zeta * u) < high]
    return np.array(sorted(points))


def measured(plant, frequencies, seed):
    random = SplitMix(seed)
    return answer(plant, frequencies) * np.array([1 + NOISE * random.normal() for _ in frequencies])


def sizes(response):
    magnitude = np.abs(response)
    near = [np.sort(magnitude[max(0, i - 2) : i + 3]) for i in range(len(magnitude))]
    return np.maximum(magnitude, 0.2 * np.array([x[len(x) // 2] for x in near]))


def vector(plant):
    """Unknowns: logarithms of frequencies and dampings, residues, gain, delay."""
    modes = np.array(plant["modes"])
    gain = [] if plant["integrators"] is None else [plant["gain"]]
    return np.concatenate([np.log(modes[:, 0]), np.log(modes[:, 1]), modes[:, 2], gain, [plant["delay"]]])


def plant_of(x, like):
    m = len(like["modes"])
    modes = [[np.exp(x[k]), np.exp(x[m + k]), x[2 * m + k]] for k in range(m)]
    rigid = like["integrators"]
    return {"modes": modes, "integrators": rigid, "gain": None if rigid is None else x[3 * m], "delay": x[-1]}


def residual(x, like, frequencies, response, size):
    with np.errstate(all="ignore"):
        r = (answer(plant_of(x, like), frequencies) - response) / size
    r = np.nan_to_num(np.concatenate([r.real, r.imag]), nan=1e6, posinf=1e6, neginf=-1e6)
    return np.clip(r, -1e6, 1e6)


def scaled(x, like, frequencies, response, size):
    """Units for the unknowns in which each moves the residual about alike."""
    columns = jacobian(x, like, frequencies, response, size)
    return 1 / np.maximum(np.linalg.norm(columns, axis=0), 1e-300)


def jacobian(x, like, frequencies, _response, size):
    s = 1j * TAU * frequencies
    plant = plant_of(x, like)
    turned = np.exp(-s * plant["delay"]) / size
    shares, columns, dampings, residues = [], [], [], []
    for f, zeta, a in plant["modes"]:
        w = TAU * f
        q = s * s + 2 * zeta * w * s + w * w
        columns.append(-turned * a / q**2 * (2 * zeta * w * s + 2 * w * w))
        dampings.append(-turned * a / q**2 * (2 * zeta * w * s))
        residues.append(turned / q)
        shares.append(a / q)
    total = sum(shares)
    gain = []
    if like["integrators"] is not None:
        total = total + plant["gain"] / s ** like["integrators"]
        gain = [turned / s ** like["integrators"]]
    columns = np.array(columns + dampings + residues + gain + [-s * turned * total]).T
    return np.concatenate([columns.real, columns.imag])


def solved(start, like, data):
    """least_squares from a start; the unknowns and the cost."""
    unit = scaled(start, like, *data)

    def there(y):
        return start + y * unit

    found = least_squares(
        lambda y: residual(there(y), like, *data),
        np.zeros_like(start),
        jac=lambda y: jacobian(there(y), like, *data) * unit,
        xtol=1e-13,
        ftol=1e-13,
        gtol=1e-13,
        max_nfev=500,
    )
    x = there(found.x)
    # Where it has settled, a few Gauss-Newton steps settle the last digits, so that another machine finds them too.
    for _ in range(4):
        r = residual(x, like, *data)
        step = np.linalg.lstsq(jacobian(x, like, *data) * unit, -r, rcond=None)[0]
        closer = residual(x + step * unit, like, *data)
        if np.linalg.norm(step) > 0.1 * NOISE or closer @ closer > (1 + 1e-9) * (r @ r):
            break
        x = x + step * unit
    r = residual(x, like, *data)
    return x, float(r @ r)


def bound(plant, data):
    """Cramér and Rao's standard deviations: relative, of frequencies and of dampings."""
    columns = jacobian(vector(plant), plant, *data)
    length = np.linalg.norm(columns, axis=0)
    inverse = np.linalg.inv((columns / length).T @ (columns / length))
    deviations = NOISE * np.sqrt(np.diag(inverse)) / length
    m = len(plant["modes"])
    return deviations[:m], deviations[m : 2 * m]


def rounded(x):
    return float(f"{x:.6g}")


def drawn(rng, number):
    """A plant, good or not."""

    def log(low, high):
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    low = log(0.5, 200)
    high = low * log(50, 1000)
    kind = number % 4
    count = int(rng.integers(1, 5))
    size = log(1e-6, 1e6)
    modes = []
    first = low * 2
    if kind == 3:
        f = low * log(1.5, 6)
        modes.append([f, log(0.005, 0.1), size * (TAU * f) ** 2])
        first = 3 * f
    for _ in range(count - len(modes)):
        f, zeta = log(first, high / 1.3), log(0.002, 0.1)
        modes.append([f, zeta, 0.0])
    modes.sort()
    integrators = None if kind == 3 else kind
    gain = None if kind == 3 else rounded(size * (TAU * np.sqrt(low * high)) ** kind)
    for mode in modes:
        if mode[2] == 0.0:
            # Beside what the rigid part does there, as a structure's modes go.
            w = TAU * mode[0]
            rest = modes[0][2] / w**2 if kind == 3 else gain / w**kind
            mode[2] = rest * w * w * log(0.02, 1.0) * (-1 if rng.uniform() < 0.25 else 1)
    return {
        "low": rounded(low),
        "high": rounded(high),
        "count": int(rng.integers(80, 241)),
        "integrators": integrators,
        "gain": gain,
        "modes": [[rounded(x) for x in mode] for mode in modes],
        "delay": rounded(log(0.05, 1.5) / high),
        "seed": number + 1,
    }


def good(plant):
    """Whether every mode could be told."""
    modes = plant["modes"]
    if any(b[0] < 1.2 * a[0] for a, b in zip(modes, modes[1:])):
        return False
    for k, (f, zeta, a) in enumerate(modes):
        rest = {**plant, "modes": modes[:k] + modes[k + 1 :]}
        others = abs(rational(rest, np.array([1j * TAU * f]))[0])
        if abs(a) / (2 * zeta * (TAU * f) ** 2) < 0.4 * others:
            return False
    frequencies = grid(plant)
    response = answer(plant, frequencies)
    frequency, damping = bound(plant, (frequencies, response, sizes(response)))
    return frequency.max() < 4e-4 and damping.max() < 0.02


def vector_fitted(plant, frequencies, response, size):
    """Cost of scikit-rf's vector fitting with the plant's number of poles."""
    flat = response * np.exp(2j * np.pi * frequencies * plant["delay"])
    unit = np.median(np.abs(flat))
    network = Network(f=frequencies, s=(flat / unit).reshape(-1, 1, 1), z0=50, f_unit="hz")
    fit = VectorFitting(network)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit.vector_fit(
            n_poles_real=plant["integrators"] or 0,
            n_poles_cmplx=len(plant["modes"]),
            init_pole_spacing="log",
            fit_constant=True,
            fit_proportional=False,
        )
        model = fit.get_model_response(0, 0, frequencies) * unit
    return float(np.sum(np.abs((model - flat) / size) ** 2))


def told(plant, rng):
    frequencies = grid(plant)
    response = measured(plant, frequencies, plant["seed"])
    size = sizes(response)
    data = (frequencies, response, size)
    truth = vector(plant)
    m = len(plant["modes"])
    start = truth.copy()
    start[:m] += np.log(1 + rng.uniform(-0.02, 0.02, m))
    start[m : 2 * m] += rng.uniform(-1, 1, m) * np.log(2)
    start[-1] *= rng.uniform(0.5, 1.5)
    near = plant_of(start, plant)
    near["modes"] = [[rounded(x) for x in mode] for mode in near["modes"]]
    near["delay"] = rounded(near["delay"])
    _, cost = solved(vector(near), plant, data)
    _, best = solved(truth, plant, data)
    probe = [int(i) for i in (0, len(frequencies) // 2, len(frequencies) - 1)]
    return {
        **plant,
        "start": {"modes": near["modes"], "delay": near["delay"]},
        "cost": cost,
        "cost_from_truth": best,
        "self_check": {"cost_vector_fitting": vector_fitted(plant, frequencies, response, size)},
        "points": len(frequencies),
        "probe": [[float(frequencies[i]), float(response[i].real), float(response[i].imag)] for i in probe],
    }


def scatter(plant, repeats):
    """Standard deviations of the answers over noise, of frequency and damping (relative), residue, gain, delay."""
    frequencies = grid(plant)
    found = []
    for seed in range(repeats):
        response = measured(plant, frequencies, 1000 + seed)
        found.append(solved(vector(plant), plant, (frequencies, response, sizes(response)))[0])
    return np.std(found, axis=0, ddof=1).tolist()


def main():
    rng = np.random.default_rng(1999)
    plants, redrawn = [], 0
    while len(plants) < PLANTS:
        plant = drawn(rng, len(plants))
        if not good(plant):
            redrawn += 1
            continue
        plants.append(told(plant, rng))
    repeats = 200
    scatters = [{"plant": k, "repeats": repeats, "deviations": scatter(plants[k], repeats)} for k in (1, 2, 7)]
    write(
        __file__,
        {"plants": plants, "redrawn": redrawn, "scatters": scatters},
        ["numpy", "scipy", "scikit-rf"],
    )


if __name__ == "__main__":
    main()
