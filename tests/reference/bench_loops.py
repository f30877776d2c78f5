"""Time python-control at the margins of loops, board by board: prints one JSON line, writes no file.

The loop is a PID and a notch before the demo's plant with its delay as a second-order Pade approximation.
Timed, for each board: from its corners, modes and gain to its transfer function, and from there to all that
control.stability_margins reads and the largest |1/(1 + L)|, which is one over the smallest distance to -1 that
comes with them. Drawing is not timed. The largest |1/(1 + L)| is checked here on a fine grid, before anything is timed.

milliseconds_board: by polynomials, however inexact they are.
milliseconds_board_default: as control.stability_margins does by itself, which reads a grid of frequencies where it
finds its polynomials inexact.
"""

import argparse
import json
import os
import time

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read as NumPy loads; more only wait for one another

import control
import numpy as np

from demo_sweep import DELAY, MODES, SUSPENSION, TAU

SEED = 20240718
UNIT = TAU * 1e3  # rad/s, which keeps coefficients near 1
ORDER = 2
# Largest relative deviations: corners of the stages, their gain, and of the plant its modes, dampings, and gain.
STRAYS = {"corner": 0.06, "stage_gain": 0.03, "frequency": 0.02, "damping": 0.3, "gain": 0.1}


def draw(rng):
    """A board and its plant."""
    stray = lambda what: 1 + STRAYS[what] * rng.uniform(-1, 1)
    return {
        "pid": [corner * stray("corner") for corner in (42.0, 173.0, 4200.0)],
        "gain": 266.0 * stray("stage_gain") * stray("gain"),
        "notch": (2350.0 * stray("corner"), 2.0 * stray("corner"), 0.02),
        "modes": [(f * stray("frequency"), d * stray("damping"), share) for f, d, share in MODES],
    }


def system(board):
    """L of a board, in s over UNIT."""
    low, high, roll = (f * TAU / UNIT for f in board["pid"])
    at = 0.42  # the crossover, over 1 kHz
    there = abs((1 + 1j * at / low) * (1 + 1j * at / high) / (1j * at * (1 + 1j * at / roll)))
    k = board["gain"] / there
    pid = control.tf([k / (low * high), k * (1 / low + 1 / high), k], [1 / roll, 1, 0])
    f, q, depth = board["notch"]
    w = f * TAU / UNIT
    notch = control.tf([1, depth * w / q, w * w], [1, w / q, w * w])
    plant = control.tf([0], [1])
    for f, d, share in board["modes"]:
        w = f * TAU / UNIT
        plant = plant + control.tf([share * (SUSPENSION * TAU / UNIT) ** 2], [1, 2 * d * w, w * w])
    return pid * notch * plant * control.tf(*control.pade(DELAY * UNIT, ORDER))


def figures(board, method):
    """Loop, its crossings and margins, and the largest |1/(1 + L)|."""
    whole = system(board)
    read = control.stability_margins(whole, returnall=True, method=method)
    return whole, read, 1 / min(read[2])


def check(board):
    """Assert that the largest |1/(1 + L)| is one over the distance that stability_margins finds."""
    whole, _, peak = figures(board, "poly")
    grid = np.geomspace(1e-3, 1e2, 400_000)
    dense = np.concatenate([f / 1e3 * np.linspace(0.9, 1.1, 20_000) for f, _, _ in board["modes"]])
    sizes = np.abs(1 / (1 + whole(1j * np.concatenate([grid, dense]))))
    assert abs(sizes.max() / peak - 1) < 1e-3, (sizes.max(), peak)


def timed(boards, method):
    """Milliseconds for each board."""
    times = []
    for board in boards:
        start = time.perf_counter()
        figures(board, method)
        times.append((time.perf_counter() - start) * 1e3)
    return times


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--boards", type=int, default=100)
    args = parser.parse_args()
    rng = np.random.default_rng(SEED)
    boards = [draw(rng) for _ in range(args.boards)]
    for board in boards[:5]:
        check(board)
    report = {
        "milliseconds_board": timed(boards, "poly"),
        "milliseconds_board_default": timed(boards, "best"),
        "control": control.__version__,
    }
    print(json.dumps(report))


if __name__ == "__main__":
    main()
