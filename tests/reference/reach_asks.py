"""Random asks for reach.py, and which figures each family judges.

The families, their default limits and which parts of a circuit are bought alike are the program's
statements of what it does, written down here again by hand; nothing is read from it.
"""

import math

TAU = 2 * math.pi
LOWEST, HIGHEST = 0.01, 10e6  # what a frequency entry takes, Hz

WIDE = {"frequency_limit": 0.05, "q_limit": 0.1, "gain_limit": 0.05}
LOOSE = {"frequency_limit": 0.1, "q_limit": 0.1, "gain_limit": 0.05}
NOTCH = {"frequency_limit": 0.05, "q_limit": 0.1, "least_depth": 18.0}

# circuit: (family, the ask that it opens with); limits are by family below.
CIRCUITS = {
    **{name: ("notch", {"frequency": 2350.0, "q": 2.0, "depth": None}) for name in [
        "mfb-notch", "subtracted-notch", "twin-t-notch", "gyrator-notch", "bainter-notch",
        "state-variable-notch", "passive-twin-t", "bridged-t"]},
    "bainter-uneven-notch": ("uneven-notch", {"null": 5000.0, "frequency": 3500.0, "q": 2.0, "gain": 2.04}),
    "state-variable-uneven-notch": ("uneven-notch", {"null": 5000.0, "frequency": 3500.0, "q": 2.0, "gain": 1.0}),
    "follower-low-pass": ("low-pass1", {"frequency": 1000.0, "gain": 1.0}),
    "non-inverting-low-pass": ("low-pass1", {"frequency": 1000.0, "gain": 2.0}),
    "inverting-low-pass": ("low-pass1", {"frequency": 1000.0, "gain": 1.0}),
    "follower-high-pass": ("high-pass1", {"frequency": 1000.0, "gain": 1.0}),
    "non-inverting-high-pass": ("high-pass1", {"frequency": 1000.0, "gain": 2.0}),
    "inverting-high-pass": ("high-pass1", {"frequency": 1000.0, "gain": 1.0}),
    "sallen-key-low-pass": ("low-pass2", {"frequency": 5000.0, "q": 0.707, "gain": 1.0}),
    "sallen-key-low-pass-gain": ("low-pass2", {"frequency": 5000.0, "q": 0.707, "gain": 2.0}),
    "mfb-low-pass": ("low-pass2", {"frequency": 5000.0, "q": 0.707, "gain": 1.0}),
    "sallen-key-high-pass": ("high-pass2", {"frequency": 1000.0, "q": 0.707, "gain": 1.0}),
    "sallen-key-high-pass-gain": ("high-pass2", {"frequency": 1000.0, "q": 0.707, "gain": 2.0}),
    "mfb-high-pass": ("high-pass2", {"frequency": 1000.0, "q": 0.707, "gain": 1.0}),
    "mfb-band-pass": ("band-pass", {"frequency": 1000.0, "q": 2.0, "gain": 1.0}),
    "sallen-key-band-pass": ("band-pass", {"frequency": 1000.0, "q": 2.0, "gain": 1.0}),
    "sallen-key-low-pass-3": ("low-pass3", {"frequency": 5000.0, "q": 1.0, "corner": 5000.0, "gain": 1.0}),
    "sallen-key-high-pass-3": ("high-pass3", {"frequency": 1000.0, "q": 1.0, "corner": 1000.0, "gain": 1.0}),
    "all-pass-1": ("all-pass1", {"frequency": 1000.0}),
    "mfb-all-pass": ("all-pass2", {"frequency": 1000.0, "q": 2.0}),
    "gain-inverting": ("gain", {"gain": 4.7, "frequency": 420.0}),
    "gain-non-inverting": ("gain", {"gain": 4.7, "frequency": 420.0}),
    "follower": ("follower", {"frequency": 420.0}),
    "sum-inverting": ("sum", {"gain": 1.0, "second": 1.0, "frequency": 420.0}),
    "difference": ("difference", {"gain": 1.0, "frequency": 420.0}),
    "integrator": ("integrator", {"unity": 420.0, "gain_db": 40.0}),
    "differentiator": ("differentiator", {"unity": 100.0, "roll_off": 5000.0}),
    "pi": ("pi", {"gain": 1.0, "zero": 40.0}),
    "pd": ("pd", {"gain": 1.0, "td": 1e-3, "roll_off": 4000.0}),
    "lead": ("lead", {"gain": 1.0, "zero": 150.0, "pole": 1200.0}),
    "lead-two-op-amps": ("lead", {"gain": 1.0, "zero": 150.0, "pole": 1200.0}),
    "lag": ("lag", {"gain": 10.0, "zero": 150.0, "pole": 15.0}),
    "lag-two-op-amps": ("lag", {"gain": 10.0, "zero": 150.0, "pole": 15.0}),
    "lead-lag": ("lead-lag", {
        "gain": 5.0, "lag_pole": 5.0, "lag_zero": 25.0, "lead_zero": 200.0, "lead_pole": 1500.0}),
    "pid-one-op-amp": ("pid", {"low": 40.0, "high": 160.0, "gain": 1.0, "at": 420.0, "roll_off": 4000.0}),
    "pid-parallel": ("pid", {"kp": 2.0, "ki": 1000.0, "kd": 2e-3, "roll_off": 4000.0}),
    "type-two": ("type-two", {"gain": 1.0, "at": 420.0, "zero": 100.0, "pole": 1600.0}),
    "type-two-tee": ("type-two", {"gain": 1.0, "at": 420.0, "zero": 100.0, "pole": 1600.0}),
    "type-three": ("type-three", {
        "gain": 1.0, "at": 420.0, "zero_low": 90.0, "zero_high": 140.0, "pole_low": 1500.0, "pole_high": 4000.0}),
}

