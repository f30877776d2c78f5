"""Noise of a path of three stages, at its output and round a loop, each stage's on its own.

Circuits are those of stage_netlists.json with values that stand here; nothing else of the program is used. Each stage's density
is the nodal sum of noise.py, and its response is a solve of the same equations with a volt at its input. A stage's noise passes
the responses behind it; round the loop the drive is that over 1 + L and the position is the drive times the plant, with the delay
as an exact phase. Integrals are sums by Simpson's rule on an even grid in the logarithm of the frequency, fine enough for the
loop's resonance. python-control says that the loop is stable, with its delay as a Pade approximant.
"""

import json
import math

import control
import numpy as np
from noise import densities, system
from reference import HERE, write
from scipy.integrate import simpson

BAND = (5.0, 50e3)
GRID = 20001
TEMPERATURE_C = 60.0
DATA_SHEET = {
    "gain_db": 110.0,
    "gain_bandwidth": 3e6,
    "output_resistance": 150.0,
    "voltage_noise": 12e-9,
    "voltage_noise_corner": 80.0,
    "current_noise": 0.9e-12,
    "current_noise_corner": 150.0,
}
STAGES = [
    {"circuit": "gain-inverting", "values": {"R1": 4.7e3, "R2": 33e3}},
    {"circuit": "mfb-notch", "values": {
        "R1": 3.3e3, "C1": 10e-9, "C2": 10e-9, "R2": 47e3, "R3": 4.7e3, "R4": 33e3}},
    {"circuit": "sallen-key-low-pass", "values": {"R1": 10e3, "R2": 12e3, "C1": 10e-9, "C2": 4.7e-9}},
]
MODE = {"frequency": 90.0, "damping": 0.2, "residue": 4e4, "slope": 0.0}
DELAY = 5e-5
# The path inverts, and the summing point takes that back.
SIGN = -1.0

OP_AMP = {
    "inverse_gain": 10 ** (-DATA_SHEET["gain_db"] / 20),
    "inverse_gbw_hz": 1 / DATA_SHEET["gain_bandwidth"],
    "output_resistance": DATA_SHEET["output_resistance"],
}
NOISE = {
    "voltage": DATA_SHEET["voltage_noise"],
    "voltage_corner": DATA_SHEET["voltage_noise_corner"],
    "current": DATA_SHEET["current_noise"],
    "current_corner": DATA_SHEET["current_noise_corner"],
}


def response(circuit, values, frequency):
    """The voltage at the output with a volt at the input."""
    matrix, column, _ = system(circuit, values, frequency, OP_AMP)
    side = np.zeros(len(matrix), complex)
    side[len(matrix) - 1 - len(circuit["further_inputs"])] = 1
    return np.linalg.solve(matrix, side)[column[circuit["output"]]]


def plant(frequency):
    s = 2j * math.pi * frequency
    omega = 2 * math.pi * MODE["frequency"]
    mode = MODE["residue"] / (s**2 + 2 * MODE["damping"] * omega * s + omega**2)
    return mode * np.exp(-s * DELAY)


def is_stable(gains, grid):
    """By the closed loop's poles, with the path as its gain at low frequencies and a delay that costs as much phase."""
    low = (grid > 5) & (grid < 300)
    phase = np.unwrap(np.angle(gains[low] * SIGN))
    lag = -np.polyfit(2 * math.pi * grid[low], phase, 1)[0]
    gain = abs(gains[low][0])
    omega = 2 * math.pi * MODE["frequency"]
    mode = control.tf([MODE["residue"] * gain], [1, 2 * MODE["damping"] * omega, omega**2])
    num, den = control.pade(DELAY + lag, 5)
    return bool(np.all(control.feedback(mode * control.tf(num, den), 1).poles().real < 0))


def main():
    circuits = {c["name"]: c for c in json.loads((HERE / "stage_netlists.json").read_text(encoding="utf-8"))}
    grid = np.geomspace(*BAND, GRID)

    def rms(power):
        return float(math.sqrt(simpson(power * grid, x=np.log(grid))))

    own, gains = [], []
    for stage in STAGES:
        circuit, values = circuits[stage["circuit"]], stage["values"]
        kelvin = TEMPERATURE_C + 273.15
        own.append(np.array([densities(circuit, values, f, OP_AMP, NOISE, kelvin).sum() for f in grid]))
        gains.append(np.array([response(circuit, values, f) for f in grid]))
    whole = np.prod(gains, axis=0)
    behind = [np.abs(np.prod(gains[k + 1:], axis=0)) ** 2 * np.ones(GRID) for k in range(len(STAGES))]
    at_output = [density * passed for density, passed in zip(own, behind, strict=True)]
    loop = SIGN * whole * plant(grid)
    assert is_stable(whole, grid)
    drive = [power / np.abs(1 + loop) ** 2 for power in at_output]
    position = [power * np.abs(plant(grid)) ** 2 for power in drive]
    looked_at = [int(k) for k in np.linspace(0, GRID - 1, 9)]
    write(
        __file__,
        {
            "band": list(BAND),
            "data_sheet": DATA_SHEET,
            "delay": DELAY,
            "drive_rms": rms(sum(drive)),
            "drive_rms_by_stage": [rms(one) for one in drive],
            "frequencies": [float(grid[k]) for k in looked_at],
            "input_density": [float(math.sqrt(sum(at_output)[k]) / abs(whole[k])) for k in looked_at],
            "mode": MODE,
            "output_density": [float(math.sqrt(sum(at_output)[k])) for k in looked_at],
            "position_rms": rms(sum(position)),
            "position_rms_by_stage": [rms(one) for one in position],
            "rms": rms(sum(at_output)),
            "rms_by_stage": [rms(one) for one in at_output],
            "stage_rms": [rms(one) for one in own],
            "stages": STAGES,
            "temperature": TEMPERATURE_C,
        },
        ["numpy", "scipy", "control"],
    )


if __name__ == "__main__":
    main()
