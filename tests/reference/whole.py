"""Promised loops read again: crossover and phase margin by python-control, peaks by sampling plants and notches.

whole_loops.json is written by the test that compares (WRITE_WHOLE=1). Each loop holds a plant by its terms and the
path's stages with the bought parts as polynomials. Without a delay, margins and poles are python-control's
(stability_margins; poles of feedback(L)); with one, the crossover is brentq's on a fine grid, and the delay is a Pade
function of order 8 for the poles. A peak is the largest |L| over sampled plants: the mode at 81 frequencies and 3
dampings of its box, the gain at its highest, each notch at either end of its frequency's spread and with the highest
of its Q, from three half-widths below the drift to three above.

Frequencies in Hz, margins in degrees, levels in dB.
"""

import json

import control
import numpy as np
from scipy.optimize import brentq

from reference import HERE, write

TAU = 2 * np.pi
UNIT = TAU * 1e3


def plant_at(plant, f):
    """P at frequencies in Hz from its terms."""
    s = 2j * np.pi * np.asarray(f, dtype=float)
    total = np.zeros_like(s)
    rigid = plant["rigid"]
    if rigid:
        total = total + rigid["gain"] / s ** rigid["integrators"]
        if rigid.get("friction"):
            total = total * s / (s + TAU * rigid["friction"])
    for mode in plant["modes"]:
        w = TAU * mode["frequency"]
        total = total + (mode["residue"] + mode["slope"] * s) / (s * s + 2 * mode["damping"] * w * s + w * w)
    if plant["lag"]:
        total = total / (1 + s / (TAU * plant["lag"]))
    return total * np.exp(-s * plant["delay"])


def stage_at(stage, f):
    """A stage at frequencies in Hz."""
    p = 2j * np.pi * np.asarray(f, dtype=float) / stage["omega"]
    return np.polyval(stage["num"][::-1], p) / np.polyval(stage["den"][::-1], p)


def system(loop, delay):
    """L by python-control in s over 2*pi*1 kHz."""
    plant = loop["plant"]
    total = control.tf([0], [1])
    rigid = plant["rigid"]
    if rigid:
        n = rigid["integrators"]
        if rigid.get("friction"):
            corner = TAU * rigid["friction"] / UNIT
            total = control.tf([rigid["gain"] / UNIT**n], np.polymul([1, corner], [1] + [0] * (n - 1)))
        else:
            total = control.tf([rigid["gain"] / UNIT**n], [1] + [0] * n)
    for mode in plant["modes"]:
        w = TAU * mode["frequency"] / UNIT
        num = [mode["slope"] / UNIT, mode["residue"] / UNIT**2]
        total = total + control.tf(num, [1, 2 * mode["damping"] * w, w * w])
    if plant["lag"]:
        total = total * control.tf([1], [UNIT / (TAU * plant["lag"]), 1])
    sign = -1 if loop["adds"] else 1
    for stage in loop["stages"]:
        scale = UNIT / stage["omega"]
        num = [c * scale**k for k, c in enumerate(stage["num"])]
        den = [c * scale**k for k, c in enumerate(stage["den"])]
        total = total * control.tf(num[::-1], den[::-1])
    if delay:
        total = total * control.tf(*control.pade(delay * UNIT, 8))
    return sign * total


def stray(stage, strays, f):
    """The largest gain of a stage at frequencies in Hz as it strays; of a notch only."""
    if stage["notch"] is None:
        return np.abs(stage_at(stage, f))
    notch = stage["notch"]
    worst = 0
    for side in (-1, 1):
        nominal = f / (1 + side * strays["notch_frequency"])
        u = nominal / notch["frequency"] - notch["frequency"] / nominal
        size = lambda q: np.sqrt(((q * u) ** 2 + notch["gain"] ** 2) / ((q * u) ** 2 + 1))
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = size(notch["q"] * (1 + strays["notch_q"])) / size(notch["q"])
        ratio = np.where(np.isfinite(ratio), ratio, 1 + strays["notch_q"])
        worst = np.maximum(worst, np.abs(stage_at(stage, nominal)) * ratio)
    return worst


def worst(loop, place):
    """The largest |L| over a mode's peak, of all sampled plants, dB."""
    plant, strays = loop["plant"], loop["strays"]
    mode = plant["modes"][place]
    skirt, drift = 3 * mode["damping"], strays["frequency"]
    low = mode["frequency"] * (1 - drift) * max(1 - skirt, 0.5)
    high = mode["frequency"] * (1 + drift) * min(1 + skirt, 2)
    f = np.linspace(low, high, 3001)
    stages = np.prod([stray(stage, strays, f) for stage in loop["stages"]], axis=0)
    top = 0
    for shift in np.linspace(-drift, drift, 81):
        for damping in (-1, 0, 1):
            modes = [dict(m) for m in plant["modes"]]
            modes[place]["frequency"] *= 1 + shift
            modes[place]["damping"] *= 1 + damping * strays["damping"]
            size = np.abs(plant_at({**plant, "modes": modes}, f)) * stages * (1 + strays["gain"])
            top = max(top, float(size.max()))
    return 20 * np.log10(top)


def main():
    loops = json.loads((HERE / "whole_loops.json").read_text(encoding="utf-8"))
    read, apart = [], []
    for loop in loops:
        sign = -1 if loop["adds"] else 1
        at = lambda f: sign * plant_at(loop["plant"], f) * np.prod([stage_at(s, f) for s in loop["stages"]], axis=0)
        wanted = loop["asked"]["crossover"]
        grid = np.geomspace(wanted / 3, wanted * 3, 6001)
        size = np.log(np.abs(at(grid)))
        falls = np.nonzero((size[:-1] > 0) & (size[1:] <= 0))[0]
        own = min(falls, key=lambda k: abs(np.log(grid[k] / wanted)))
        log_size = lambda f: float(np.log(np.abs(at(np.array([f]))))[0])
        crossover = float(brentq(log_size, grid[own], grid[own + 1], xtol=1e-13, rtol=1e-14))
        margin = float(np.degrees(np.angle(-at(np.array([crossover]))))[0])
        delay = loop["plant"]["delay"]
        whole = system(loop, delay)
        if not delay:
            _, pm, _, _, wgc, _ = control.stability_margins(whole, returnall=True)
            theirs = min(zip(np.atleast_1d(wgc), np.atleast_1d(pm)), key=lambda c: abs(c[0] * UNIT / TAU - crossover))
            apart += [abs(theirs[0] * UNIT / TAU / crossover - 1), abs((theirs[1] - margin + 180) % 360 - 180) / 180]
        poles = control.feedback(whole, 1).poles()
        read.append(
            {
                "crossover": crossover,
                "phase_margin": margin,
                "worst_db": [float(worst(loop, peak["mode"])) for peak in loop["promised"]["peaks"]],
                "is_stable": bool(np.all(poles.real < 1e-9 * np.abs(poles))),
            }
        )
    # python-control finds crossings as roots of long polynomials, which costs some of them digits.
    assert max(apart) < 1e-4, apart
    write(__file__, {"loops": read, "made_again_within": 1e-5, "self_check": max(apart)}, ["control", "numpy", "scipy"])


if __name__ == "__main__":
    main()