# Parts of one value, where a circuit has such.
ALIKE = {
    "subtracted-notch": ["R4 R5 R6"],
    "twin-t-notch": ["C1 C2 C3 C4", "R1 R2 R3 R4"],
    "gyrator-notch": ["R1 R2 R3 R4"],
    "bainter-notch": ["R1 R2", "R3 R4", "R5 R6"],
    "state-variable-notch": ["R1 R2 R3 R8 R9 R10", "R6 R7"],
    "passive-twin-t": ["C1 C2 C3 C4", "R1 R2 R3 R4"],
    "bridged-t": ["R1 R2"],
    "bainter-uneven-notch": ["R1 R2", "R5 R6"],
    "state-variable-uneven-notch": ["R1 R2 R3 R10", "R6 R7"],
    "mfb-high-pass": ["C1 C3"],
    "sallen-key-band-pass": ["C1 C2", "R3 R4"],
    "all-pass-1": ["R1 R2"],
    "difference": ["R1 R3", "R2 R4"],
    "pid-parallel": ["R1 R6 R7 R8 R9"],
}

# What a stage works between, ohm.
GIVEN = {"RS": 100.0, "RL": 100e3}

# Circuits whose gain is 1 whatever their parts.
UNITY = {"follower-low-pass", "follower-high-pass", "sallen-key-low-pass", "sallen-key-high-pass",
         "sallen-key-low-pass-3", "sallen-key-high-pass-3"}

HERTZ = {"frequency", "null", "corner", "unity", "roll_off", "zero", "pole", "at", "low", "high", "lag_pole",
         "lag_zero", "lead_zero", "lead_pole", "zero_low", "zero_high", "pole_low", "pole_high"}


def draw(circuit, rng):
    """A random ask of a circuit: a dictionary of its entries without the limits, in Hz, s, dB and ratios.

    Three in five lie between 0.3 Hz and 1 MHz, the others anywhere in nine decades.
    """
    family, opens = CIRCUITS[circuit]
    while True:
        ends = (0.3, 1e6) if rng.random() < 0.6 else (LOWEST, HIGHEST)
        ask = once(circuit, opens, log_uniform(rng, *ends), rng)
        ask = {name: value if value is None else float(f"{value:.4g}") for name, value in ask.items()}
        if fits(family, ask):
            return ask


def log_uniform(rng, low, high):
    return low * (high / low) ** rng.random()


