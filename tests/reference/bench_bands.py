"""Time NumPy at the bands of |H| and phase over many boards: prints one JSON line, writes no file.

Circuit, boards, and response are those of bench_extremes.py. Timed: from the drawn part values to the least, the
5 %, the 50 %, the 95 % quantile and the largest over the boards at each frequency, of the level in dB and of the
phase in degrees from that of the marked board. Drawing is not timed.

milliseconds_plain: complex broadcasting and np.quantile, as one would write it first.
milliseconds_magnitude: the same of the level alone.
milliseconds: real and imaginary parts as polynomials in w^2, evaluated by matrix products; ranks by |H|^2 and by a
number that rises with the angle, in single precision, partitioned along contiguous boards, slice by slice so that
it stays in cache; logarithms and arc tangents of the quantiles only.
"""

import argparse
import json
import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read as NumPy loads

import numpy as np

from bench_extremes import SEED, W0, coefficients, draw, response, timed
from reference import netlists

SHARES = (0.0, 0.05, 0.5, 0.95, 1.0)
TILE = 16  # frequencies of a slice


def plain(parts, frequencies, nominal, with_phase=True):
    """Quantiles of level (dB) and phase (degrees from `nominal`), arrays (shares, frequencies)."""
    h = response(parts, frequencies)
    level = np.quantile(20 * np.log10(np.abs(h)), SHARES, axis=0)
    if not with_phase:
        return level, None
    return level, np.quantile(np.angle(h / nominal, deg=True), SHARES, axis=0)


def quantiles(values):
    """Of each row, by partition in place; between two ranks a straight line, as np.quantile has it."""
    last = values.shape[1] - 1
    places = np.array(SHARES) * last
    below = places.astype(int)
    above = np.minimum(below + 1, last)
    values.partition(np.unique([below, above]), axis=1)
    low, high = values[:, below].astype(float), values[:, above].astype(float)
    return (low + (places - below) * (high - low)).T


def parts_of(side, x):
    """Real and imaginary part of a cubic in s/W0 at s = jx W0, arrays (x, boards)."""
    p0, p1, p2, p3 = side
    powers = np.stack([np.ones_like(x), -x * x], axis=1)
    return powers @ np.stack([p0, p2]), (x[:, None] * powers) @ np.stack([p1, p3])


def tuned(parts, frequencies, nominal):
    """The same as `plain`."""
    sides = [[np.asarray(c, dtype=np.float32) for c in side] for side in coefficients(parts)]
    x = (2 * np.pi * frequencies / W0).astype(np.float32)
    turns = (np.conj(nominal) / np.abs(nominal)).astype(np.complex64)
    level, phase = (np.empty((len(SHARES), len(x))) for _ in range(2))
    for start in range(0, len(x), TILE):
        at = slice(start, start + TILE)
        (nr, ni), (dr, di) = (parts_of(side, x[at]) for side in sides)
        re, im = nr * dr + ni * di, ni * dr - nr * di
        power = (nr * nr + ni * ni) / (dr * dr + di * di)
        level[:, at] = 10 * np.log10(quantiles(power))
        c, s = turns.real[at, None], turns.imag[at, None]
        re, im = re * c - im * s, im * c + re * s
        # From -2 to 2 with the angle from -180 to 180 degrees.
        rank = im / (np.abs(re) + np.abs(im))
        np.copyto(rank, np.copysign(np.float32(2), im) - rank, where=re < 0)
        rank = quantiles(rank)
        q = np.where(np.abs(rank) > 1, np.copysign(2.0, rank) - rank, rank)
        phase[:, at] = np.degrees(np.arctan2(q, 1 - np.abs(rank)))
    return level, phase


def check(parts, frequencies, nominal):
    """Assert that both ways agree; single precision and a line between two ranks of another scale are apart."""
    for mine, other in zip(tuned(parts, frequencies, nominal), plain(parts, frequencies, nominal)):
        assert np.allclose(mine, other, atol=2e-2), np.abs(mine - other).max()


def main():
    parser = argparse.ArgumentParser()
    for name, default in {"boards": 10_000, "frequencies": 400, "repeats": 5}.items():
        parser.add_argument("--" + name, type=int, default=default)
    args = parser.parse_args()
    circuit = netlists()["multiple-feedback notch"]
    frequencies = np.geomspace(235.0, 23.5e3, args.frequencies)
    parts = draw(circuit, args.boards, SEED)
    marked = {name: np.array([value]) for name, value in circuit["values"].items()}
    nominal = response(marked, frequencies)[0]
    check(parts, frequencies, nominal)
    report = {
        "milliseconds": timed(lambda: tuned(parts, frequencies, nominal), args.repeats),
        "milliseconds_plain": timed(lambda: plain(parts, frequencies, nominal), args.repeats),
        "milliseconds_magnitude": timed(lambda: plain(parts, frequencies, nominal, False), args.repeats),
        "numpy": np.__version__,
    }
    print(json.dumps(report))


if __name__ == "__main__":
    main()
