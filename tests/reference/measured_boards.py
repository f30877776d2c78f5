"""Boards as somebody might build and measure them: every circuit of the catalogue as it is picked by default.

measured_designs.json holds the picked values and the asks' frequencies, stage_netlists.json the parts between nodes; nothing
else of the program is used. Of every circuit there are healthy boards, boards with one part off by 5 %, and boards with a
common mistake of wiring: two parts of a kind in each other's places, a factor of ten, a part missing (it is not in the
netlist), a part bridged (by 1 milliohm). All other parts lie within their tolerances, uniform: 1 % resistors, capacitors of 5 %
or 1 %; op amps of a gain-bandwidth within a third and an open-loop gain within 6 dB.

Method: modified nodal analysis (Ho, Ruehli and Brennan, 1975) in NumPy, a matrix at each frequency. Measured with complex
normal noise of 1 % in each part.
"""

import json
import math

import numpy as np

from reference import HERE, write

SEED = 20261129
POINTS = 61
NOISE = 0.01
OFF = 0.05
RESISTORS = 0.01
CAPACITORS = [0.05, 0.01]
BRIDGE = 1e-3
OP_AMP = {"gain_db": 120.0, "gain_bandwidth": 10e6, "output_resistance": 100.0}
# What cannot be measured: no signal, or an op amp that runs into its rail.
SMALLEST, LARGEST = 1e-6, 1e4


def response(parts, inputs, output, values, op_amps, frequencies):
    """V(output) for 1 V at the first input, the others grounded; None where there is no answer."""
    nodes = {node: k for k, node in enumerate(dict.fromkeys(n for p in parts for n in p["nodes"] if n != "0"))}
    if output not in nodes or inputs[0] not in nodes:
        return None
    driven = [node for node in inputs if node in nodes]
    amplifiers = [part for part in parts if part["kind"] == "opamp"]
    size = len(nodes) + len(amplifiers) + len(driven)
    g, b = np.zeros((size, size)), np.zeros((size, size))

    def admit(matrix, pins, value):
        first, second = (nodes.get(pin) for pin in pins)
        for here, there in ((first, second), (second, first)):
            if here is not None:
                matrix[here, here] += value
                if there is not None:
                    matrix[here, there] -= value

    for part in parts:
        if part["kind"] == "R":
            admit(g, part["nodes"], 1 / values[part["name"]])
        elif part["kind"] == "C":
            admit(b, part["nodes"], values[part["name"]])
        elif part["kind"] == "bridge":
            admit(g, part["nodes"], 1 / BRIDGE)
    for k, part in enumerate(amplifiers):
        plus, minus, out = (nodes.get(pin) for pin in part["nodes"])
        gain, bandwidth = op_amps[part["name"]]
        row = len(nodes) + k
        g[out, row] -= 1
        for matrix, error in ((g, 1 / gain), (b, 1 / (2 * math.pi * bandwidth))):
            matrix[row, out] += error
            matrix[row, row] += error * OP_AMP["output_resistance"]
        if plus is not None:
            g[row, plus] -= 1
        if minus is not None:
            g[row, minus] += 1
    for k, node in enumerate(driven):
        row = len(nodes) + len(amplifiers) + k
        g[nodes[node], row] -= 1
        g[row, nodes[node]] += 1
    right = np.zeros((len(frequencies), size, 1))
    right[:, len(nodes) + len(amplifiers)] = 1
    s = 2j * math.pi * np.asarray(frequencies)
    matrices = g + s[:, None, None] * b
    if np.linalg.cond(matrices).max() > 1e16:
        return None
    return np.linalg.solve(matrices, right)[:, nodes[output], 0]


def mistake(rng, bought, values, kinds):
    """A mistake of wiring: what it is, of which parts."""
    pairs = [
        [a, b]
        for k, a in enumerate(bought)
        for b in bought[k + 1 :]
        if kinds[a] == kinds[b] and abs(math.log(values[a] / values[b])) > 0.15
    ]
    what = ["swapped", "swapped", "tenfold", "tenth", "open", "shorted"][rng.integers(6)]
    if what == "swapped" and pairs:
        return what, pairs[rng.integers(len(pairs))]
    if what == "swapped":
        what = "tenfold"
    return what, [bought[rng.integers(len(bought))]]


def board(rng, circuit, design, kind, capacitors):
    """One board, or None where it cannot be measured."""
    kinds = {part["name"]: part["kind"] for part in circuit["parts"]}
    marked, bought = design["values"], design["bought"]
    values = dict(marked)
    for name in bought:
        tolerance = RESISTORS if kinds[name] == "R" else capacitors
        values[name] *= 1 + tolerance * rng.uniform(-1, 1)
    op_amps = {
        name: (
            10 ** ((OP_AMP["gain_db"] + 6 * rng.uniform(-1, 1)) / 20),
            OP_AMP["gain_bandwidth"] * (1 + 0.3 * rng.uniform(-1, 1)),
        )
        for name, of in kinds.items()
        if of == "opamp"
    }
    parts, what, names = circuit["parts"], kind, []
    if kind == "off":
        names = [bought[rng.integers(len(bought))]]
        values[names[0]] = marked[names[0]] * (1 + OFF * rng.choice([-1, 1]))
    elif kind == "wired":
        what, names = mistake(rng, bought, marked, kinds)
        first = names[0]
        if what == "swapped":
            values[first], values[names[1]] = values[names[1]], values[first]
        elif what == "open":
            parts = [part for part in parts if part["name"] != first]
        elif what == "shorted":
            parts = parts + [{**part, "kind": "bridge"} for part in parts if part["name"] == first]
        else:
            values[first] *= 10 if what == "tenfold" else 0.1
    low, high = design["span"]
    frequencies = np.geomspace(low / 10, high * 10, POINTS)
    inputs = [circuit["input"], *circuit["further_inputs"]]
    answer = response(parts, inputs, circuit["output"], values, op_amps, frequencies)
    if answer is None or not (SMALLEST < np.abs(answer).min() and np.abs(answer).max() < LARGEST):
        return None
    noise = NOISE * (rng.standard_normal(POINTS) + 1j * rng.standard_normal(POINTS))
    measured = answer * (1 + noise)
    return {
        "circuit": circuit["name"],
        "capacitors": capacitors,
        "fault": what,
        "parts": names,
        "values": {name: float(f"{value:.7g}") for name, value in values.items() if name in bought},
        "op_amps": {name: [float(f"{x:.7g}") for x in numbers] for name, numbers in op_amps.items()},
        "from": float(f"{frequencies[0]:.9g}"),
        "to": float(f"{frequencies[-1]:.9g}"),
        "real": [float(f"{h.real:.5g}") for h in measured],
        "imaginary": [float(f"{h.imag:.5g}") for h in measured],
    }


def main():
    rng = np.random.default_rng(SEED)
    circuits = {c["name"]: c for c in json.loads((HERE / "stage_netlists.json").read_text(encoding="utf-8"))}
    designs = json.loads((HERE / "measured_designs.json").read_text(encoding="utf-8"))
    boards = []
    for capacitors in CAPACITORS:
        for kind in ["off", "off", "wired", "healthy"]:
            for design in designs:
                made = None
                while made is None:
                    made = board(rng, circuits[design["circuit"]], design, kind, capacitors)
                boards.append(made)
    write(__file__, {"boards": boards, "noise": NOISE}, ["numpy"])


if __name__ == "__main__":
    main()