def once(circuit, opens, at, rng):
    """A draw that may not fit; `at` is where the first frequency is to lie (Hz)."""
    first = next((name for name in opens if name in HERTZ))
    factor = at / opens[first]
    ask = {}
    for name, value in opens.items():
        apart = 1.0 if name == first else log_uniform(rng, 0.5, 2.0)
        if name in HERTZ:
            ask[name] = value * factor * apart
        elif name == "td":
            ask[name] = value / factor * apart
        elif name == "q":
            ask[name] = log_uniform(rng, 0.35, 15.0)
        elif name == "gain_db":
            ask[name] = rng.uniform(15.0, 80.0)
        elif name == "depth":
            shallow = rng.random() < (0.6 if circuit == "bridged-t" else 0.3)
            ask[name] = rng.uniform(19.0, 45.0) if shallow else None
        elif name in {"gain", "second"}:
            as_it_opens = rng.random() < (0.85 if circuit in UNITY else 0.25)
            ask[name] = value if as_it_opens else log_uniform(rng, 0.1, 30.0)
        else:
            ask[name] = value * apart
    if "kp" in ask:
        times = log_uniform(rng, 0.1, 20.0)
        ask["kp"] *= times
        ask["ki"] *= times * factor
        ask["kd"] *= times / factor
    if circuit == "bainter-uneven-notch" and rng.random() < 0.85:
        ask["gain"] = (ask["null"] / ask["frequency"]) ** 2
    return ask


def fits(family, ask):
    """Whether the page takes this ask: entries within their ranges that do not contradict each other."""
    if any(name in HERTZ and not LOWEST <= value <= HIGHEST for name, value in ask.items()):
        return False
    rising = {
        "lead": ["zero", "pole"],
        "lag": ["pole", "zero"],
        "lead-lag": ["lag_pole", "lag_zero", "lead_zero", "lead_pole"],
        "type-two": ["zero", "pole"],
        "type-three": ["zero_high", "pole_low"],
    }.get(family, [])
    if any(ask[high] < 1.06 * ask[low] for low, high in zip(rising, rising[1:])):
        return False
    if family == "type-three" and (ask["zero_high"] < ask["zero_low"] or ask["pole_high"] < ask["pole_low"]):
        return False
    if family in {"low-pass3", "high-pass3"} and ask["q"] < 0.501:
        return False
    if family == "pd" and not 1e-8 <= ask["td"] <= 100.0:
        return False
    if family == "uneven-notch":
        return abs(ask["null"] / ask["frequency"] - 1) > 0.011 and 0.001 <= ask["gain"] <= 1e4
    if family == "pid":
        if "low" in ask and ask["high"] < ask["low"]:
            return False
        kp, ki, kd = pid_gains(ask)
        ranges = 1e-9 <= kd <= 1000.0 and 1e-6 <= ki <= 1e9
        return kp > 0 and ki > 0 and kd > 0 and ranges
    return True


def pid_gains(ask):
    """Kp, Ki (1/s) and Kd (s) of Kp + Ki/s + Kd s/(1 + s tau)."""
    if "kp" in ask:
        return ask["kp"], ask["ki"], ask["kd"]
    # ki (1 + s/a)(1 + s/b) = (kp s + ki)(1 + tau s) + kd s^2
    a, b, tau = TAU * ask["low"], TAU * ask["high"], 1 / (TAU * ask["roll_off"])
    s = 2j * math.pi * ask["at"]
    ki = ask["gain"] * abs(s * (1 + s * tau) / ((1 + s / a) * (1 + s / b)))
    kp = ki * (1 / a + 1 / b - tau)
    return kp, ki, ki / (a * b) - kp * tau


