"""Motions of random loops: by python-control without a delay, by inversion of Laplace's transform with one.

The loops are those of loops.py, drawn anew until the closed loop is stable. Each block is a python-control state
space of its own, so that nothing is multiplied out. Error and drive after a step, a ramp and a parabola of 1, and
after a step of 1 V at the plant's input: control.forced_response with the reference straight between its points,
which is exact for step and ramp. Figures of the step: control.step_info on 20 001 points.

With a delay: position and what it takes off the drive from the loop's own terms with e^(-sT) as it is, by the
Fourier series of Dubner and Abate (Journal of the ACM 15, 1968); the path's own answer to the reference by
python-control. The self-check holds both signals against python-control with a Pade approximant of order 10.

Error constants: control.dcgain of s^n L, its factors of s cancelled by hand.
"""

import control
import numpy as np

from loops import TAU, UNIT, draw, system
from reference import write

LOOPS = 24
DELAYED = 12
POINTS, FINE = 4_001, 20_001
TERMS = 60_000
STIMULI = {"step": 1, "ramp": 2, "parabola": 3}


def block(num, den):
    """A state space in s over UNIT from polynomials, lowest power first."""
    return control.tf2ss(control.tf(num[::-1], den[::-1]))


def path_of(stages):
    """The path's stages in a row."""
    path = control.ss([], [], [], [[1.0]])
    for part in stages:
        path = block(part["num"], part["den"]) * path
    return path


def pade(delay, order):
    """A Pade approximant of a delay, a section for each pair of its poles."""
    den = control.pade(1.0, order)[1]
    total = control.ss([], [], [], [[1.0]])
    for pole in np.roots(den):
        if pole.imag > 0:
            size, middle = abs(pole) / delay, -2 * pole.real / delay
            total = block([1, -middle / size**2, 1 / size**2], [1, middle / size**2, 1 / size**2]) * total
    return total


def plant_of(plant, order=0):
    """The plant, its delay as a Pade approximant if an order is given."""
    parts = []
    if plant["rigid"]:
        n = plant["rigid"]["integrators"]
        parts.append(block([plant["rigid"]["gain"] / UNIT**n], [0.0] * n + [1.0]))
    for mode in plant["modes"]:
        w = TAU * mode["frequency"] / UNIT
        parts.append(block([mode["residue"] / UNIT**2], [w * w, 2 * mode["damping"] * w, 1.0]))
    total = parts[0]
    for part in parts[1:]:
        total = total + part
    total = block([1.0], [1.0, UNIT / (TAU * plant["lag"])]) * total
    return pade(plant["delay"] * UNIT, order) * total if order else total


def closed(stages, plant, order=0):
    """From reference to error and drive, from disturbance to error and drive."""
    path, own = path_of(stages), plant_of(plant, order)
    one = control.ss([], [], [], [[1.0]])
    error = control.feedback(one, own * path)
    drive = control.feedback(path, own)
    disturbed = -1 * control.feedback(own, path)
    return error, drive, disturbed, path * disturbed


def answer(whole, time, u):
    """The output at times in seconds, the input straight between them."""
    return control.forced_response(whole, time * UNIT, u).outputs


def references(time):
    """Step, ramp and parabola."""
    return {"step": np.ones(len(time)), "ramp": time, "parabola": 0.5 * time**2}


def motions(stages, plant, time, order=0):
    """Error and drive by python-control."""
    error, drive, disturbed, disturbed_drive = closed(stages, plant, order)
    found = {name: [answer(error, time, u), answer(drive, time, u)] for name, u in references(time).items()}
    one = np.ones(len(time))
    found["disturbance"] = [answer(disturbed, time, one), answer(disturbed_drive, time, one)]
    return found


