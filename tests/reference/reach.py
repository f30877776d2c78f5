"""What the shelf can do: for random asks of every circuit, the least worst miss that a search finds.

A miss is a figure's distance from its wanted value over that of its limit, of gains as ratios; 1 is on the limit.
Notches count from their gain at DC, which no limit holds. The sets of parts
are held against the asks by reach_boards.py (nodal analysis with the real op amp), and searched for by simulated
annealing (Kirkpatrick, Gelatt and Vecchi, Science 220, 1983; from memory): many chains abreast, some from parts
of like impedance, and at the end every step of one or two parts. A set that misses by less than half its limits
ends the search, so what is written is what can be reached, not always the best.

Without --all the asks and the misses of the sets that are kept are made again, and an ask of each circuit is
searched again: where the kept set is outside the limits, nothing inside may be found. --all searches for all
asks and takes a quarter of an hour.
"""

import json
import math
import sys

import numpy as np

from reach_asks import CIRCUITS, draw
from reach_boards import Boards, circuits
from reference import HERE, write

SEED = 20240923
ASKS = 40
ENOUGH = 0.5
FAR = 100.0  # a worse miss is written as this
AGAIN = 1  # asks of each circuit that are searched again without --all

E6 = [100, 150, 220, 330, 470, 680]
E96 = [round(100 * 10 ** (k / 96)) for k in range(96)]
RESISTORS = np.array([m * 10.0**d for d in range(4) for m in E96] + [1e6])
CAPACITORS = np.array([m * 10.0 ** (d - 12) for d in range(3) for m in E6] + [1e-7])
# So many places of a resistor make one of a capacitor.
EQUAL = 16

START, CHAINS, STEPS = 3000, 64, 300


