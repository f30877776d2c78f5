"""Time NumPy at the widest and narrowest |H| over many boards: prints one JSON line, writes no file.

The circuit is the multiple-feedback notch with a real op amp. Timed: from the drawn part values to
the minimum and maximum over the boards at each frequency. Drawing is not timed. The transfer
function, a cubic over a cubic, is the one symbolic.py derives, grouped by hand; it is checked here
against nodal.py's solver before anything is timed.

milliseconds_plain: complex broadcasting, as one would write it first.
milliseconds_path: the same over four such stages in a row, each with boards of its own.
milliseconds: |N|^2 and |D|^2 as cubics in w^2 (real), evaluated by matrix products, divided, and
reduced, slice by slice so that it stays in cache, in buffers made once; one root at the end.
The cubics in w^2 cancel near a null: |H| is right there to about 1e-8 of the gain at DC.
"""

import argparse
import json
import os
import time
from concurrent.futures import ThreadPoolExecutor

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read as NumPy loads; --threads says how many there are

import numpy as np

from nodal import REAL, numpy_answers
from reference import netlists

SEED = 20240605
TOLERANCE = {"R": 0.01, "C": 0.05}
W0 = 2 * np.pi * 2350.0
TILE = (50, 1000)  # frequencies, boards: what a slice holds


def draw(circuit, boards, seed=SEED):
    """Part values (ohm, farad) of the boards: name to array, uniform within the tolerance."""
    rng = np.random.default_rng(seed)
    return {
        name: value * (1 + TOLERANCE[name[0]] * rng.uniform(-1, 1, boards))
        for name, value in circuit["values"].items()
    }


def coefficients(parts):
    """Numerator and denominator, each four arrays, ascending powers of s/W0."""
    r1, r2, c1, c2 = (parts[name] for name in ("R1", "R2", "C1", "C2"))
    k = parts["R4"] / (parts["R3"] + parts["R4"])
    g, tau, ro = REAL["inverse_gain"], REAL["inverse_gbw_hz"] / (2 * np.pi), REAL["output_resistance"]
    both, r2c2 = W0 * (c1 + c2), W0 * r2 * c2
    c1r2c2, tau = W0 * c1 * r2c2, W0 * tau
    leak = g * ro
    numerator = (
        k,
        (k * r1 + leak) * both - (1 - k) * r2c2,
        (k * r1 + leak) * c1r2c2 + tau * ro * both,
        tau * ro * c1r2c2,
    )
    r1g = r1 * (1 + g) + leak
    denominator = (
        np.full_like(k, 1 + g),
        r1g * both + g * r2c2 + tau,
        r1g * c1r2c2 + tau * ((r1 + ro) * both + r2c2),
        tau * (r1 + ro) * c1r2c2,
    )
    return numerator, denominator


def response(parts, frequencies):
    """H of each board at `frequencies` (hertz), an array (boards, frequencies)."""
    s = 2j * np.pi * frequencies / W0
    n, d = ([c[:, None] for c in side] for side in coefficients(parts))
    return (n[0] + s * (n[1] + s * (n[2] + s * n[3]))) / (d[0] + s * (d[1] + s * (d[2] + s * d[3])))


def plain(parts, frequencies):
    """Minimum and maximum of |H| over the boards at `frequencies` (hertz)."""
    h = np.abs(response(parts, frequencies))
    return h.min(axis=0), h.max(axis=0)


def plain_path(stages, frequencies):
    """The same of the stages' product."""
    h = response(stages[0], frequencies)
    for parts in stages[1:]:
        h *= response(parts, frequencies)
    h = np.abs(h)
    return h.min(axis=0), h.max(axis=0)


def squared(side):
    """|p(jw)|^2 of cubics p, as an array (4, boards) of ascending powers of (w/W0)^2."""
    p0, p1, p2, p3 = side
    return np.stack([p0 * p0, p1 * p1 - 2 * p0 * p2, p2 * p2 - 2 * p1 * p3, p3 * p3])


def squared_extremes(above, below, powers):
    """Minimum and maximum of |H|^2 over the boards of `above` and `below`."""
    frequencies, boards = len(powers), above.shape[1]
    ratios, divisors, ends = np.empty(TILE), np.empty(TILE), np.empty(TILE[0])
    low, high = np.full(frequencies, np.inf), np.zeros(frequencies)
    for row in range(0, frequencies, TILE[0]):
        x, least, most = (a[row : row + TILE[0]] for a in (powers, low, high))
        end = ends[: len(x)]
        for start in range(0, boards, TILE[1]):
            n, d = (a[:, start : start + TILE[1]] for a in (above, below))
            ratio, divisor = (a[: len(x), : n.shape[1]] for a in (ratios, divisors))
            np.matmul(x, n, out=ratio)
            np.matmul(x, d, out=divisor)
            np.divide(ratio, divisor, out=ratio)
            np.minimum(least, np.minimum.reduce(ratio, axis=1, out=end), out=least)
            np.maximum(most, np.maximum.reduce(ratio, axis=1, out=end), out=most)
    return low, high


def tuned(parts, frequencies, pool, threads):
    """The same as `plain`, the frequencies shared out among the threads."""
    above, below = (squared(side) for side in coefficients(parts))
    powers = np.vander((2 * np.pi * frequencies / W0) ** 2, 4, increasing=True)
    shares = np.array_split(powers, threads)
    ends = list(pool.map(lambda share: squared_extremes(above, below, share), shares))
    low, high = (np.concatenate(side) for side in zip(*ends))
    return np.sqrt(np.maximum(low, 0)), np.sqrt(high)


def timed(work, repeats):
    """Milliseconds of each of `repeats` runs, after one that is not counted."""
    work()
    found = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        found.append((time.perf_counter() - start) * 1e3)
    return found


def check(circuit, frequencies, pool, threads):
    """Assert that both ways agree with the nodal solve of nodal.py on 40 boards."""
    parts = draw(circuit, 40)
    boards = [{name: values[k] for name, values in parts.items()} for k in range(40)]
    exact = np.abs([numpy_answers(circuit, board, REAL, frequencies) for board in boards])
    for low, high in (plain(parts, frequencies), tuned(parts, frequencies, pool, threads)):
        assert np.allclose(low, exact.min(axis=0), rtol=1e-7, atol=1e-9)
        assert np.allclose(high, exact.max(axis=0), rtol=1e-7, atol=1e-9)


def main():
    parser = argparse.ArgumentParser()
    for name, default in {"boards": 10_000, "frequencies": 400, "repeats": 20, "threads": 1}.items():
        parser.add_argument("--" + name, type=int, default=default)
    args = parser.parse_args()
    circuit = netlists()["multiple-feedback notch"]
    frequencies = np.geomspace(23.5, 235e3, args.frequencies)
    parts = draw(circuit, args.boards)
    with ThreadPoolExecutor(args.threads) as pool:
        check(circuit, frequencies, pool, args.threads)
        tuned_times = timed(lambda: tuned(parts, frequencies, pool, args.threads), args.repeats)
        plain_times = timed(lambda: plain(parts, frequencies), args.repeats)
        stages = [draw(circuit, args.boards, SEED + k) for k in range(4)]
        path_times = timed(lambda: plain_path(stages, frequencies), max(args.repeats // 4, 3))
    report = {
        "milliseconds": tuned_times,
        "milliseconds_plain": plain_times,
        "milliseconds_path": path_times,
        "boards": args.boards,
        "frequencies": args.frequencies,
        "threads": args.threads,
        "numpy": np.__version__,
    }
    print(json.dumps(report))


if __name__ == "__main__":
    main()
