"""Transfer functions of four circuits of netlists.json in terms of their part values.

Method: Kirchhoff's current law at each node, written as equations and solved by SymPy; the answer is
brought to a ratio of two polynomials in s without a common factor. The JSON holds each coefficient
as text, and as a number (mpmath, 50 digits, rounded to double) at random part values.

For the multiple-feedback notch with an ideal op amp SymPy also proves, and this script asserts,
    f0 = 1 / (2 pi sqrt(R1 R2 C1 C2)),
    Q = sqrt(R2 / R1) / 2                       where C1 = C2,
    R4 / (R3 + R4) = 2 Q^2 / (2 Q^2 + 1)        for a full null where C1 = C2.

The op amp's symbols: inverse_gain is 1/A0, tau is 1/(2 pi GBW) in second, output_resistance in ohm.
"""

import mpmath
import numpy as np
import sympy as sp

from reference import netlists, write

SEED = 20240602
SETS = 10
CASES = [
    ("multiple-feedback notch", "ideal"),
    ("multiple-feedback notch", "real"),
    ("Sallen-Key low-pass", "ideal"),
    ("multiple-feedback low-pass", "ideal"),
    ("bootstrapped twin-T notch", "ideal"),
]
S = sp.Symbol("s")
OP_AMP = sp.symbols("inverse_gain tau output_resistance", positive=True)


def polynomials(circuit, op_amp):
    """Numerator and denominator of V(output)/V(input), as SymPy polynomials in s."""
    voltage = {node: sp.Symbol("v_" + node) for part in circuit["parts"] for node in part["nodes"]}
    unknowns = [v for node, v in voltage.items() if node not in ("0", circuit["input"])]
    leaving = {node: sp.Integer(0) for node in voltage}
    equations = []
    inverse_gain, tau, output_resistance = OP_AMP
    for part in circuit["parts"]:
        if part["kind"] == "opamp":
            plus, minus, out = part["nodes"]
            current = sp.Symbol("i_" + part["name"])
            unknowns.append(current)
            leaving[out] -= current
            drive = 0
            if op_amp == "real":
                drive = (inverse_gain + S * tau) * (voltage[out] + output_resistance * current)
            equations.append(voltage[plus] - voltage[minus] - drive)
        else:
            here, there = part["nodes"]
            value = sp.Symbol(part["name"], positive=True)
            admittance = 1 / value if part["kind"] == "R" else S * value
            current = (voltage[here] - voltage[there]) * admittance
            leaving[here] += current
            leaving[there] -= current
    equations += [sum_ for node, sum_ in leaving.items() if node not in ("0", circuit["input"])]
    known = {voltage[circuit["input"]]: 1}
    if "0" in voltage:
        known[voltage["0"]] = 0
    (solution,) = sp.linsolve([equation.subs(known) for equation in equations], unknowns)
    ratio = sp.cancel(solution[unknowns.index(voltage[circuit["output"]])])
    return [sp.Poly(side, S) for side in sp.fraction(ratio)]


def prove_notch(numerator, denominator):
    """Assert the design equations of the multiple-feedback notch with an ideal op amp."""
    r1, r2, r3, r4, c1, c2, c, q = sp.symbols("R1 R2 R3 R4 C1 C2 C Q", positive=True)
    d0, d1, d2 = denominator.all_coeffs()[::-1]
    n0, n1, n2 = numerator.all_coeffs()[::-1]
    assert sp.simplify(d0 / d2 - 1 / (r1 * r2 * c1 * c2)) == 0
    assert sp.simplify(n0 / n2 - d0 / d2) == 0
    alike = {c1: c, c2: c}
    assert sp.simplify(sp.sqrt(sp.factor((d0 * d2 / d1**2).subs(alike))) - sp.sqrt(r2 / r1) / 2) == 0
    (null,) = sp.solve(n1.subs(alike).subs(r2, 4 * q**2 * r1), r4)
    assert sp.simplify(null / (r3 + null) - 2 * q**2 / (2 * q**2 + 1)) == 0


def draw(circuit, op_amp, rng):
    """Random part values (ohm, farad), each 0.1 to 10 times the circuit's own, and op-amp values."""
    values = {name: float(value * 10 ** rng.uniform(-1, 1)) for name, value in circuit["values"].items()}
    model = {"inverse_gain": 0.0, "inverse_gbw_hz": 0.0, "output_resistance": 0.0}
    if op_amp == "real":
        model["inverse_gain"] = float(10 ** rng.uniform(-7, -4))
        model["inverse_gbw_hz"] = float(10 ** rng.uniform(-8, -5))
        model["output_resistance"] = float(10 ** rng.uniform(0, 3))
    return values, model


def evaluate(coefficients, values, model):
    """The coefficients (ascending powers of s) at `values`, as mpf."""
    tau = mpmath.mpf(model["inverse_gbw_hz"]) / (2 * mpmath.pi)
    numbers = {name: mpmath.mpf(value) for name, value in values.items()}
    numbers |= {"inverse_gain": mpmath.mpf(model["inverse_gain"]), "tau": tau}
    numbers |= {"output_resistance": mpmath.mpf(model["output_resistance"])}
    function = sp.lambdify([sp.Symbol(name, positive=True) for name in numbers], coefficients, "mpmath")
    return [mpmath.mpf(coefficient) for coefficient in function(*numbers.values())]


def main():
    mpmath.mp.dps = 50
    rng = np.random.default_rng(SEED)
    circuits, functions = netlists(), []
    for name, op_amp in CASES:
        circuit = circuits[name]
        numerator, denominator = polynomials(circuit, op_amp)
        if (name, op_amp) == CASES[0]:
            prove_notch(numerator, denominator)
        above, below = numerator.all_coeffs()[::-1], denominator.all_coeffs()[::-1]
        samples = []
        for _ in range(SETS):
            values, model = draw(circuit, op_amp, rng)
            n, d = evaluate(above, values, model), evaluate(below, values, model)
            unit = next(coefficient for coefficient in d if coefficient)
            sample = {"values": values, "op_amp": model}
            sample["numerator"] = [float(coefficient / unit) for coefficient in n]
            sample["denominator"] = [float(coefficient / unit) for coefficient in d]
            samples.append(sample)
        function = {"name": name, "op_amp": op_amp, "samples": samples}
        function["numerator"] = [str(coefficient) for coefficient in above]
        function["denominator"] = [str(coefficient) for coefficient in below]
        functions.append(function)
    write(__file__, {"functions": functions}, ["sympy", "mpmath", "numpy"])


if __name__ == "__main__":
    main()
