"""PID controllers with a roll-off, written in three notations, by python-control.

For random sets in each notation: the transfer function built of that notation's own terms, its response,
and the other notations found from the polynomials alone: Kp, Ki and Kd as the partial fractions of the
whole, and zeros as its zeros. The script asserts that each notation found so, built anew, responds alike.

Gains:  Kp + Ki/s + Kd·s/(1 + s/w)
Times:  Kp·(1 + 1/(Ti·s) + Td·s/(1 + s/w)), the standard form of ISA: Åström and Hägglund, "PID Controllers: Theory,
        Design, and Tuning", ch. 3 (from memory); here the roll-off is set on its own and not as N/Td.
Zeros:  K·(1 + s/a)·(1 + s/b)/(s·(1 + s/w)) with K such that the magnitude at a frequency is as given.

Frequencies in the JSON are in Hz.
"""

import control
import numpy as np

from reference import write

TAU = 2 * np.pi
SETS = 20
STEPS = np.array([0.01, 0.1, 0.5, 1.0, 2.0, 10.0, 100.0])


def of_gains(kp, ki, kd, w):
    """Sum of the three actions."""
    return control.tf([kp], [1]) + control.tf([ki], [1, 0]) + control.tf([kd, 0], [1 / w, 1])


def of_times(kp, ti, td, w):
    """The standard form."""
    inner = control.tf([1], [1]) + control.tf([1], [ti, 0]) + control.tf([td, 0], [1 / w, 1])
    return kp * inner


def of_zeros(low, high, gain, at, w):
    """Two real zeros and the magnitude at a frequency, all in Hz but for w."""
    plain = control.tf([1 / (TAU * low), 1], [1]) * control.tf([1 / (TAU * high), 1], [1]) * control.tf([1], [1 / w, 1, 0])
    return plain * (gain / abs(plain(1j * TAU * at)))


def actions(system, w):
    """Kp, Ki and Kd of a system with poles at 0 and -w, by the residues there.

    system = c + Ki/s + r/(s + w) with c what is left at infinity, and Kd·s/(1 + s/w) is Kd·w - Kd·w²/(s + w).
    """
    num, den = (np.asarray(side[0][0]) for side in (system.num, system.den))
    top = np.polyval(num, [0.0, -w]) / np.polyval(np.polyder(den), [0.0, -w])
    rest = num[0] / den[0]
    kd = -top[1] / w**2
    return rest - kd * w, top[0], kd


def zeros(system):
    """Frequency (Hz) and Q of the zeros, and the two corners (Hz) where they are real."""
    found = np.roots(np.asarray(system.num[0][0]))
    size = np.sqrt(np.prod(found).real)
    q = size / -np.sum(found).real
    corners = sorted((-found.real / TAU).tolist()) if np.isrealobj(found) else None
    return size / TAU, q, corners


def told(notation, values, w, system, at):
    """One case: its notation, its response round `at`, and the other notations."""
    kp, ki, kd = actions(system, w)
    frequency, q, corners = zeros(system)
    frequencies = at * STEPS
    response = system(1j * TAU * frequencies)
    again = [of_gains(kp, ki, kd, w), of_times(kp, kp / ki, kd / kp, w)]
    case = {
        "values": {"notation": notation, **values},
        "roll_off": w / TAU,
        "gains": [kp, ki, kd],
        "times": [kp, kp / ki, kd / kp],
        "zero_frequency": frequency,
        "zero_q": q,
        "zeros": None,
        "frequencies": frequencies.tolist(),
        "response": [[z.real, z.imag] for z in response.tolist()],
    }
    if corners:
        place = values.get("at", frequency)
        gain = abs(system(1j * TAU * place))
        case["zeros"] = [*corners, gain, place]
        again.append(of_zeros(*corners, gain, place, w))
    for other in again:
        assert np.allclose(other(1j * TAU * frequencies), response, rtol=1e-10, atol=0), case
    return case


def main():
    rng = np.random.default_rng(20)

    def log(low, high):
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    cases = []
    for _ in range(SETS):
        kp, at = log(0.01, 100), log(1, 1e5)
        ki, kd = kp * TAU * at * log(0.1, 10), kp / (TAU * at) * log(0.1, 10)
        w = TAU * at * log(3, 100)
        values = {"kp": kp, "ki": ki, "kd": kd}
        cases.append(told("gains", values, w, of_gains(kp, ki, kd, w), at))
    for _ in range(SETS):
        kp, at = log(0.01, 100), log(1, 1e5)
        ti, td = log(0.1, 10) / (TAU * at), log(0.1, 10) / (TAU * at)
        w = TAU * at * log(3, 100)
        values = {"kp": kp, "ti": ti, "td": td}
        cases.append(told("times", values, w, of_times(kp, ti, td, w), at))
    for _ in range(SETS):
        low = log(1, 1e4)
        high = low * log(1.05, 30)
        gain, at = log(0.01, 100), low * log(0.3, 100)
        w = TAU * high * log(1.5, 50)
        values = {"low": low, "high": high, "gain": gain, "at": at}
        cases.append(told("zeros", values, w, of_zeros(low, high, gain, at, w), at))
    write(__file__, {"cases": cases}, ["control", "numpy", "scipy"])


if __name__ == "__main__":
    main()
