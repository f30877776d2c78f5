"""Variance contributions on the multiple-feedback notch with an ideal op amp: Sobol's indices by SALib.

Figures, parts and tolerances are those of spread.py (its closed form), parts uniform within their tolerances and
independent. "misses" is 1 where a board misses a limit of the demo's ask: notch frequency within
5 % of 2350 Hz, Q within 10 % of 2, attenuation at 2350 Hz at least 18 dB.

Samples by SALib's `sample.sobol` (Saltelli's plan on a scrambled Sobol sequence, fixed seed), indices by its
`analyze.sobol`: first order S1 and total order ST, each with the standard error that its bootstrap gives
(its 95 % half width over 1.96). First-order linear shares of ln f0 beside them: (s_i t_i)^2 over their sum, with
the sensitivities s_i of spread.py and the tolerances t_i.
"""

import numpy as np
from SALib.analyze import sobol as analyze
from SALib.sample import sobol as sample

from reference import write
from spread import NOMINAL, TOLERANCE, figures

SEED = 20240611
SAMPLES = 2**15
FIGURES = {"notch-frequency": 0, "q": 1, "ask-attenuation-db": 2, "depth-db": 3}
LIMITS = {"frequency": (2350.0, 0.05), "q": (2.0, 0.1), "attenuation": 18.0}


def misses(f0, q, attenuation):
    """1 for boards that miss a limit."""
    good = np.abs(f0 / LIMITS["frequency"][0] - 1) <= LIMITS["frequency"][1]
    good &= np.abs(q / LIMITS["q"][0] - 1) <= LIMITS["q"][1]
    good &= attenuation >= LIMITS["attenuation"]
    return 1.0 - good


def main():
    names = list(NOMINAL)
    problem = {"num_vars": len(names), "names": names, "bounds": [[-1.0, 1.0]] * len(names)}
    shares = sample.sample(problem, SAMPLES, calc_second_order=False, seed=SEED)
    parts = {name: NOMINAL[name] * (1 + TOLERANCE[name] * shares[:, k]) for k, name in enumerate(names)}
    rows = figures(parts)
    columns = {name: rows[at] for name, at in FIGURES.items()}
    columns["yield"] = misses(rows[0], rows[1], rows[2])
    indices = {}
    for name, column in columns.items():
        found = analyze.analyze(problem, column, calc_second_order=False, num_resamples=200, seed=SEED)
        indices[name] = {
            order: {part: [float(found[order][k]), float(found[f"{order}_conf"][k]) / 1.96] for k, part in enumerate(names)}
            for order in ("S1", "ST")
        }
    weights = {name: (0.5 * TOLERANCE[name]) ** 2 if name in ("R1", "R2", "C1", "C2") else 0.0 for name in names}
    data = {
        "samples": SAMPLES,
        "indices": indices,
        "linear_ln_f0": {name: weight / sum(weights.values()) for name, weight in weights.items()},
    }
    write(__file__, data, ["numpy", "SALib"])


if __name__ == "__main__":
    main()
