"""Builds a board of a netlist text and measures it: reads an order as JSON, writes rows of frequency, dB and degrees.

The order has the netlist's text; changes of parts by designator, each a factor, or what is done to the part as it was before
("replace", "parallel", "series", "put-right", with a value); frequencies in Hz; noise of each point relative to its magnitude, and
a seed; and, for a loop, a plant: a mass on a suspension with a gain of 1 at rest. New parts are half a per cent off. The reader and
the nodal solver are those of netlist_text.py. Writes no file.
"""

import json
import math
import sys

import numpy as np

from netlist_text import flat, matrices, read

NEW_PART = 1.005


def changed(kind, marked, change):
    """A part's value after a change, from its marked one."""
    if isinstance(change, (int, float)):
        return marked * change
    before = changed(kind, marked, change["was"])
    value = NEW_PART * (change["value"] or 0)
    adds = (change["do"] == "series") == (kind == "r")
    match change["do"]:
        case "put-right":
            return marked
        case "replace":
            return value
        case "parallel" | "series":
            return before + value if adds else 1 / (1 / before + 1 / value)
    raise ValueError(f"{change['do']} is nothing that can be done to a part")


def built(elements, changes):
    """The same elements with changed values; parts of a path's only stage have no number before their name."""
    known = {name.lower(): change for name, change in changes.items()}
    for name, kind, nodes, value in elements:
        change = known.get(name.split(".")[-1]) if name.startswith("xstage") or "." in name else None
        yield name, kind, nodes, changed(kind, value, change) if change is not None and kind in "rc" else value


def main():
    order = json.load(sys.stdin)
    changes = dict(order["changes"])
    plant = changes.pop("plant", None)
    top, subcircuits, _ = read(order["netlist"].splitlines())
    g, c, b, row = matrices(list(built(flat(top, subcircuits), changes)))
    rng = np.random.default_rng(order["seed"])
    print("Frequency (Hz)\tMagnitude (dB)\tPhase (deg)")
    for frequency in order["frequencies"]:
        s = 2j * math.pi * frequency
        response = np.linalg.solve(g + s * c, b)[row["out"]]
        if plant:
            own = 2 * math.pi * plant["frequency"]
            response *= own**2 / (s**2 + 2 * plant["damping"] * own * s + own**2)
        response *= 1 + order["noise"] * (rng.normal() + 1j * rng.normal())
        print(f"{frequency:.9g}\t{20 * math.log10(abs(response)):.6f}\t{math.degrees(np.angle(response)):.5f}")


if __name__ == "__main__":
    main()
