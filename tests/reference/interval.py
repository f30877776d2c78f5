"""Two-sided 95 % intervals on a proportion: k of n boards passed.

Clopper-Pearson (exact) by two ways in SciPy: quantiles of the beta distribution, and
scipy.stats.binomtest, whose root finder stops at about 1e-12. The JSON holds the former; the script
asserts that the latter agrees, and that the bounds which have a closed form meet it: at k = 0, 1,
n - 1 and n, where the binomial tail is a single power.
Wilson (score) by scipy.stats.binomtest, without continuity correction.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1 "Confidence intervals", for the
Wilson form (the handbook names Agresti and Coull) and the exact one (the latter from memory);
Clopper and Pearson, Biometrika 26 (1934) 404; Wilson, J. Amer. Stat. Assoc. 22 (1927) 209.
"""

import math

from scipy.stats import beta, binomtest

from reference import write

CONFIDENCE = 0.95
SIZES = [1, 2, 5, 10, 40, 100, 1000, 10_000, 100_000, 1_000_000]


def successes(n):
    """The k to try for n trials: both ends and their neighbours, quarters, and a high yield."""
    return sorted({0, 1, n // 4, n // 2, (9 * n) // 10, (997 * n) // 1000, n - 1, n})


def clopper_pearson(k, n):
    """Lower and upper bound of the exact interval, from quantiles of the beta distribution."""
    half = (1 - CONFIDENCE) / 2
    low = beta.ppf(half, k, n - k + 1) if k else 0.0
    high = beta.isf(half, k + 1, n - k) if k < n else 1.0
    return [float(low), float(high)]


def from_test(k, n, method):
    """Lower and upper bound as scipy.stats.binomtest gives them."""
    interval = binomtest(k, n).proportion_ci(CONFIDENCE, method)
    return [float(interval.low), float(interval.high)]


def close(pair, other, rel_tol=1e-12, abs_tol=1e-16):
    """Whether two intervals agree."""
    return all(math.isclose(x, y, rel_tol=rel_tol, abs_tol=abs_tol) for x, y in zip(pair, other))


def main():
    cases = []
    half = (1 - CONFIDENCE) / 2
    for n in SIZES:
        for k in successes(n):
            exact = clopper_pearson(k, n)
            assert close(exact, from_test(k, n, "exact"), rel_tol=0, abs_tol=1e-11), (k, n)
            if k == 0:
                assert close(exact, [0.0, -math.expm1(math.log(half) / n)]), n
            if k == 1:
                assert close(exact[:1], [-math.expm1(math.log1p(-half) / n)]), n
            if k == n - 1:
                assert close(exact[1:], [math.exp(math.log1p(-half) / n)]), n
            if k == n:
                assert close(exact, [math.exp(math.log(half) / n), 1.0]), n
            cases.append({"k": k, "n": n, "clopper_pearson": exact, "wilson": from_test(k, n, "wilson")})
    write(__file__, {"confidence": CONFIDENCE, "cases": cases}, ["scipy", "numpy"])


if __name__ == "__main__":
    main()
