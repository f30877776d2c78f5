"""Board-to-board spread of the multiple-feedback notch with an ideal op amp: a million boards.

H(s) = k (s^2 + s w0/Qz + w0^2) / (s^2 + s w0/Qp + w0^2), where k = R4 / (R3 + R4) is the gain at DC,
    w0^2 = 1 / (R1 R2 C1 C2),   w0/Qp = (C1 + C2) / (R2 C1 C2),   w0/Qz = w0/Qp - R3 / (R4 R1 C1)
(symbolic.py derives the coefficients from the netlist). With v = w/w0 - w0/w,
    |H|^2 = k^2 (v^2 + 1/Qz^2) / (v^2 + 1/Qp^2),
which rises with v^2 as long as |1/Qz| < 1/Qp. So the deepest point is w0, and the edges at k/sqrt(2)
lie at v^2 = 1/Qp^2 - 2/Qz^2, an f0 |v| apart. The script checks these figures on a few boards against
|H| from the polynomials, searched and root-found without them.

Laws: uniform within the tolerance, and normal of a standard deviation of a third of the tolerance,
cut at the tolerance. Parts are drawn independently. First-order standard deviations of ln f0 and
ln Qp come from their derivatives by the logarithm of each part, taken at the nominal values.
Monte Carlo propagation: JCGM 101:2008, clause 7 (from memory).

Standard errors: of a mean, s/sqrt(n); of a standard deviation s, sqrt(m4 - s^4)/(2 s sqrt(n)) with
the fourth central moment m4; of a quantile p, half the distance between the order statistics at
n p -+ sqrt(n p (1 - p)).
"""

import math

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import ndtr, ndtri

from reference import write

SEED = 20240604
BOARDS, SLICE = 1_000_000, 50_000
PROBE_HZ = 2350.0
PROBABILITIES = [0.05, 0.5, 0.95]
NOMINAL = {"R1": 1690.0, "R2": 27100.0, "R3": 1000.0, "R4": 8000.0, "C1": 1e-8, "C2": 1e-8}
TOLERANCE = {"R1": 0.01, "R2": 0.01, "R3": 0.01, "R4": 0.01, "C1": 0.05, "C2": 0.05}
CUT = 3.0
FIGURES = ["f0_hz", "q", "attenuation_db", "depth_db", "ln_f0", "ln_q_pole"]


def deviations(law, shape, rng):
    """Random relative deviations as a share of the tolerance, in [-1, 1]."""
    uniform = rng.random(shape)
    if law == "uniform":
        return 2 * uniform - 1
    return ndtri(ndtr(-CUT) + uniform * (ndtr(CUT) - ndtr(-CUT))) / CUT


def variance(law):
    """The variance of `deviations`."""
    if law == "uniform":
        return 1 / 3
    density = math.exp(-CUT**2 / 2) / math.sqrt(2 * math.pi)
    return (1 - 2 * CUT * density / (ndtr(CUT) - ndtr(-CUT))) / CUT**2


def shape_of(r1, r2, r3, r4, c1, c2):
    """f0 in hertz, 1/Qp and 1/Qz of boards with these values (ohm, farad)."""
    w0 = 1 / np.sqrt(r1 * r2 * c1 * c2)
    pole = (c1 + c2) / (r2 * c1 * c2) / w0
    return w0 / (2 * math.pi), pole, pole - r3 / (r4 * r1 * c1) / w0


def figures(parts):
    """The figures of FIGURES, one row each, of boards given as a dict of arrays.

    f0: the deepest point. Q: f0 over the distance of the edges at 1/sqrt(2) of the gain at DC.
    Attenuation (at PROBE_HZ) and depth: decibels below the gain at DC, positive. ln_q_pole: ln Qp.
    """
    f0, pole, zero = shape_of(*(parts[name] for name in NOMINAL))
    assert np.all(2 * zero**2 < pole**2)
    v = PROBE_HZ / f0 - f0 / PROBE_HZ
    attenuation = 10 * np.log10((v**2 + pole**2) / (v**2 + zero**2))
    depth = 20 * np.log10(pole / np.abs(zero))
    return np.array([f0, 1 / np.sqrt(pole**2 - 2 * zero**2), attenuation, depth, np.log(f0), -np.log(pole)])


