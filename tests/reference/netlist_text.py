"""Frequency responses of netlist texts, one element a line, by a reader and a nodal solver of their own.

netlist_texts.json holds the texts as the program writes them, of every circuit of the catalogue and of paths
of three stages; nothing else of the program is used. The reader knows what such texts have in common since
Berkeley's: the first line is a title, `*` begins a comment, `+` goes on with the line before, letters' case
says nothing, numbers may have a scale's letter. Elements: R, C, E (a voltage by a voltage), G (a current by a
voltage), V, and X for a subcircuit, which is put in flat with names of its own.

Method: modified nodal analysis (Ho, Ruehli, Brennan, 1975; from memory), solved by NumPy at every frequency.
`self_check` is how far mpmath at 30 digits comes out from it, relative to the largest |H| of the text.
"""

import json
import re

import mpmath
import numpy as np

from reference import HERE, write

SCALES = {"t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15}
NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)(meg|[tgkmunpf])?[a-z]*$")
# NumPy and mpmath agree at least so well.
BOUND = 1e-8
# How many nodes an element of each kind has; its value stands behind them.
NODES = {"r": 2, "c": 2, "v": 2, "e": 4, "g": 4}


def number(text):
    """A number with or without a scale's letter."""
    found = NUMBER.match(text)
    if not found:
        raise ValueError(f"{text} is no number")
    return float(found[1]) * SCALES.get(found[2], 1.0)


def cards(lines):
    """Words of each line that is neither title nor comment, continued lines put together."""
    found = []
    for line in lines[1:]:
        line = line.lower().strip()
        if not line or line.startswith("*"):
            continue
        if line.startswith("+"):
            found[-1] += line[1:].split()
        else:
            found.append(line.split())
    return found


def read(lines):
    """Elements of the top level, subcircuits by name as (pins, elements), and the sweep's words."""
    top, subcircuits, sweep, into = [], {}, None, None
    ended = False
    for words in cards(lines):
        if ended:
            raise ValueError("there is more behind .END")
        if words[0] == ".subckt":
            if "0" in words[2:]:
                raise ValueError("ground is a pin")
            into = subcircuits[words[1]] = (words[2:], [])
        elif words[0] == ".ends":
            into = None
        elif words[0] == ".ac":
            sweep = words[1:]
        elif words[0] == ".end":
            ended = True
        elif not words[0].startswith("."):
            (into[1] if into else top).append(words)
    if not ended:
        raise ValueError("there is no .END")
    return top, subcircuits, sweep


def flat(elements, subcircuits, inside="", pins=None):
    """(name, kind, nodes, value) of all elements, nodes of a subcircuit under a name of its own."""
    pins = pins or {}

    def node(name):
        return "0" if name == "0" else pins.get(name, inside + name)

    for words in elements:
        name, kind = words[0], words[0][0]
        if kind == "x":
            names, own = subcircuits[words[-1]]
            given = [node(word) for word in words[1:-1]]
            if len(given) != len(names):
                raise ValueError(f"{name} has {len(given)} nodes, its subcircuit {len(names)}")
            yield from flat(own, subcircuits, f"{inside}{name}.", dict(zip(names, given)))
        else:
            count = NODES[kind]
            nodes = [node(word) for word in words[1 : 1 + count]]
            rest = words[1 + count :]
            value = number(rest[rest.index("ac") + 1]) if kind == "v" else number(rest[0])
            yield inside + name, kind, nodes, value


def matrices(elements):
    """G and C of (G + s C) x = b, b, and the rows of the nodes."""
    nodes = dict.fromkeys(node for _, _, nodes, _ in elements for node in nodes if node != "0")
    row = {node: index for index, node in enumerate(nodes)}
    size = len(row) + sum(kind in "ev" for _, kind, _, _ in elements)
    g, c, b = np.zeros((size, size)), np.zeros((size, size)), np.zeros(size)
    branch = len(row)

    def add(matrix, here, there, value):
        here, there = (row.get(one) if isinstance(one, str) else one for one in (here, there))
        if here is not None and there is not None:
            matrix[here, there] += value

    for _, kind, nodes, value in elements:
        if kind in "rc":
            matrix, admittance = (g, 1 / value) if kind == "r" else (c, value)
            for here, there in [nodes, nodes[::-1]]:
                add(matrix, here, here, admittance)
                add(matrix, here, there, -admittance)
        elif kind == "g":
            # From the first node through the source to the second.
            for node, sign in [(nodes[0], 1), (nodes[1], -1)]:
                add(g, node, nodes[2], sign * value)
                add(g, node, nodes[3], -sign * value)
        else:
            for node, sign in [(nodes[0], 1), (nodes[1], -1)]:
                add(g, node, branch, sign)
                add(g, branch, node, sign)
            if kind == "v":
                b[branch] = value
            else:
                add(g, branch, nodes[2], -value)
                add(g, branch, nodes[3], value)
            branch += 1
    return g, c, b, row


def check(text):
    """Every designator once, also without the subcircuit's name; every node joins two elements' pins or more."""
    lines = text["lines"]
    if any(not line.isascii() for line in lines):
        raise ValueError(f"{text['name']}: not ASCII")
    top, subcircuits, _ = read(lines)
    stages = [element for name, (_, own) in subcircuits.items() if not name.startswith("opamp") for element in own]
    names = [words[0] for words in top + stages]
    if len(set(names)) != len(names):
        raise ValueError(f"{text['name']}: a designator stands twice")
    pins = [node for _, _, nodes, _ in flat(top, subcircuits) for node in set(nodes)]
    for node in set(pins) - {"0", "out"}:
        if pins.count(node) < 2:
            raise ValueError(f"{text['name']}: node {node} hangs free")


def exactly(g, c, b, omega, column):
    """One response at 30 digits."""
    with mpmath.workdps(30):
        s = mpmath.mpc(0, omega)
        size = len(b)
        matrix = mpmath.matrix(size, size)
        for i in range(size):
            for k in range(size):
                matrix[i, k] = mpmath.mpf(g[i, k]) + s * mpmath.mpf(c[i, k])
        return complex(mpmath.lu_solve(matrix, mpmath.matrix(list(b)))[column])


def main():
    texts = json.loads((HERE / "netlist_texts.json").read_text(encoding="utf-8"))
    found, worst = [], 0.0
    for text in texts:
        check(text)
        top, subcircuits, sweep = read(text["lines"])
        g, c, b, row = matrices(list(flat(top, subcircuits)))
        frequencies = np.array(text["frequencies"])
        s = 2j * np.pi * frequencies
        answers = np.linalg.solve(g + s[:, None, None] * c, np.broadcast_to(b[:, None], (len(s), len(b), 1)))
        response = answers[:, row["out"], 0]
        size = np.abs(response).max()
        for at in [0, len(s) // 2, len(s) - 1]:
            exact = exactly(g, c, b, float(s[at].imag), row["out"])
            worst = max(worst, abs(response[at] - exact) / size)
        kind, points, low, high = sweep
        if kind != "dec":
            raise ValueError("the sweep is no sweep over decades")
        found.append(
            {
                "name": text["name"],
                "sweep": [number(points), number(low), number(high)],
                "response": [[z.real, z.imag] for z in response.tolist()],
            }
        )
    if worst > BOUND:
        raise ValueError(f"NumPy and mpmath are {worst} apart")
    write(__file__, {"texts": found, "self_check": {"numpy_against_mpmath": worst}}, ["numpy", "mpmath"])


if __name__ == "__main__":
    main()