def by_inversion(stages, plant, time, picked):
    """The same with the delay itself, at some of the times."""
    period = 2 * time[-1]
    shift = 14 / period
    s = shift + 1j * np.pi * np.arange(TERMS) / period
    own = 0
    if plant["rigid"]:
        own = plant["rigid"]["gain"] / s ** plant["rigid"]["integrators"]
    for mode in plant["modes"]:
        w = TAU * mode["frequency"]
        own = own + mode["residue"] / (s * s + 2 * mode["damping"] * w * s + w * w)
    own = own / (1 + s / (TAU * plant["lag"])) * np.exp(-s * plant["delay"])
    path = 1
    for part in stages:
        path = path * np.polyval(part["num"][::-1], s / UNIT) / np.polyval(part["den"][::-1], s / UNIT)
    closed_loop = own * path / (1 + own * path)

    def invert(f):
        f = f.copy()
        f[0] /= 2
        times = time[picked]
        waves = [np.real(np.sum(f * np.exp(1j * s.imag * t))) for t in times]
        return np.exp(shift * times) / period * np.array(waves)

    found = {}
    for (name, u), n in zip(references(time).items(), STIMULI.values(), strict=True):
        free = answer(path_of(stages), time, u)[picked]
        found[name] = [u[picked] - invert(closed_loop / s**n), free - invert(path * closed_loop / s**n)]
    disturbed = -own / (1 + own * path) / s
    found["disturbance"] = [invert(disturbed), -invert(closed_loop / s)]
    return found


def constants(stages, plant):
    """Kp, Kv, Ka; none where it is infinite."""
    whole = system(stages, plant)
    num, den = np.trim_zeros(whole.num[0][0], "f"), np.trim_zeros(whole.den[0][0], "f")
    found = []
    for n in range(3):
        top, bottom = np.concatenate([num, np.zeros(n)]), den.copy()
        while top[-1] == 0 and bottom[-1] == 0:
            top, bottom = top[:-1], bottom[:-1]
        gain = np.inf if bottom[-1] == 0 else float(np.real(control.dcgain(control.tf(top, bottom)))) * UNIT**n
        found.append(gain if np.isfinite(gain) else None)
    return found


def draw_stable(random, delayed):
    """Stages, plant and crossover of a loop that comes to rest."""
    while True:
        stages, plant, crossover = draw(random, delayed)
        at = system(stages, plant)(1j * crossover * TAU / UNIT)
        stages[0]["num"] = [float(c / abs(at)) for c in stages[0]["num"]]
        if random.uniform() < 0.3:
            # Proportional instead of proportional and integrating.
            stages[0] = {"num": stages[0]["num"][1:], "den": [1.0]}
        poles = closed(stages, plant, 8 if delayed else 0)[0].poles()
        if max(poles.real) < -0.01 * crossover / 1e3:
            return stages, plant, crossover


def info(stages, plant, span, kp):
    """Figures of the step."""
    time = np.linspace(0, span, FINE)
    error, drive = closed(stages, plant)[:2]
    one = np.ones(FINE)
    position = 1 - answer(error, time, one)
    end = 1.0 if kp is None else kp / (1 + kp)
    told = control.step_info(position, T=time, yfinal=end)
    # The drive has its peak long before the plant has moved.
    drives = [answer(drive, own, one) for own in (time, time / 1e2, time / 1e4)]
    return {
        "overshoot": told["Overshoot"] / 100,
        "peak_time": told["PeakTime"],
        "rise_time": told["RiseTime"],
        "settling_time": told["SettlingTime"] if abs(position[-1] / end - 1) < 0.015 else None,
        "drive_peak": float(max(np.concatenate(drives), key=abs)),
    }


def main():
    random = np.random.default_rng(20270114)
    loops, apart = [], 0.0
    for number in range(LOOPS + DELAYED):
        delayed = number >= LOOPS
        stages, plant, crossover = draw_stable(random, delayed)
        span = 8 / crossover
        case = {"stages": stages, "plant": plant, "omega": UNIT, "span": span}
        time = np.linspace(0, span, POINTS)
        picked = np.arange(1, 41) * (POINTS // 40)
        found = motions(stages, plant, time, 10 if delayed else 0)
        signals = {name: [signal[picked] for signal in pair] for name, pair in found.items()}
        if delayed:
            theirs, signals = signals, by_inversion(stages, plant, time, picked)
            for name, pair in signals.items():
                for signal, other, all_of in zip(pair, theirs[name], found[name], strict=True):
                    apart = max(apart, float(np.max(np.abs(signal - other)) / np.max(np.abs(all_of))))
        else:
            case["constants"] = constants(stages, plant)
            case["info"] = info(stages, plant, span, case["constants"][0])
        case["times"] = [float(t) for t in time[picked]]
        case["signals"] = {name: [[float(v) for v in s] for s in pair] for name, pair in signals.items()}
        case["peaks"] = {name: [float(np.max(np.abs(s))) for s in pair] for name, pair in found.items()}
        loops.append(case)
    assert apart < 1e-4, apart
    write(__file__, {"loops": loops, "self_check": apart}, ["control", "numpy", "scipy"])


if __name__ == "__main__":
    main()