def figures_by_search(r1, r2, r3, r4, c1, c2):
    """f0, Q, attenuation and depth of one board, from |H| alone."""
    n1 = (c1 + c2) * r1 - c2 * r2 * r3 / r4
    d1 = (c1 + c2) * r1

    def loss(f):
        w = 2 * math.pi * f
        rest = 1 - r1 * r2 * c1 * c2 * w * w
        return 20 * math.log10(math.hypot(rest, d1 * w) / math.hypot(rest, n1 * w))

    f0 = minimize_scalar(lambda f: -loss(f), bounds=(1500, 3500), method="bounded", options={"xatol": 1e-7}).x
    edge = 10 * math.log10(2)
    low = brentq(lambda f: loss(f) - edge, 100, f0, xtol=1e-9)
    high = brentq(lambda f: loss(f) - edge, f0, 1e5, xtol=1e-9)
    return [f0, f0 / (high - low), loss(PROBE_HZ), loss(f0)]


def summary(x):
    """Mean, standard deviation and quantiles of a sorted sample, each with its standard error."""
    n, mean, deviation = len(x), float(np.mean(x)), float(np.std(x, ddof=1))
    m4 = float(np.mean((x - mean) ** 4))
    quantiles = []
    for p in PROBABILITIES:
        reach = math.sqrt(n * p * (1 - p))
        below, above = (x[round(n * p + side * reach)] for side in (-1, 1))
        quantiles.append([float(np.quantile(x, p)), float(above - below) / 2])
    return {
        "mean": [mean, deviation / math.sqrt(n)],
        "standard_deviation": [deviation, math.sqrt(m4 - deviation**4) / (2 * deviation * math.sqrt(n))],
        "quantiles": quantiles,
    }


def first_order(law):
    """First-order standard deviations of ln f0 and ln Qp."""
    share = NOMINAL["C1"] / (NOMINAL["C1"] + NOMINAL["C2"])
    sensitivities = {
        "ln_f0": {"R1": -0.5, "R2": -0.5, "C1": -0.5, "C2": -0.5},
        "ln_q_pole": {"R1": -0.5, "R2": 0.5, "C1": 0.5 - share, "C2": share - 0.5},
    }
    return {
        figure: math.sqrt(variance(law) * sum((s * TOLERANCE[name]) ** 2 for name, s in by_part.items()))
        for figure, by_part in sensitivities.items()
    }


def main():
    rng = np.random.default_rng(SEED)
    laws = {}
    for law in ("uniform", "cut_normal"):
        found = np.empty((len(FIGURES), BOARDS))
        for start in range(0, BOARDS, SLICE):
            share = deviations(law, (len(NOMINAL), SLICE), rng)
            parts = {name: NOMINAL[name] * (1 + TOLERANCE[name] * share[k]) for k, name in enumerate(NOMINAL)}
            found[:, start : start + SLICE] = figures(parts)
            searched = figures_by_search(*(float(values[0]) for values in parts.values()))
            assert np.allclose(searched, found[:4, start], rtol=1e-6, atol=0)
        found.sort(axis=1)
        laws[law] = {name: summary(row) for name, row in zip(FIGURES, found)}
        laws[law]["first_order"] = first_order(law)
    data = {
        "boards": BOARDS,
        "nominal": NOMINAL,
        "tolerance": TOLERANCE,
        "probe_hz": PROBE_HZ,
        "probabilities": PROBABILITIES,
        "laws": laws,
    }
    write(__file__, data, ["numpy", "scipy"])


if __name__ == "__main__":
    main()
