"""Noise at the output of every circuit of the catalogue, each source put in on its own.

stage_netlists.json is the catalogue's own list of parts between nodes; nothing else of the program is used. Method: modified
nodal analysis (Ho, Ruehli and Brennan, 1975) in NumPy: for every noise source one right-hand side, a current beside a resistor,
a voltage in series with an op amp's plus input, a current into each of its inputs; all inputs are grounded. Densities are
4kT/R (k as fixed by the SI of 2019), e^2 (1 + f_c/f) and i^2 (1 + f_c/f). Integrals over a band are sums by Simpson's rule on
a grid that is even in the logarithm of the frequency.

Values are random in a decade round 10 kOhm and 3.3 nF; the op amp is that of nodal.py.
"""

import json
import math

import numpy as np
from scipy.integrate import simpson

from reference import HERE, write

SEED = 20261128
BOLTZMANN = 1.380649e-23
TEMPERATURE = 310.0
FREQUENCIES = [0.5, 30.0, 2350.0, 1e5, 5e6]
BAND = (10.0, 1e5)
GRID = 4001
NOISE = {"voltage": 7e-9, "voltage_corner": 40.0, "current": 0.6e-12, "current_corner": 300.0}
OP_AMP = {"inverse_gain": 1e-6, "inverse_gbw_hz": 1e-7, "output_resistance": 100.0}


def system(circuit, values, frequency, op_amp=OP_AMP):
    """The matrix, where each node's current law stands, and where each op amp's equation does."""
    nodes = dict.fromkeys(node for part in circuit["parts"] for node in part["nodes"] if node != "0")
    column = {node: k for k, node in enumerate(nodes)}
    op_amps = [part for part in circuit["parts"] if part["kind"] == "opamp"]
    inputs = [circuit["input"], *circuit["further_inputs"]]
    size = len(nodes) + len(op_amps) + len(inputs)
    matrix = np.zeros((size, size), complex)
    s = 2j * math.pi * frequency
    equations = {}
    for part in circuit["parts"]:
        pins = [column.get(node) for node in part["nodes"]]
        if part["kind"] == "opamp":
            plus, minus, out = pins
            row = len(nodes) + len(equations)
            equations[part["name"]] = row
            error = op_amp["inverse_gain"] + s * op_amp["inverse_gbw_hz"] / (2 * math.pi)
            matrix[out, row] -= 1
            matrix[row, out] += error
            matrix[row, row] += error * op_amp["output_resistance"]
            if plus is not None:
                matrix[row, plus] -= 1
            if minus is not None:
                matrix[row, minus] += 1
        else:
            value = values[part["name"]]
            admittance = 1 / value if part["kind"] == "R" else s * value
            for here, there in (pins, pins[::-1]):
                if here is not None:
                    matrix[here, here] += admittance
                    if there is not None:
                        matrix[here, there] -= admittance
    for k, name in enumerate(inputs):
        row = len(nodes) + len(op_amps) + k
        matrix[column[name], row] -= 1
        matrix[row, column[name]] += 1
    return matrix, column, equations


def densities(circuit, values, frequency, op_amp=OP_AMP, noise=NOISE, temperature=TEMPERATURE):
    """V^2/Hz at the output from every source, in the order of the parts."""
    matrix, column, equations = system(circuit, values, frequency, op_amp)

    def flicker(white, corner):
        return white**2 * (1 + corner / frequency)

    sides, powers = [], []

    def current(a, b, power):
        side = np.zeros(len(matrix), complex)
        if a in column:
            side[column[a]] -= 1
        if b in column:
            side[column[b]] += 1
        sides.append(side)
        powers.append(power)

    for part in circuit["parts"]:
        if part["kind"] == "R":
            current(*part["nodes"], 4 * BOLTZMANN * temperature / values[part["name"]])
        elif part["kind"] == "opamp":
            plus, minus, _ = part["nodes"]
            side = np.zeros(len(matrix), complex)
            side[equations[part["name"]]] = 1
            sides.append(side)
            powers.append(flicker(noise["voltage"], noise["voltage_corner"]))
            for pin in (plus, minus):
                current("0", pin, flicker(noise["current"], noise["current_corner"]))
    solved = np.linalg.solve(matrix, np.array(sides).T)
    return np.abs(solved[column[circuit["output"]]]) ** 2 * powers


def drawn(rng, circuit):
    """Part values in a decade round 10 kOhm and 3.3 nF."""
    values = {}
    for part in circuit["parts"]:
        if part["kind"] != "opamp":
            middle = 1e4 if part["kind"] == "R" else 3.3e-9
            values[part["name"]] = float(middle * 10 ** rng.uniform(-0.5, 0.5))
    return values


def main():
    rng = np.random.default_rng(SEED)
    circuits = json.loads((HERE / "stage_netlists.json").read_text(encoding="utf-8"))
    found = []
    for circuit in circuits:
        values = drawn(rng, circuit)
        grid = np.geomspace(*BAND, GRID)
        total = [densities(circuit, values, f).sum() * f for f in grid]
        found.append(
            {
                "name": circuit["name"],
                "values": values,
                "densities": [densities(circuit, values, f).tolist() for f in FREQUENCIES],
                "rms": float(math.sqrt(simpson(total, x=np.log(grid)))),
            }
        )
    write(
        __file__,
        {
            "band": list(BAND),
            "circuits": found,
            "frequencies": FREQUENCIES,
            "noise": NOISE,
            "op_amp": OP_AMP,
            "temperature": TEMPERATURE,
        },
        ["numpy", "scipy"],
    )


if __name__ == "__main__":
    main()
