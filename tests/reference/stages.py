"""Transfer functions of every circuit of the catalogue at random part values, in exact arithmetic.

stage_netlists.json is the catalogue's own list of parts between nodes; nothing else of the program is
used. Method: modified nodal analysis (Ho, Ruehli and Brennan, 1975): a row for each node's currents and
one for each source, whose matrix is linear in s. Part values are rationals with few digits, so the
determinants that Cramer's rule wants are polynomials in s with rational coefficients, and exact: each is
evaluated with SymPy at as many points as its degree needs and interpolated. Only the last step, to double
precision, rounds.

Numerator and denominator are brought to lowest terms and scaled so that the first coefficient of the
denominator that is not 0 is 1; ascending powers of s. Further inputs than the first are grounded. The op
amp is that of symbolic.py: inverse_gain is 1/A0, tau is 1/(2 pi GBW), and the output has a resistance.
"""

import json
import random

import sympy as sp
from sympy.polys.domains import QQ
from sympy.polys.matrices import DomainMatrix

from reference import HERE, write

SEED = 20240817
SETS = 3
S = sp.Symbol("s")
# 2 pi to more digits than a double has, as a rational.
TWO_PI = sp.Rational(str(sp.N(2 * sp.pi, 40)))


def matrices(circuit, values, model):
    """G and C of (G + s C) x = b, and b, as lists of rationals; x ends with the currents of sources."""
    grounded = {"0", *circuit["further_inputs"]}
    names = dict.fromkeys(node for part in circuit["parts"] for node in part["nodes"])
    nodes = [node for node in names if node not in grounded]
    op_amps = [part for part in circuit["parts"] if part["kind"] == "opamp"]
    size = len(nodes) + len(op_amps) + 1
    at = {node: index for index, node in enumerate(nodes)}
    g = [[QQ(0)] * size for _ in range(size)]
    c = [[QQ(0)] * size for _ in range(size)]
    b = [QQ(0)] * size

    def add(matrix, row, column, value):
        if row is not None and column is not None:
            matrix[row][column] += value

    for part in circuit["parts"]:
        if part["kind"] == "opamp":
            continue
        here, there = (at.get(node) for node in part["nodes"])
        value = values[part["name"]]
        matrix, admittance = (g, 1 / value) if part["kind"] == "R" else (c, value)
        for row, column, sign in [(here, here, 1), (there, there, 1), (here, there, -1), (there, here, -1)]:
            add(matrix, row, column, sign * admittance)
    for index, part in enumerate(op_amps):
        plus, minus, out = (at.get(node) for node in part["nodes"])
        row = len(nodes) + index
        # The current flows out of the amplifier; v+ - v- = (1/A0 + s tau) (v_out + Ro i).
        add(g, out, row, QQ(-1))
        add(g, row, plus, QQ(1))
        add(g, row, minus, QQ(-1))
        add(g, row, out, -model["inverse_gain"])
        add(c, row, out, -model["tau"])
        g[row][row] -= model["inverse_gain"] * model["output_resistance"]
        c[row][row] -= model["tau"] * model["output_resistance"]
    g[at[circuit["input"]]][size - 1] = QQ(-1)
    g[size - 1][at[circuit["input"]]] = QQ(1)
    b[size - 1] = QQ(1)
    return g, c, b, at[circuit["output"]]


def polynomial(g, c, degree):
    """det(G + s C), from its values at degree + 1 points."""
    points = []
    for s in range(degree + 1):
        # In units of 10^4 per second, so that the numbers stay short.
        rows = [[a + QQ(s * 10**4) * b for a, b in zip(r, q)] for r, q in zip(g, c)]
        points.append((sp.Integer(s), sp.QQ.to_sympy(DomainMatrix(rows, (len(g), len(g)), QQ).det())))
    return sp.Poly(sp.interpolate(points, S), S, domain="QQ")


def transfer(circuit, values, model):
    """Coefficients of numerator and denominator, ascending, as rationals."""
    g, c, b, column = matrices(circuit, values, model)
    degree = sum(any(row) for row in c)
    below = polynomial(g, c, degree)
    swapped = [row[:column] + [value] + row[column + 1 :] for row, value in zip(g, b)]
    still = [row[:column] + [QQ(0)] + row[column + 1 :] for row in c]
    above = polynomial(swapped, still, degree)
    above, below = above.cancel(below, include=True)
    above, below = (side.all_coeffs()[::-1] for side in (above, below))
    unit = next(coefficient for coefficient in below if coefficient)
    scaled = [[coefficient / unit for coefficient in side] for side in (above, below)]
    return [[float(x / sp.Integer(10**4) ** k) for k, x in enumerate(side)] for side in scaled]


def rational(number):
    """A float of few digits, exactly as it is written."""
    exact = sp.Rational(repr(number))
    return QQ(int(exact.p), int(exact.q))


def draw(circuit, op_amp, rng):
    """Random part values of four digits (ohm, farad), and op-amp values."""

    def digits(low, high):
        return float(f"{10 ** rng.uniform(low, high):.3e}")

    parts = circuit["parts"]
    values = {p["name"]: digits(3, 5) if p["kind"] == "R" else digits(-9, -7) for p in parts if p["kind"] != "opamp"}
    model = {"inverse_gain": 0.0, "inverse_gbw_hz": 0.0, "output_resistance": 0.0}
    if op_amp == "real":
        model["inverse_gain"] = digits(-7, -4)
        model["inverse_gbw_hz"] = digits(-8, -5)
        model["output_resistance"] = digits(0, 3)
    return values, model


def main():
    rng = random.Random(SEED)
    circuits = json.loads((HERE / "stage_netlists.json").read_text(encoding="utf-8"))
    functions = []
    for circuit in circuits:
        for op_amp in ["ideal", "real"]:
            samples = []
            for _ in range(SETS):
                values, model = draw(circuit, op_amp, rng)
                exact = {name: rational(value) for name, value in values.items()}
                amplifier = {name: rational(model[name]) for name in ["inverse_gain", "output_resistance"]}
                tau = sp.Rational(repr(model["inverse_gbw_hz"])) / TWO_PI
                amplifier["tau"] = QQ(int(tau.p), int(tau.q))
                sample = {"values": values, "op_amp": model}
                sample["numerator"], sample["denominator"] = transfer(circuit, exact, amplifier)
                samples.append(sample)
            functions.append({"name": circuit["name"], "op_amp": op_amp, "samples": samples})
    write(__file__, {"functions": functions}, ["sympy"])


if __name__ == "__main__":
    main()
