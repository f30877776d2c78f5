"""Many sets of parts of one circuit at once: nodal analysis, and the figures read off it.

Method: the nodes' currents (an op amp drives its output through its resistance, so no other unknowns are
wanted), solved by elimination for all sets and all complex frequencies abreast. Numerator and denominator
come from their values on a circle, a discrete Fourier transform; poles and zeros are the eigenvalues of
companion matrices, as numpy.roots has them, here of the reversed polynomial, whose large eigenvalues are
the roots near the origin. Edges of notches are looked for on a dense grid.
"""

import json
import math

import numpy as np

from reach_asks import ALIKE, GIVEN, centre, wanted
from reference import HERE

INVERSE_GAIN, GAIN_BANDWIDTH, OUTPUT = 10 ** (-110 / 20), 5e6, 60.0
UNIT = 1e4  # admittances are multiplied by this, ohm
NONE = 1e6  # the miss of a figure that is not there


def circuits():
    text = (HERE / "stage_netlists.json").read_text(encoding="utf-8")
    return {circuit["name"]: circuit for circuit in json.loads(text)}


class Boards:
    """One circuit with one ask. A set of parts is a row with a value for each group of parts that are alike."""

    def __init__(self, circuit, ask):
        self.parts = [part for part in circuit["parts"] if part["kind"] != "opamp"]
        self.op_amps = [part for part in circuit["parts"] if part["kind"] == "opamp"]
        self.inputs = [circuit["input"], *circuit["further_inputs"]]
        self.output = circuit["output"]
        outputs = [part["nodes"][2] for part in self.op_amps]
        nodes = dict.fromkeys(node for part in circuit["parts"] for node in part["nodes"])
        inner = [node for node in nodes if node != "0" and node not in self.inputs]
        # Outputs last: only feedback makes their pivots what they are.
        self.order = [node for node in inner if node not in outputs] + outputs
        alike = [names.split() for names in ALIKE.get(circuit["name"], [])]
        together = {name for names in alike for name in names}
        bought = [part["name"] for part in self.parts if part["name"] not in GIVEN]
        self.groups = alike + [[name] for name in bought if name not in together]
        kind = {part["name"]: part["kind"] for part in self.parts}
        self.kinds = [kind[names[0]] for names in self.groups]
        self.column = {name: k for k, names in enumerate(self.groups) for name in names}

        self.figures = wanted(circuit["name"], ask)
        self.omega = 2 * math.pi * centre(self.figures)
        degree = len(self.op_amps) + sum(part["kind"] == "C" for part in self.parts)
        self.count = degree + 1
        around = (2 * np.arange((self.count + 1) // 2) + 1) / self.count
        self.circle = np.exp(1j * math.pi * around)
        # Points in the lower half plane are those above, conjugated.
        twice = np.where(around == 1.0, 1.0, 2.0)
        powers = self.circle[:, None] ** -np.arange(self.count)
        self.transform = powers * twice[:, None] / self.count
        self.read_at = 2j * math.pi * np.array([self.figures[0][1]], dtype=float)
        self.notch_grid()

    def solve(self, values, s):
        """V(output) for 1 V at each input in turn, and the determinant, at complex frequencies `s` (rad/s)."""
        entries = {}

        def add(row, column, what):
            if row is not None and row not in self.inputs and row != "0" and column != "0":
                here = entries.get((row, column))
                entries[row, column] = what if here is None else here + what

        slow = INVERSE_GAIN + s / (2 * math.pi * GAIN_BANDWIDTH)
        driven = {part["nodes"][2] for part in self.op_amps}
        for part in self.parts:
            name = part["name"]
            value = values[:, self.column[name]] if name in self.column else np.full(len(values), GIVEN[name])
            if part["kind"] == "R":
                y = np.broadcast_to((UNIT / value)[:, None], (len(values), len(s)))
            else:
                y = UNIT * value[:, None] * s
            for here, there in (part["nodes"], part["nodes"][::-1]):
                # The output's row is multiplied by its resistance over the open-loop gain.
                mine = y * (slow * OUTPUT / UNIT) if here in driven else y
                add(here, here, mine)
                add(here, there, -mine)
        for part in self.op_amps:
            plus, minus, out = part["nodes"]
            add(out, out, slow + np.zeros((len(values), 1)))
            add(out, plus, np.full((len(values), 1), -1 + 0j))
            add(out, minus, np.full((len(values), 1), 1 + 0j))
        determinant = np.ones((len(values), len(s)), dtype=complex)
        left = [node for node in self.order if node != self.output] + [self.output]
        for at, node in enumerate(left):
            pivot = entries[node, node]
            determinant = determinant * pivot
            later = left[at + 1 :]
            across = [c for c in [*later, *self.inputs] if (node, c) in entries]
            for row in later:
                if (row, node) in entries:
                    factor = entries[row, node] / pivot
                    for column in across:
                        add(row, column, -factor * entries[node, column])
        zero = np.zeros(1)
        own = entries[self.output, self.output]
        answers = [-entries.get((self.output, given), zero) / own for given in self.inputs]
        shape = determinant.shape
        return [np.broadcast_to(answer, shape) for answer in answers], determinant

    def misses(self, values):
        """Each set's worst miss, in units of its limit."""
        kind = self.figures[0][0]
        circle = [] if kind in {"sum", "difference"} or len(self.figures) == 1 and kind == "gain" else self.circle
        s = np.concatenate([self.read_at, self.omega * np.asarray(circle)])
        with np.errstate(all="ignore"):
            answers, determinant = self.solve(values, s)
            read = [answer[:, 0] for answer in answers]
            polynomials = {}
            if len(circle):
                below = determinant[:, 1:]
                polynomials["pole"] = (below @ self.transform).real
                polynomials["zero"] = ((answers[0][:, 1:] * below) @ self.transform).real
            all_misses = [self.miss(figure, read, polynomials, values) for figure in self.figures]
            worst = np.max(all_misses, axis=0)
        return np.where(worst < NONE, worst, NONE)

    def miss(self, figure, read, polynomials, values):
        kind = figure[0]
        if kind == "gain":
            _, _, of, limit = figure
            return abs(abs(read[0]) / of - 1) / limit
        if kind == "sum":
            _, _, first, second, limit = figure
            return np.maximum(abs(abs(read[0]) / first - 1), abs(abs(read[1]) / second - 1)) / limit
        if kind == "difference":
            _, _, gain, limit, rejection = figure
            difference, common = abs(read[0] - read[1]) / 2, abs(read[0] + read[1])
            over = common / difference * 10 ** (rejection / 20)
            return np.maximum(abs(difference / gain - 1) / limit, over)
        if kind == "notch":
            return self.notch(figure, read[0], polynomials)
        if kind == "null":
            _, frequency, limit, attenuation = figure
            answers, _ = self.solve(values, np.array([2j * math.pi * frequency]))
            over = abs(answers[0][:, 0]) * 10 ** (attenuation / 20)
            near = pair_miss(self.roots(polynomials["zero"]), frequency, None, limit, 1.0)
            return np.maximum(over, near)
        roots = self.roots(polynomials[figure[1]])
        if kind == "pair":
            _, _, frequency, q, limit, q_limit = figure
            return pair_miss(roots, frequency, q, limit, q_limit)
        _, _, frequency, limit = figure
        real = abs(roots.imag) < 1e-6 * abs(roots)
        away = abs(-roots.real / frequency - 1) / limit
        return np.min(np.where(real, away, NONE), axis=1)

    def roots(self, polynomial):
        """Roots in Hz of polynomials in s over `omega`, ascending; what is not there lies far off."""
        size = polynomial.shape[1] - 1
        companion = np.zeros((len(polynomial), size, size))
        companion[:, 0, :] = -polynomial[:, 1:] / polynomial[:, :1]
        companion[:, range(1, size), range(size - 1)] = 1.0
        bad = ~np.isfinite(companion).all(axis=(1, 2))
        companion[bad] = 0.0
        return self.omega / (2 * math.pi) / (np.linalg.eigvals(companion) + 1e-300)

    def notch_grid(self):
        """Frequencies over the asked one: close within a factor of 8, where the deepest point may be."""
        outer = np.geomspace(8, 300, 40)[1:]
        self.grid = np.concatenate([1 / outer[::-1], np.geomspace(1 / 8, 8, 281), outer])
        self.inside = slice(len(outer), len(outer) + 281)

    def notch(self, figure, _, polynomials):
        """The frequency, Q and attenuation of a notch. Edges and depth count from the gain at DC."""
        _, asked, q_asked, depth, limit, q_limit, least = figure
        top, bottom = polynomials["zero"], polynomials["pole"]

        def gain(x):
            """|H|^2 at x times the asked frequency, an x for each set."""
            return squared(top, x) / squared(bottom, x)

        passband = top[:, 0] / bottom[:, 0]
        curve = squared_along(top, self.grid) / squared_along(bottom, self.grid)
        low = np.argmin(curve[:, self.inside], axis=1) + self.inside.start
        at_an_end = (low == self.inside.start) | (low == self.inside.stop - 1)
        x = np.log(self.grid)
        a, b = x[low - 1], x[low + 1]
        golden = (math.sqrt(5) - 1) / 2
        for _ in range(26):
            c, d = b - golden * (b - a), a + golden * (b - a)
            left = gain(np.exp(c)) < gain(np.exp(d))
            a, b = np.where(left, a, c), np.where(left, d, b)
        deepest = (a + b) / 2
        level = (0.5 * passband**2)[:, None]
        place = np.arange(len(x))
        up = curve >= level
        edges = []
        for direction in (-1, 1):
            beyond = up & ((place - low[:, None]) * direction > 0)
            there = beyond.any(axis=1)
            first = np.argmax(beyond, axis=1) if direction > 0 else len(x) - 1 - np.argmax(beyond[:, ::-1], axis=1)
            inner, outer = deepest, x[first]
            # The one before may be nearer than the deepest point.
            before = x[np.clip(first - direction, 0, len(x) - 1)]
            inner = np.where((before - deepest) * direction > 0, before, inner)
            for _ in range(26):
                middle = (inner + outer) / 2
                above = gain(np.exp(middle)) >= level[:, 0]
                inner, outer = np.where(above, inner, middle), np.where(above, middle, outer)
            edges.append(np.where(there & (gain(np.exp(deepest)) < level[:, 0]), np.exp(outer), np.nan))
        f0 = np.exp(deepest)
        q = f0 / (edges[1] - edges[0])
        wanted_gain = 0.0 if depth is None else 10 ** (-depth / 20)
        one, most = np.ones(len(top)), 10 ** (-least / 20)
        at_asked = disc_miss(value(top, one) / value(bottom, one) / passband / most, wanted_gain / most)
        worst = np.max([abs(f0 - 1) / limit, abs(q / q_asked - 1) / q_limit, at_asked], axis=0)
        return np.where(at_an_end | ~np.isfinite(worst), NONE, worst)


def value(polynomial, x):
    """Polynomials in s at jx, an x for each."""
    result = 0.0
    for k in range(polynomial.shape[1])[::-1]:
        result = result * (1j * x) + polynomial[:, k]
    return result


def squared(polynomial, x):
    """|P(jx)|^2 of polynomials P, an x for each."""
    return abs(value(polynomial, x)) ** 2


def squared_along(polynomial, grid):
    """|P(jx)|^2 of polynomials P, each at every x of a grid."""
    powers = np.arange(polynomial.shape[1])
    signs = np.where(powers % 4 < 2, 1.0, -1.0)
    table = signs[:, None] * grid ** powers[:, None]
    return (polynomial[:, ::2] @ table[::2]) ** 2 + (polynomial[:, 1::2] @ table[1::2]) ** 2


def q_miss(ratio, limit):
    """The miss of a Q by the ratio of the asked one to it: its deviation below the asked one; above, where Q may be
    infinite, the deviation's series in 1 - ratio to the third order, 1 on the limit all the same."""
    short = 1 - ratio
    below = 1 - 1 / np.where(ratio > 1, ratio, 1.0)
    return np.where(short < 0, below, abs(short * (1 + short * (1 + short * (1 + limit))))) / limit


def disc_miss(z, wanted):
    """How far z is from `wanted`, which lies within the unit circle: 0 there, 1 on the circle, more outside."""
    along = 2 * z.real / (1 + abs(z) ** 2)
    return abs(z - wanted) / np.sqrt(1 + wanted**2 - 2 * wanted * along)


def pair_miss(roots, frequency, q, limit, q_limit):
    """The miss of the two roots that come nearest to a pair; only their frequency counts where q is None."""
    i, j = np.triu_indices(roots.shape[1], 1)
    a, b = roots[:, i], roots[:, j]
    total, product = a + b, a * b
    size = abs(a) + abs(b)
    real = (abs(total.imag) < 1e-6 * size) & (abs(product.imag) < 1e-6 * size**2) & (product.real > 0)
    f = np.sqrt(np.where(real, product.real, 1.0))
    miss = abs(f / frequency - 1) / limit
    if q is not None:
        miss = np.maximum(miss, q_miss(-total.real / f * q, q_limit))
    return np.min(np.where(real & np.isfinite(miss), miss, NONE), axis=1)
