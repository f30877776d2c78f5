"""Levels at every op amp of every circuit of the catalogue: with sines, and after a step.

stage_netlists.json is the catalogue's own list of parts between nodes; nothing else of the program is used. Method: the nodal
equations of noise.py, solved at each frequency for 1 V at the input; in time their Laplace transform for a step of 1 V,
inverted along Talbot's contour (J. Abate, P. Valko, "Multi-precision Laplace transform inversion", Int. J. Numer. Meth. Eng.
60, 2004). `self_check` is how far more points on the contour come out, in volts and amperes.

Values are random in a decade round 10 kOhm and 3.3 nF; the op amp is that of noise.py. At DC the offset at the output is the
sum of what each input offset and each bias current makes there.
"""

import json
import math

import numpy as np

from noise import drawn, system
from reference import HERE, write

SEED = 20261129
FREQUENCIES = [40.0, 2350.0, 1.5e5]
TIMES = np.geomspace(1.2e-5, 6e-5, 6).tolist()
POINTS = 14
OFFSET = 1e-3
BIAS = 3e-8


def answer(circuit, values, s):
    """Node voltages and op amp currents over the input's voltage at a complex frequency (rad/s)."""
    matrix, column, equations = system(circuit, values, s / (2j * math.pi))
    side = np.zeros(len(matrix), complex)
    side[len(column) + len(equations)] = 1
    return np.linalg.solve(matrix, side), column, equations


def levels(solved, column, equations, circuit):
    """For each op amp: output, current out of it, and mean of its inputs."""
    rows = []
    for part in circuit["parts"]:
        if part["kind"] == "opamp":
            plus, minus, out = part["nodes"]
            mean = sum(solved[column[pin]] for pin in (plus, minus) if pin in column) / 2
            rows.append([solved[column[out]], solved[equations[part["name"]]], mean])
    return np.array(rows).reshape(-1, 3)


def stepped(circuit, values, time, points):
    """The same at a time after a step of 1 V."""
    r = 2 * points / (5 * time)
    s = np.array([r + 0j] + [r * a * (1 / math.tan(a) + 1j) for a in np.arange(1, points) * math.pi / points])
    angles = np.arange(1, points) * math.pi / points
    sigma = angles + (angles / np.tan(angles) - 1) / np.tan(angles)
    weights = np.concatenate([[0.5 * np.exp(r * time)], np.exp(time * s[1:]) * (1 + 1j * sigma)])
    total = 0
    for point, weight in zip(s, weights):
        total = total + (weight * levels(*answer(circuit, values, point), circuit) / point).real
    return total * r / points


def offset(circuit, values):
    """Largest magnitudes at the output of all input offsets, and of all bias currents; next to DC."""
    matrix, column, equations = system(circuit, values, 1e-4 / (2 * math.pi))
    out = column[circuit["output"]]
    found = [0.0, 0.0]
    for part in circuit["parts"]:
        if part["kind"] != "opamp":
            continue
        side = np.zeros(len(matrix), complex)
        side[equations[part["name"]]] = OFFSET
        found[0] += abs(np.linalg.solve(matrix, side)[out])
        for pin in part["nodes"][:2]:
            if pin in column:
                side = np.zeros(len(matrix), complex)
                side[column[pin]] = BIAS
                found[1] += abs(np.linalg.solve(matrix, side)[out])
    return found


def main():
    rng = np.random.default_rng(SEED)
    circuits = json.loads((HERE / "stage_netlists.json").read_text(encoding="utf-8"))
    found, check = [], 0.0
    for circuit in circuits:
        values = drawn(rng, circuit)
        sines = [np.abs(levels(*answer(circuit, values, 2j * math.pi * f), circuit)).tolist() for f in FREQUENCIES]
        steps = [stepped(circuit, values, time, POINTS) for time in TIMES]
        more = [stepped(circuit, values, time, POINTS + 2) for time in TIMES]
        own = max((np.abs(a - b).max() for a, b in zip(steps, more) if len(a)), default=0.0)
        check = max(check, own)
        found.append(
            {
                "name": circuit["name"],
                "values": values,
                "sines": sines,
                "steps": [np.round(step, 9).tolist() for step in steps],
                "offset": offset(circuit, values),
            }
        )
    write(
        __file__,
        {
            "bias": BIAS,
            "circuits": found,
            "frequencies": FREQUENCIES,
            "offset": OFFSET,
            "self_check": f"{check:.0e}",
            "times": TIMES,
        },
        ["numpy"],
    )


if __name__ == "__main__":
    main()
