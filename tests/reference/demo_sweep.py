"""The page's first sweep, invented: the moving-coil focus stage of an inspection microscope.

Writes control/src/plant/demo_sweep.txt, or the path given by --out. The plant is a sum of three modes behind a
delay: a suspension that carries the lens, and two structural modes, the upper of which moves sensor and
coil against each other. Its magnitude is 1 at DC, in output per input.

The numbers are made up to look like such a stage; none is measured.
"""

import argparse
from pathlib import Path

import numpy as np

SEED = 20240611
TAU = 2 * np.pi
SUSPENSION = 27.0  # Hz
DELAY = 6e-6  # s
NOISE = 0.005  # rms of the complex noise, relative to the response
# Frequency (Hz), damping ratio, residue as a share of the suspension's.
MODES = [(SUSPENSION, 0.08, 1.0), (2350.0, 0.006, 0.21), (5100.0, 0.01, -0.15)]
HEADER = """\
# Invented for this page, not measured: focus stage of an inspection microscope, volts of sensor per volt of drive.
# Complex noise of 0.5 % rms of the response at each point.
"""


def plant(f):
    """Complex response at frequencies in Hz."""
    s = 1j * TAU * f
    scale = (TAU * SUSPENSION) ** 2
    modes = [share * scale / (s**2 + 2 * d * TAU * f0 * s + (TAU * f0) ** 2) for f0, d, share in MODES]
    return sum(modes) * np.exp(-s * DELAY)


def frequencies():
    """30 points a decade from 5 Hz to 20 kHz, and more around the structural modes."""
    coarse = np.geomspace(5.0, 20e3, 109)
    near = [f0 * np.linspace(1 - 8 * d, 1 + 8 * d, 33) for f0, d, _ in MODES[1:]]
    return np.unique(np.concatenate([coarse, *near]))


def main():
    parser = argparse.ArgumentParser()
    beside = Path(__file__).parents[2] / "control" / "src" / "plant" / "demo_sweep.txt"
    parser.add_argument("--out", type=Path, default=beside, metavar="PATH")
    out = parser.parse_args().out
    f = frequencies()
    rng = np.random.default_rng(SEED)
    noise = (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f))) / np.sqrt(2)
    z = plant(f) * (1 + NOISE * noise)
    peak, mass_line = abs(plant(np.array([2350.0])))[0], (SUSPENSION / 2350.0) ** 2
    assert 20 * np.log10(peak / mass_line) > 20
    rows = zip(f, 20 * np.log10(abs(z)), np.degrees(np.angle(z)))
    lines = [f"{at:.6g}\t{level:.4f}\t{phase:.3f}\n" for at, level, phase in rows]
    text = HEADER + "Frequency (Hz)\tMagnitude (dB)\tPhase (deg)\n" + "".join(lines)
    out.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
