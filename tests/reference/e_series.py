"""The preferred values of IEC 60063 and the nearest of them to random values.

Source: the tables of the `eseries` package. The script asserts that its E48, E96 and E192 tables
obey the standard's rule, 10^(i/n) rounded to three figures, with E192's 9.20 (rule: 9.19) as the one
exception (rule and exception from memory).

Nearest means nearest by ratio: the value whose quotient with the wanted one is closest to 1, the
larger of the two over the smaller. The package's own find_nearest goes by difference, which puts the
boundary between two neighbours at their arithmetic mean, not at their geometric mean. So nearest
values are found here from the package's tables, and the cases in which the package says otherwise
are listed.
"""

import math

import eseries
import numpy as np

from reference import write

SEED = 20240603
VALUES = 200


def decade(key):
    """One decade of the series, [1, 10), dimensionless."""
    base = eseries.series(key)
    return [float(f"{value}e{1 - len(str(value))}") for value in base]


def assert_rule(key):
    """Assert that a three-figure series follows its rule, but for 9.20 in E192."""
    rule = [round(100 * 10 ** (i / int(key))) for i in range(int(key))]
    odd = [(want, have) for want, have in zip(rule, eseries.series(key)) if want != have]
    assert odd == ([(919, 920)] if key == eseries.E192 else [])


def nearest(key, value):
    """The series' value nearest to `value` by ratio, in the unit of `value`."""
    exponent = math.floor(math.log10(value))
    candidates = []
    for power in (exponent - 1, exponent, exponent + 1):
        candidates += [float(f"{base}e{power + 1 - len(str(base))}") for base in eseries.series(key)]
    return min(candidates, key=lambda candidate: max(candidate / value, value / candidate))


def main():
    rng = np.random.default_rng(SEED)
    keys = list(eseries.series_keys())
    for key in (eseries.E48, eseries.E96, eseries.E192):
        assert_rule(key)
    found, by_difference = [], []
    for value in (10 ** rng.uniform(-1, 7, VALUES)).tolist():
        by_ratio = {key.name: nearest(key, value) for key in keys}
        found.append({"value": value, "nearest": by_ratio})
        for key in keys:
            own, package = by_ratio[key.name], float(eseries.find_nearest(key, value))
            if not math.isclose(package, own, rel_tol=1e-12):
                by_difference.append({"value": value, "series": key.name, "package": package, "by_ratio": own})
    data = {
        "series": {key.name: decade(key) for key in keys},
        "nearest": found,
        "package_differs": by_difference,
    }
    write(__file__, data, ["eseries", "numpy"])


if __name__ == "__main__":
    main()