def wanted(circuit, ask):
    """What is judged: a list of tuples that begin with the kind of the figure.

    ("gain", at, of, limit): |H| at a frequency in Hz, as a ratio.
    ("pair", side, frequency, q, limit, q limit): two poles or zeros, a negative q in the right half plane.
    ("corner", side, frequency, limit): one, real, negative in the right half plane.
    ("null", frequency, limit, attenuation): zeros near the axis, and |H| at the asked frequency.
    ("notch", frequency, q, depth, ...), ("sum", ...) and ("difference", ...): whole families.
    """
    family, _ = CIRCUITS[circuit]
    limits = WIDE if family in {
        "uneven-notch", "low-pass1", "high-pass1", "low-pass2", "high-pass2", "band-pass", "low-pass3", "high-pass3",
        "all-pass1", "all-pass2"} else LOOSE
    near, q_near, gain_near = limits["frequency_limit"], limits["q_limit"], limits["gain_limit"]
    if circuit == "mfb-all-pass":
        gain_near = 0.1
    f, q, gain = (ask.get(name) for name in ["frequency", "q", "gain"])

    def pair(side, frequency, q):
        return ("pair", side, frequency, q, near, q_near)

    def two(side, low, high):
        return pair(side, math.sqrt(low * high), math.sqrt(low * high) / (low + high))

    def corner(side, frequency):
        return ("corner", side, frequency, near)

    def level(at, of):
        return ("gain", at, of, gain_near)

    def first(x):
        return abs(1 + 1j * x)

    def second(x, q):
        return abs(1 - x * x + 1j * x / q)

    if family == "notch":
        return [("notch", f, q, ask["depth"], NOTCH["frequency_limit"], NOTCH["q_limit"], NOTCH["least_depth"])]
    if family == "uneven-notch":
        return [level(0, gain), ("null", ask["null"], near, 18.0), pair("pole", f, q)]
    if family == "low-pass1":
        return [level(0, gain), corner("pole", f)]
    if family == "high-pass1":
        return [level(20 * f, gain / first(1 / 20)), corner("pole", f)]
    if family == "low-pass2":
        return [level(0, gain), pair("pole", f, q)]
    if family == "high-pass2":
        return [level(10 * f, gain / second(0.1, q)), pair("pole", f, q)]
    if family == "band-pass":
        return [level(f, gain), pair("pole", f, q)]
    if family == "low-pass3":
        return [level(0, gain), pair("pole", f, q), corner("pole", ask["corner"])]
    if family == "high-pass3":
        of = gain / (second(0.1, q) * first(ask["corner"] / (10 * f)))
        return [level(10 * f, of), pair("pole", f, q), corner("pole", ask["corner"])]
    if family == "all-pass1":
        return [level(f, 1), corner("pole", f), corner("zero", -f)]
    if family == "all-pass2":
        return [level(f, 1), pair("pole", f, q), pair("zero", f, -q)]
    if family == "gain":
        return [level(f, gain)]
    if family == "follower":
        return [level(f, 1)]
    if family == "sum":
        return [("sum", f, gain, ask["second"], gain_near)]
    if family == "difference":
        return [("difference", f, gain, gain_near, 34.0)]
    if family == "integrator":
        dc = 10 ** (ask["gain_db"] / 20)
        return [level(ask["unity"], 1), corner("pole", ask["unity"] / math.sqrt(dc * dc - 1))]
    if family == "differentiator":
        of = 1 / first(ask["unity"] / ask["roll_off"])
        return [level(ask["unity"], of), corner("pole", ask["roll_off"])]
    if family == "pi":
        return [level(10 * ask["zero"], gain * first(0.1)), corner("zero", ask["zero"])]
    if family == "pd":
        zero = 1 / (TAU * ask["td"] + 1 / ask["roll_off"])
        return [level(0, gain), corner("zero", zero), corner("pole", ask["roll_off"])]
    if family in {"lead", "lag"}:
        return [level(0, gain), corner("zero", ask["zero"]), corner("pole", ask["pole"])]
    if family == "lead-lag":
        poles = two("pole", ask["lag_pole"], ask["lead_pole"])
        return [level(0, gain), poles, two("zero", ask["lag_zero"], ask["lead_zero"])]
    if family == "type-two":
        return [level(ask["at"], gain), corner("zero", ask["zero"]), corner("pole", ask["pole"])]
    if family == "type-three":
        poles = two("pole", ask["pole_low"], ask["pole_high"])
        return [level(ask["at"], gain), two("zero", ask["zero_low"], ask["zero_high"]), poles]
    if family == "pid":
        kp, ki, kd = pid_gains(ask)
        tau = 1 / (TAU * ask["roll_off"])
        # The zeros: (kd + kp tau) s^2 + (kp + ki tau) s + ki.
        top, middle = kd + kp * tau, kp + ki * tau
        frequency = math.sqrt(ki / top) / TAU
        at = ask.get("at", frequency)
        s = 2j * math.pi * at
        of = abs(kp + ki / s + kd * s / (1 + s * tau))
        zeros = pair("zero", frequency, math.sqrt(ki * top) / middle)
        return [level(at, of), zeros, corner("pole", ask["roll_off"])]
    raise ValueError(family)


def centre(figures):
    """The geometric mean of the frequencies of all poles and zeros that are judged, Hz."""
    places = {"pair": 2, "corner": 2, "null": 1, "notch": 1, "sum": 1, "difference": 1}
    found = [abs(figure[places[figure[0]]]) for figure in figures if figure[0] in places]
    found = found or [figures[0][1]]
    return math.exp(sum(map(math.log, found)) / len(found))
