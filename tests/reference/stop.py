"""JCGM 101:2008, additive model: how many trials the adaptive procedure takes, and what it finds.

The model of 9.2: Y = X1 + X2 + X3 + X4, independent, of mean 0. Three cases: four normal quantities of
standard deviation 1 (9.2.2), four rectangular ones (9.2.3), and rectangular ones of which the fourth
has a standard deviation of 10 (9.2.4). The procedure of 7.9.4, written apart from the program: sequences
of trials; of each the mean, the standard deviation and the ends of the probabilistically symmetric 95 %
interval; it stops when twice the standard deviation of the averages of all four is no more than a fifth
of the numerical tolerance of two significant digits (as the standard's example has it, see 8.2).

Each case is repeated with seeds of its own: mean and standard deviation of the number of sequences, and the
results as averages. `exact` has the standard deviation and the ends of the interval from the distribution
itself: normal, or an Irwin-Hall sum folded with a rectangle, inverted.

`printed` are the figures of the standard's tables 2 to 4 as remembered (from memory): the number of trials in
millions, the standard uncertainty, the upper end of the interval.
"""

import math

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm

from reference import write

SEED = 20240611
SEQUENCE = 10_240
REPEATS = 60
CASES = {
    "normal": {"law": "normal", "deviations": [1, 1, 1, 1], "printed": [1.23, 2.0, 3.92]},
    "rectangular": {"law": "uniform", "deviations": [1, 1, 1, 1], "printed": [1.02, 2.0, 3.88]},
    "dominated": {"law": "uniform", "deviations": [1, 1, 1, 10], "printed": [0.03, 10.1, 17.0]},
}


def tolerance(uncertainty, digits=2):
    """Half a unit of the last digit, 7.9.2."""
    exponent = math.floor(math.log10(uncertainty)) - digits + 1
    if round(uncertainty / 10**exponent) == 10**digits:
        exponent += 1
    return 0.5 * 10**exponent


def sequence(case, rng):
    """The four estimates of one sequence, and its moments."""
    y = np.zeros(SEQUENCE)
    for deviation in case["deviations"]:
        if case["law"] == "normal":
            y += deviation * rng.standard_normal(SEQUENCE)
        else:
            y += deviation * math.sqrt(3) * rng.uniform(-1, 1, SEQUENCE)
    low, high = np.quantile(y, [0.025, 0.975])
    return [y.mean(), y.std(ddof=1), low, high], [y.sum(), (y * y).sum()]


def adaptive(case, rng):
    """Number of sequences, and the averages of the estimates."""
    estimates, sums = [], np.zeros(2)
    while True:
        found, own = sequence(case, rng)
        estimates.append(found)
        sums += own
        h = len(estimates)
        if h < 2:
            continue
        n = h * SEQUENCE
        uncertainty = math.sqrt((sums[1] - sums[0] ** 2 / n) / (n - 1))
        scatter = np.std(estimates, axis=0, ddof=1) / math.sqrt(h)
        if np.all(2 * scatter <= tolerance(uncertainty) / 5):
            return h, np.mean(estimates, axis=0)


def exact(case):
    """Standard deviation of Y, and the upper end of the symmetric 95 % interval."""
    deviation = math.sqrt(sum(d * d for d in case["deviations"]))
    if case["law"] == "normal":
        return [deviation, float(norm.ppf(0.975) * deviation)]
    halves = [d * math.sqrt(3) for d in case["deviations"]]

    def beyond(y):
        # Inclusion and exclusion over the corners: the volume of the box beyond a plane.
        total = 0.0
        for corner in range(16):
            signs = [1 if corner >> k & 1 else -1 for k in range(4)]
            rest = sum(s * h for s, h in zip(signs, halves)) - y
            total += math.prod(signs) * max(rest, 0.0) ** 4
        return total / (math.factorial(4) * math.prod(2 * h for h in halves))

    return [deviation, float(brentq(lambda y: beyond(y) - 0.025, 0, sum(halves), xtol=1e-12))]


def main():
    cases = {}
    for number, (name, case) in enumerate(CASES.items()):
        rng = np.random.default_rng([SEED, number])
        runs = [adaptive(case, rng) for _ in range(REPEATS)]
        counts = np.array([h for h, _ in runs], float)
        found = np.mean([averages for _, averages in runs], axis=0)
        deviation, end = exact(case)
        assert abs(found[1] / deviation - 1) < 0.01 and abs(found[3] / end - 1) < 0.01, name
        cases[name] = {
            "law": case["law"],
            "deviations": case["deviations"],
            "sequences": [float(counts.mean()), float(counts.std(ddof=1))],
            "exact": [deviation, end],
            "printed": case["printed"],
        }
    write(__file__, {"repeats": REPEATS, "cases": cases}, ["numpy", "scipy"])


if __name__ == "__main__":
    main()
