"""Margins of random loops, by python-control, and of loops with a delay by root finding on a fine grid.

A loop is a proportional-integral controller with a lead or a notch, two low-pass corners, and a plant: a
suspension or integrators, and up to two modes. Each is built of its own terms as a python-control transfer
function in s over 2*pi*1 kHz, which keeps the coefficients of the whole near 1.

Without a delay: control.stability_margins (all crossings), the largest |S| and |T| by bounded minimisation
from a fine grid, bandwidth as control.bandwidth has it (3 dB below the value at DC). With a delay python-control
has no exact answer; there every figure is found by brentq on a grid of 6 000 points a decade, finer round the modes.

Frequencies in Hz, phase margins in degrees, gain margins as ratios.
"""

import control
import numpy as np
from scipy.optimize import brentq, minimize_scalar

from reference import write

TAU = 2 * np.pi
LOOPS = 40
DELAYED = 20
UNIT = TAU * 1e3
LOW, HIGH = 1e-2, 1e6


def stage(num, den):
    """A stage in scaled s, lowest power first."""
    return {"num": [float(c) for c in num], "den": [float(c) for c in den]}


def draw(random, delayed):
    """Controller stages and a plant at random."""
    corner = lambda low, high: float(np.exp(random.uniform(np.log(low), np.log(high))))
    crossover = corner(50, 800)
    c = crossover / 1e3
    zero, lead, pole = c / random.uniform(4, 12), c / random.uniform(1.5, 4), c * random.uniform(3, 9)
    stages = [stage([zero, 1], [0, 1]), stage([1, 1 / lead], [1, 1 / pole])]
    modes = []
    kind = int(random.integers(0, 3))
    if kind == 0:
        omega = TAU * corner(10, 40)
        modes.append({"frequency": omega / TAU, "damping": random.uniform(0.03, 0.3), "residue": omega**2})
        rigid = None
    else:
        rigid = {"integrators": kind, "gain": (TAU * 30) ** kind}
    for _ in range(int(random.integers(0, 3))):
        f = corner(4 * crossover, 30 * crossover)
        sign = 1 if random.uniform() < 0.6 else -1
        damping = corner(0.003, 0.05)
        height = corner(0.05, 3)
        # Peak relative to a double integrator's line there.
        modes.append({"frequency": f, "damping": damping, "residue": sign * height * 2 * damping * (TAU * 30) ** 2})
        if random.uniform() < 0.6:
            q = random.uniform(0.8, 4)
            w = f / 1e3
            stages.append(stage([1, 0.05 / w, 1 / w**2], [1, 1 / (q * w), 1 / w**2]))
    stages.append(stage([1], [1, 1e3 / (TAU * 1e3) / corner(20 * crossover, 200 * crossover) * TAU]))
    modes.sort(key=lambda mode: mode["frequency"])
    delay = corner(1e-6, 0.1 / crossover) if delayed else 0.0
    plant = {"rigid": rigid, "modes": modes, "lag": corner(5e3, 5e4), "delay": delay}
    return stages, plant, crossover


def system(stages, plant):
    """The whole but its delay, by python-control."""
    total = control.tf([0], [1])
    if plant["rigid"]:
        n = plant["rigid"]["integrators"]
        total = total + control.tf([plant["rigid"]["gain"] / UNIT**n], [1] + [0] * n)
    for mode in plant["modes"]:
        w = TAU * mode["frequency"] / UNIT
        total = total + control.tf([mode["residue"] / UNIT**2], [1, 2 * mode["damping"] * w, w * w])
    total = total * control.tf([1], [UNIT / (TAU * plant["lag"]), 1])
    for part in stages:
        total = total * control.tf(part["num"][::-1], part["den"][::-1])
    return total


def terms(stages, plant):
    """L at frequencies in Hz from its terms, delay included."""

    def at(f):
        s = 2j * np.pi * np.asarray(f, dtype=float)
        p = s / UNIT
        total = 0
        if plant["rigid"]:
            total = plant["rigid"]["gain"] / s ** plant["rigid"]["integrators"]
        for mode in plant["modes"]:
            w = TAU * mode["frequency"]
            total = total + mode["residue"] / (s * s + 2 * mode["damping"] * w * s + w * w)
        total = total / (1 + s / (TAU * plant["lag"])) * np.exp(-s * plant["delay"])
        for part in stages:
            total = total * np.polyval(part["num"][::-1], p) / np.polyval(part["den"][::-1], p)
        return total

    return at