class Search:
    def __init__(self, boards, rng):
        self.boards, self.rng = boards, rng
        self.lists = [RESISTORS if kind == "R" else CAPACITORS for kind in boards.kinds]
        self.ends = np.array([len(values) - 1 for values in self.lists])
        self.is_resistor = np.array([kind == "R" for kind in boards.kinds])

    def misses(self, places):
        values = np.stack([values[place] for values, place in zip(self.lists, places.T)], axis=1)
        return self.boards.misses(values)

    def starts(self):
        """Half anywhere, half with resistors near the impedance of the capacitors, or near each other."""
        rng, groups = self.rng, len(self.lists)
        places = rng.integers(0, self.ends + 1, (START, groups))
        ohms = np.full(START // 2, 1e4)
        capacitors = np.flatnonzero(~self.is_resistor)
        if len(capacitors):
            logs = np.log(CAPACITORS)[places[: START // 2, capacitors]]
            ohms = np.exp(-logs.mean(axis=1)) / self.boards.omega
        for group in np.flatnonzero(self.is_resistor):
            near = ohms * np.exp(rng.normal(0, 1.5, START // 2))
            places[: START // 2, group] = np.rint(96 * np.log10(near / 100)).clip(0, self.ends[group])
        return places

    def proposals(self, places, heat):
        """A random neighbour of each; steps are wide while it is hot."""
        rng = self.rng
        chains, groups = places.shape
        moved = places.copy()
        for _ in range(1 + int(rng.random() < 0.5)):
            group = rng.integers(0, groups, chains)
            widest = np.where(self.is_resistor, 2 + 60 * heat, 1 + 4 * heat)[group]
            step = np.rint(rng.normal(0, 1, chains) * widest).astype(int)
            moved[np.arange(chains), group] += step
        # One chain in four moves capacitors against resistors, which leaves the frequencies alone.
        level = rng.random(chains) < 0.25
        steps = rng.choice([-2, -1, 1, 2], chains)
        some = rng.random((chains, groups)) < 0.7
        along = np.where(self.is_resistor, -EQUAL, 1)[None, :] * steps[:, None] * some
        moved = np.where(level[:, None], places + along, moved)
        return moved.clip(0, self.ends)

    def anneal(self):
        places = self.starts()
        misses = self.misses(places)
        best = np.argsort(misses)[:CHAINS]
        places, misses = places[best], misses[best]
        kept_places, kept = places.copy(), misses.copy()
        for step in range(STEPS):
            if kept.min() < ENOUGH:
                break
            left = 1 - step / STEPS
            moved = self.proposals(places, left)
            found = self.misses(moved)
            warmth = 1.5 * left**2 + 0.003
            worse = 2 * np.log((found + 0.01) / (misses + 0.01))
            taken = self.rng.random(len(misses)) < np.exp(-np.maximum(worse, 0) / warmth)
            places[taken], misses[taken] = moved[taken], found[taken]
            better = misses < kept
            kept_places[better], kept[better] = places[better], misses[better]
            if step % 50 == 49:
                order = np.argsort(kept)
                good, bad = order[: CHAINS // 4], order[-CHAINS // 4 :]
                places[bad], misses[bad] = kept_places[good], kept[good]
        return kept_places, kept

    def descend(self, place, miss):
        """Every step of one part by up to four places and of two by up to two, until none is better."""
        groups = len(place)
        while miss > ENOUGH:
            near = []
            for i in range(groups):
                for step in (-4, -3, -2, -1, 1, 2, 3, 4, -EQUAL, EQUAL):
                    near.append({i: step})
                for j in range(i):
                    near += [{i: a, j: b} for a in (-2, -1, 1, 2) for b in (-2, -1, 1, 2)]
                    if self.is_resistor[i] != self.is_resistor[j]:
                        r, c = (i, j) if self.is_resistor[i] else (j, i)
                        near += [{r: s * k * EQUAL + a, c: -s} for s in (-1, 1) for k in (1, 2) for a in (-1, 0, 1)]
            places = np.tile(place, (len(near), 1))
            for row, moves in enumerate(near):
                for group, step in moves.items():
                    places[row, group] += step
            places = places.clip(0, self.ends)
            misses = self.misses(places)
            best = np.argmin(misses)
            if misses[best] > miss - 1e-6:
                break
            place, miss = places[best], misses[best]
        return place, miss

    def run(self):
        """Values by group and the miss of the best set found."""
        if not self.lists:
            return [], self.boards.misses(np.zeros((1, 0)))[0]
        best = (None, math.inf)
        for restart in range(3):
            places, misses = self.anneal()
            order = np.argsort(misses)
            chosen = []
            for k in order:
                if len(chosen) < 4 and not any((places[k] == places[c]).all() for c in chosen):
                    chosen.append(k)
            for k in chosen:
                found = self.descend(places[k], misses[k])
                best = min(best, found, key=lambda pair: pair[1])
                if best[1] <= ENOUGH:
                    break
            # Near the limit it is worth another try; far from it only one more.
            if best[1] < 0.9 or best[1] > 5 or (restart == 1 and best[1] > 1.5):
                break
        return [values[place] for values, place in zip(self.lists, best[0])], best[1]


def kept(boards, rng, values, again):
    """Values and miss of a set that is kept; `again` searches for a better one all the same."""
    miss = boards.misses(np.array([values]))[0]
    if again:
        _, found = Search(boards, rng).run()
        if found < 0.95 and miss > 1:
            raise SystemExit(f"{boards.figures} can be met within {found}, not {miss}: make it again with --all")
    return values, miss


def main():
    search_all = "--all" in sys.argv
    sys.argv = [argument for argument in sys.argv if argument != "--all"]
    netlists = circuits()
    before = {}
    if not search_all:
        text = (HERE / "reach.json").read_text(encoding="utf-8")
        before = {circuit["name"]: circuit["sets"] for circuit in json.loads(text)["circuits"]}
    made = []
    for number, (name, (family, _)) in enumerate(CIRCUITS.items()):
        asks, misses, sets = [], [], []
        for k in range(ASKS):
            rng = np.random.default_rng([SEED, number, k])
            ask = draw(name, rng)
            boards = Boards(netlists[name], ask)
            if search_all:
                values, miss = Search(boards, rng).run()
            else:
                values, miss = kept(boards, rng, before[name][k], k < AGAIN)
            asks.append(list(ask.values()))
            misses.append(float(f"{min(miss, FAR):.6g}"))
            sets.append([float(f"{value:.4g}") for value in values])
        groups = [" ".join(names) for names in boards.groups]
        head = {"name": name, "family": family, "entries": list(ask), "groups": groups}
        made.append({**head, "asks": asks, "misses": misses, "sets": sets})
    # Far from the limits rounding shows in the fourth digit.
    write(__file__, {"circuits": made, "made_again_within": 1e-4}, ["numpy"])


if __name__ == "__main__":
    main()
