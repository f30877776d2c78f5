"""Complex answers of every circuit in netlists.json, solved frequency by frequency.

Method: modified nodal analysis (Ho, Ruehli, Brennan, "The Modified Nodal Approach to Network
Analysis", IEEE Trans. Circuits and Systems CAS-22, 1975; from memory). One matrix G + sB a board
and op amp; NumPy solves it in double precision and mpmath solves the same one at 50 digits. The
JSON holds mpmath's answer rounded to double, and counts the points where NumPy's is further from
it than 1e-11.

Op amp: (1/A0 + s/(2 pi GBW)) (V(out) + Ro I(out)) = V(plus) - V(minus), I(out) leaving the pin.
Value sets: the first is the circuit's own, the others multiply each part by a log-uniform factor
in [0.1, 10]. Such a circuit may be unstable; its answer to a steady sine is defined all the same.
"""

import math

import mpmath
import numpy as np

from reference import netlists, write

SEED = 20240601
RANDOM_SETS = 5
FREQUENCIES = [10.0 ** (k / 2) for k in range(19)] + [2350.0, 2351.0]
IDEAL = {"name": "ideal", "inverse_gain": 0.0, "inverse_gbw_hz": 0.0, "output_resistance": 0.0}
REAL = {"name": "real", "inverse_gain": 1e-6, "inverse_gbw_hz": 1e-7, "output_resistance": 100.0}


def random_op_amp(rng, name):
    """An op amp of open-loop gain 1e4..1e7, gain-bandwidth 0.1..100 MHz, output 1..1000 ohm."""
    return {
        "name": name,
        "inverse_gain": float(10 ** rng.uniform(-7, -4)),
        "inverse_gbw_hz": float(10 ** rng.uniform(-8, -5)),
        "output_resistance": float(10 ** rng.uniform(0, 3)),
    }


def matrix(circuit, values, op_amp, number=float, pi=math.pi):
    """The modified nodal matrix, as {(row, column): (g, b)} for the entries g + s b.

    `values` in ohm and farad. Also returns its size, the row of the source's equation (right-hand
    side 1 V, all others 0) and the column of the output's voltage.
    """
    nodes = dict.fromkeys(node for part in circuit["parts"] for node in part["nodes"] if node != "0")
    column = {node: k for k, node in enumerate(nodes)}
    size = len(nodes)
    entries = {}

    def add(row, col, g, b=number(0)):
        if row is not None and col is not None:
            old = entries.get((row, col), (number(0), number(0)))
            entries[row, col] = (old[0] + g, old[1] + b)

    one = number(1)
    for part in circuit["parts"]:
        pins = [column.get(node) for node in part["nodes"]]
        if part["kind"] == "opamp":
            plus, minus, out = pins
            current, size = size, size + 1
            g = number(op_amp["inverse_gain"])
            b = number(op_amp["inverse_gbw_hz"]) / (2 * pi)
            ro = number(op_amp["output_resistance"])
            add(out, current, -one)
            add(current, out, g, b)
            add(current, current, g * ro, b * ro)
            add(current, plus, -one)
            add(current, minus, one)
        else:
            value = number(values[part["name"]])
            g, b = (one / value, number(0)) if part["kind"] == "R" else (number(0), value)
            for here, there in (pins, pins[::-1]):
                add(here, here, g, b)
                add(here, there, -g, -b)
    source, size = size, size + 1
    add(column[circuit["input"]], source, -one)
    add(source, column[circuit["input"]], one)
    return entries, size, source, column[circuit["output"]]


def numpy_answers(circuit, values, op_amp, frequencies):
    """V(output) in volt for 1 V at the input, at `frequencies` in hertz, in double precision."""
    entries, size, source, output = matrix(circuit, values, op_amp)
    g, b = np.zeros((size, size)), np.zeros((size, size))
    for place, (real, slope) in entries.items():
        g[place], b[place] = real, slope
    s = 2j * math.pi * np.asarray(frequencies)
    right = np.zeros((len(s), size, 1))
    right[:, source] = 1
    return np.linalg.solve(g + s[:, None, None] * b, right)[:, output, 0]


def mpmath_answers(circuit, values, op_amp, frequencies):
    """The same as `numpy_answers`, at mpmath's working precision: a list of mpc.

    Gaussian elimination with partial pivoting on rows that hold their non-zero entries only.
    """
    entries, size, source, output = matrix(circuit, values, op_amp, mpmath.mpf, mpmath.pi)
    answers = []
    for frequency in frequencies:
        omega = 2 * mpmath.pi * mpmath.mpf(frequency)
        rows = [{} for _ in range(size)]
        for (row, col), (g, b) in entries.items():
            if g or b:
                rows[row][col] = mpmath.mpc(g, omega * b)
        right = [mpmath.mpc(row == source) for row in range(size)]
        # The output's column comes last, so that its voltage is known without substituting back.
        for col in [c for c in range(size) if c != output]:
            pivot = max((r for r in range(len(rows)) if col in rows[r]), key=lambda r: abs(rows[r][col]))
            pivot_row, pivot_right = rows.pop(pivot), right.pop(pivot)
            for r, row in enumerate(rows):
                if col in row:
                    factor = row.pop(col) / pivot_row[col]
                    for c, entry in pivot_row.items():
                        if c != col:
                            row[c] = row.get(c, 0) - factor * entry
                    right[r] -= factor * pivot_right
        answers.append(right[0] / rows[0][output])
    return answers


def main():
    mpmath.mp.dps = 50
    rng = np.random.default_rng(SEED)
    op_amps = [IDEAL, REAL, random_op_amp(rng, "random 1"), random_op_amp(rng, "random 2")]
    circuits, points, far, worst = [], 0, 0, 0.0
    for circuit in netlists().values():
        value_sets = [circuit["values"]]
        for _ in range(RANDOM_SETS):
            own = circuit["values"].items()
            value_sets.append({name: float(value * 10 ** rng.uniform(-1, 1)) for name, value in own})
        has_op_amp = any(part["kind"] == "opamp" for part in circuit["parts"])
        responses = []
        for op_amp in op_amps if has_op_amp else [IDEAL]:
            for k, values in enumerate(value_sets):
                exact = mpmath_answers(circuit, values, op_amp, FREQUENCIES)
                rough = numpy_answers(circuit, values, op_amp, FREQUENCIES)
                misses = [float(abs(mpmath.mpc(r) - e) / abs(e)) for r, e in zip(rough.tolist(), exact)]
                points += len(misses)
                far += sum(miss > 1e-11 for miss in misses)
                worst = max(worst, *misses)
                pairs = [[float(h.real), float(h.imag)] for h in exact]
                responses.append({"op_amp": op_amp["name"], "value_set": k, "h": pairs})
        circuits.append({"name": circuit["name"], "value_sets": value_sets, "responses": responses})
    data = {
        "frequencies_hz": FREQUENCIES,
        "op_amps": op_amps,
        "circuits": circuits,
        "self_check": {"points": points, "numpy_further_than_1e-11": far, "numpy_largest_relative_miss": worst},
    }
    write(__file__, data, ["numpy", "mpmath"])


if __name__ == "__main__":
    main()
