"""Frequency, group-delay and step responses, poles and zeros of rational functions of s.

Magnitude and phase by scipy.signal.freqs and numpy.unwrap, step by scipy.signal.step (exact for a
constant input: the exponential of the state matrix). Group delay is analytic:
-d(arg H)/dw = Re(D'/D) - Re(N'/N) at s = jw. Poles and zeros by mpmath.polyroots, rounded to double,
because numpy.roots splits a double root by 1e-8.

"self_check" in the JSON holds how far other ways come out, all at 40 digits in mpmath: group delay by
differentiating log H numerically, step by the exponential of the companion matrix, and how far
numpy.roots is from the roots given.

Prototypes from memory: notch (s^2 + w0^2)/(s^2 + s w0/Q + w0^2), and with a finite depth
(s^2 + s w0/Qz + w0^2); Butterworth of order 3 from scipy.signal.butter; first-order all-pass
(w0 - s)/(w0 + s).
"""

import math

import mpmath
import numpy as np
from scipy import signal

from reference import write

W0 = 2 * math.pi * 2350.0
FAR = 1e4


def systems():
    """Name: (numerator, denominator), each in descending powers of s, in radian per second."""

    def second(q):
        return [1.0, W0 / q if q else 0.0, W0**2]

    butterworth = signal.butter(3, W0, analog=True)
    return {
        "notch, Q 2": (second(0), second(2)),
        "notch, Q 20, 40 dB deep": (second(2000), second(20)),
        "Butterworth low-pass, order 3": tuple(side.tolist() for side in butterworth),
        "notch, Q 2, with a far pole": (second(0), np.polymul(second(2), [1 / (FAR * W0), 1.0]).tolist()),
        "all-pass, order 1": ([-1.0, W0], [1.0, W0]),
        "double real pole": ([W0**2], [1.0, 2 * W0, W0**2]),
    }


def group_delay(numerator, denominator, omega):
    """Group delay in second at `omega` in radian per second."""
    s = 1j * omega

    def slope(side):
        return np.real(np.polyval(np.polyder(side), s) / np.polyval(side, s))

    return slope(denominator) - slope(numerator)


def exact_group_delay(numerator, denominator, omega):
    """The same by numerical differentiation of log H in mpmath."""

    def log_answer(w):
        s = mpmath.mpc(0, w)
        return mpmath.log(mpmath.polyval(numerator, s) / mpmath.polyval(denominator, s))

    return -mpmath.diff(log_answer, mpmath.mpf(omega), h=mpmath.mpf(omega) * mpmath.mpf(10) ** -15).imag


def exact_step(numerator, denominator, time):
    """Step response at `time` in second, from the exponential of the companion matrix in mpmath."""
    order = len(denominator) - 1
    d = [mpmath.mpf(c) / denominator[0] for c in denominator]
    n = [mpmath.mpf(0)] * (order + 1 - len(numerator)) + [mpmath.mpf(c) / denominator[0] for c in numerator]
    # The last state is the constant input 1, and the first moves as -d1 x1 - ... - dn xn + 1.
    matrix = mpmath.zeros(order + 1)
    for k in range(order):
        matrix[0, k] = -d[k + 1]
        if k:
            matrix[k, k - 1] = 1
    matrix[0, order] = 1
    unit = [mpmath.mpf(W0) ** -(order - k) for k in range(order)] + [mpmath.mpf(1)]
    scaled = mpmath.matrix(order + 1)
    for i in range(order + 1):
        for j in range(order + 1):
            scaled[i, j] = matrix[i, j] * unit[j] / unit[i]
    state = mpmath.expm(scaled * mpmath.mpf(time))[:, order]
    return n[0] + sum((n[k + 1] - n[0] * d[k + 1]) * state[k] * unit[k] for k in range(order))


def exact_roots(polynomial):
    """Roots in radian per second, at mpmath's precision."""
    if len(polynomial) < 2:
        return []
    scaled = [mpmath.mpf(c) * mpmath.mpf(W0) ** (len(polynomial) - 1 - k) for k, c in enumerate(polynomial)]
    return [root * W0 for root in mpmath.polyroots(scaled, maxsteps=500, extraprec=400)]


def root_miss(roots, exact):
    """The largest relative distance of a root from the nearest exact one."""
    return max((float(min(abs(mpmath.mpc(r) - e) / abs(e) for e in exact)) for r in roots), default=0.0)


def pairs(roots):
    """Complex numbers as [re, im] in double precision, by real part and then imaginary part."""
    return sorted([float(mpmath.re(root)) + 0.0, float(mpmath.im(root)) + 0.0] for root in roots)


def main():
    mpmath.mp.dps = 40
    frequencies = [2350.0 * 10 ** (k / 10 - 1.95) for k in range(40)]
    omega = 2 * math.pi * np.array(frequencies)
    times = [k * 4e-5 for k in range(50)]
    found = []
    for name, (numerator, denominator) in systems().items():
        _, answer = signal.freqs(numerator, denominator, omega)
        delay = group_delay(numerator, denominator, omega)
        _, step = signal.step((numerator, denominator), T=times)
        zeros, poles = exact_roots(numerator), exact_roots(denominator)
        delay_exact = [exact_group_delay(numerator, denominator, w) for w in omega]
        step_exact = [exact_step(numerator, denominator, t) for t in times]
        self_check = {
            "group_delay_s": max(float(abs(d - e)) for d, e in zip(delay.tolist(), delay_exact)),
            "step": max(float(abs(x - e)) for x, e in zip(step.tolist(), step_exact)),
            "numpy_poles_relative": root_miss(np.roots(denominator).tolist(), poles),
            "numpy_zeros_relative": root_miss(np.roots(numerator).tolist(), zeros),
        }
        found.append(
            {
                "name": name,
                "numerator": numerator[::-1],
                "denominator": denominator[::-1],
                "magnitude": np.abs(answer).tolist(),
                "phase_rad": np.unwrap(np.angle(answer)).tolist(),
                "group_delay_s": delay.tolist(),
                "step": step.tolist(),
                "poles": pairs(poles),
                "zeros": pairs(zeros),
                "self_check": self_check,
            }
        )
    data = {"frequencies_hz": frequencies, "times_s": times, "systems": found}
    write(__file__, data, ["numpy", "scipy", "mpmath"])


if __name__ == "__main__":
    main()