def crossings(at, value, grid, keep):
    """Roots of `value` of L between neighbours on a grid."""
    sign = np.sign(value(at(grid)))
    found = []
    for k in np.nonzero(sign[:-1] * sign[1:] < 0)[0]:
        f = brentq(lambda f: value(at(f)), grid[k], grid[k + 1], xtol=1e-13, rtol=1e-14)
        if keep(at(f)):
            found.append(f)
    return found


def highest(at, size, grid):
    """The largest `size` of L and where."""
    k = int(np.argmax(size(at(grid))))
    result = minimize_scalar(
        lambda x: -size(at(np.exp(x))),
        bounds=(np.log(grid[max(k - 1, 0)]), np.log(grid[min(k + 1, len(grid) - 1)])),
        method="bounded",
        options={"xatol": 1e-12},
    )
    return [float(-result.fun), float(np.exp(result.x))]


def figures(at, grid):
    """All that is read off a loop, from its terms alone."""
    gain = crossings(at, lambda l: np.log(np.abs(l)), grid, lambda l: True)
    phase = crossings(at, np.imag, grid, lambda l: l.real < 0)
    closed = lambda l: np.abs(l / (1 + l))
    level = closed(at(grid[0])) / np.sqrt(2)
    band = crossings(at, lambda l: closed(l) - level, grid, lambda l: True)
    rejection = crossings(at, lambda l: np.abs(1 + l) - 1, grid, lambda l: True)
    return {
        "gain_crossings": [[float(f), float(np.degrees(np.angle(-at(f))))] for f in gain],
        "phase_crossings": [[float(f), float(1 / abs(at(f)))] for f in phase],
        "sensitivity_peak": highest(at, lambda l: np.abs(1 / (1 + l)), grid),
        "complementary_peak": highest(at, closed, grid),
        "bandwidth": float(band[0]) if band else None,
        "rejection_band": float(rejection[0]) if rejection else None,
    }


def main():
    random = np.random.default_rng(20261125)
    loops, apart = [], []
    for number in range(LOOPS + DELAYED):
        delayed = number >= LOOPS
        stages, plant, crossover = draw(random, delayed)
        at = terms(stages, plant)
        scale = float(1 / abs(at(crossover)))
        stages[0]["num"] = [scale * c for c in stages[0]["num"]]
        at = terms(stages, plant)
        grid = [np.geomspace(LOW, HIGH, 48_001)]
        for mode in plant["modes"]:
            width = max(mode["damping"], 1e-3)
            grid.append(mode["frequency"] * np.exp(np.linspace(-30 * width, 30 * width, 6001)))
        grid = np.unique(np.concatenate(grid))
        own = figures(at, grid)
        if not delayed:
            whole = system(stages, plant)
            gm, pm, _, wpc, wgc, _ = control.stability_margins(whole, returnall=True)
            scaled = UNIT / TAU
            theirs = sorted(
                (float(w * scaled), float(p)) for w, p in zip(np.atleast_1d(wgc), np.atleast_1d(pm)) if LOW < w * scaled < HIGH
            )
            crossed = sorted(
                (float(w * scaled), float(g)) for w, g in zip(np.atleast_1d(wpc), np.atleast_1d(gm)) if LOW < w * scaled < HIGH
            )
            for mine, other in zip(own["gain_crossings"], theirs, strict=True):
                apart += [abs(mine[0] / other[0] - 1), abs((mine[1] - other[1] + 180) % 360 - 180) / 180]
            for mine, other in zip(own["phase_crossings"], crossed, strict=True):
                apart += [abs(mine[0] / other[0] - 1), abs(mine[1] / other[1] - 1)]
            own["gain_crossings"] = [[f, (p + 180) % 360 - 180] for f, p in theirs]
            own["phase_crossings"] = [list(pair) for pair in crossed]
        loops.append({"stages": stages, "plant": plant, "omega": UNIT, "delayed": delayed, **own})
    apart.sort()
    # python-control finds crossings as roots of long polynomials, which costs some of them digits.
    assert apart[int(0.95 * len(apart))] < 1e-8 and apart[-1] < 1e-5, apart[-20:]
    # What they lose hangs on the processor: made again elsewhere, they may lie so far from here.
    data = {"loops": loops, "made_again_within": 1e-5, "self_check": apart[-1]}
    write(__file__, data, ["control", "numpy", "scipy"])


if __name__ == "__main__":
    main()
