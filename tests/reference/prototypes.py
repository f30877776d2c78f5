"""Prototypes of five approximations, the same moved to a band, and least orders of random requirements.

Prototypes by scipy.signal buttap, cheb1ap, cheb2ap, ellipap and besselap(norm="mag"), bands by
lp2lp_zpk, lp2hp_zpk, lp2bp_zpk and lp2bs_zpk, orders by buttord, cheb1ord, cheb2ord and ellipord
(analog=True). SciPy has no order for Bessel: the first one whose curve, from freqs_zpk, falls from the
allowed to the wanted attenuation between the edges, both found by brentq.

Requirements whose order comes within a thousandth of a whole number are left out, because rounding would
decide them. A null order stands for one above 10, or above 5 of a band-pass or a band-stop.

"self_check" holds how far other ways come out: poles, zeros and gains in mpmath at 40 digits (Chebyshev
and elliptic from Jacobi's functions and the degree equation solved for its nome, Bessel by polyroots of
the reverse Bessel polynomial and findroot); the same in their bands, where SciPy takes the difference of
nearly equal numbers if the band is wide or a pole far out; orders by the closed forms in mpmath, counted where they
differ; the edges of band-stops. scipy.signal moves one pass edge of a band-stop by a bounded search that
stops at about 1e-6, so its edges need not come out the same on another machine: the file holds the edge
that makes the band geometrically symmetric, to which the search tends.
"""

import math
import random

import mpmath
import numpy as np
from scipy import optimize, signal

from reference import write

FAMILIES = ["butterworth", "chebyshev", "inverse-chebyshev", "elliptic", "bessel"]
RIPPLES = [0.01, 0.1, 0.5, 1.0, 3.0]
STOPS = [20.0, 40.0, 60.0, 100.0]
MOST = {"low-pass": 10, "high-pass": 10, "band-pass": 5, "band-stop": 5}
REQUIREMENTS = 64


def approximations():
    """Every kind with its levels, as the program writes them."""
    found = [{"kind": "butterworth"}, {"kind": "bessel"}]
    found += [{"kind": "chebyshev", "ripple_db": r} for r in RIPPLES]
    found += [{"kind": "inverse-chebyshev", "stop_db": s} for s in STOPS]
    found += [{"kind": "elliptic", "ripple_db": r, "stop_db": s} for r in RIPPLES[::2] for s in STOPS]
    return found


def prototype(a, order):
    """Zeros, poles and gain from scipy.signal."""
    if a["kind"] == "butterworth":
        return signal.buttap(order)
    if a["kind"] == "chebyshev":
        return signal.cheb1ap(order, a["ripple_db"])
    if a["kind"] == "inverse-chebyshev":
        return signal.cheb2ap(order, a["stop_db"])
    if a["kind"] == "elliptic":
        # Of order 1 SciPy gives the pole as a bare number.
        zeros, poles, gain = signal.ellipap(order, a["ripple_db"], a["stop_db"])
        return zeros, np.atleast_1d(poles), gain
    return signal.besselap(order, norm="mag")


def excess(db):
    """10^(db/10) - 1 in mpmath."""
    return mpmath.expm1(mpmath.mpf(db) * mpmath.log(10) / 10)


def exact_prototype(a, order):
    """Zeros, poles and gain in mpmath."""
    j = mpmath.mpc(0, 1)
    steps = range(-order + 1, order, 2)
    angles = [mpmath.pi * m / (2 * order) for m in steps]
    zeros, dc = [], mpmath.mpf(1)
    if a["kind"] == "butterworth":
        poles = [-mpmath.exp(j * t) for t in angles]
    elif a["kind"] == "chebyshev":
        pass_excess = excess(a["ripple_db"])
        mu = mpmath.asinh(1 / mpmath.sqrt(pass_excess)) / order
        poles = [-mpmath.sinh(mu + j * t) for t in angles]
        dc = 1 if order % 2 else 1 / mpmath.sqrt(1 + pass_excess)
    elif a["kind"] == "inverse-chebyshev":
        mu = mpmath.asinh(mpmath.sqrt(excess(a["stop_db"]))) / order
        poles = [-1 / mpmath.sinh(mu + j * t) for t in angles]
        zeros = [j / mpmath.sin(t) for m, t in zip(steps, angles) if m]
    elif a["kind"] == "elliptic":
        zeros, poles = exact_elliptic(order, excess(a["ripple_db"]), excess(a["stop_db"]))
        dc = 1 if order % 2 else 1 / mpmath.sqrt(1 + excess(a["ripple_db"]))
    else:
        poles = exact_bessel(order)
    gain = dc * mpmath.fprod(-p for p in poles) / mpmath.fprod(-z for z in zeros)
    return zeros, poles, mpmath.re(gain)


def exact_elliptic(order, pass_excess, stop_excess):
    """Zeros and poles as roots of the characteristic function cd(n K1 u; k1) = j/eps, w = cd(K u; k)."""
    m1 = pass_excess / stop_excess
    m = mpmath.mfrom(q=mpmath.qfrom(m=m1) ** (mpmath.mpf(1) / order))
    quarter, quarter1 = mpmath.ellipk(m), mpmath.ellipk(m1)
    # sn(j v0 K1 n) = j/eps: v0 = F(atan(1/eps), 1 - m1)/(n K1), because sn(jv; m) = j sc(v; 1 - m).
    v0 = mpmath.ellipf(mpmath.atan(1 / mpmath.sqrt(pass_excess)), 1 - m1) / (order * quarter1)
    zeros, poles = [], []
    for i in range(-order + 1, order, 2):
        u = mpmath.mpf(i) / order
        if i:
            zeros.append(mpmath.mpc(0, 1) / (mpmath.sqrt(m) * mpmath.ellipfun("sn", u * quarter, m=m)))
        poles.append(mpmath.mpc(0, 1) * mpmath.ellipfun("sn", (u + mpmath.mpc(0, 1) * v0) * quarter, m=m))
    return zeros, poles


def exact_bessel(order):
    """Poles for 3.01 dB at 1 rad/s."""
    factorial = mpmath.factorial
    ascending = [
        factorial(2 * order - k) / (mpmath.mpf(2) ** (order - k) * factorial(k) * factorial(order - k))
        for k in range(order + 1)
    ]
    poles = mpmath.polyroots(ascending[::-1], maxsteps=500, extraprec=400)

    def short_of_half(w):
        h = mpmath.polyval(ascending[::-1], mpmath.mpc(0, w)) / ascending[0]
        return mpmath.log(abs(h) ** 2) - mpmath.log(2)

    edge = mpmath.findroot(short_of_half, mpmath.sqrt((2 * order - 1) * mpmath.log(2)))
    return [p / edge for p in poles]


def miss(found, exact):
    """The largest relative distance of a root from the nearest exact one."""
    return max((float(min(abs(mpmath.mpc(r) - e) / abs(e) for e in exact)) for r in found), default=0.0)


def pairs(roots):
    """Complex numbers as [re, im], by real part and then imaginary part."""
    return sorted([float(np.real(root)) + 0.0, float(np.imag(root)) + 0.0] for root in roots)


def prototypes(self_check):
    """All approximations of all orders."""
    found = []
    for a in approximations():
        for order in range(1, 11):
            zeros, poles, gain = prototype(a, order)
            exact_zeros, exact_poles, exact_gain = exact_prototype(a, order)
            for name, value in [
                ("poles_relative", miss(poles, exact_poles)),
                ("zeros_relative", miss(zeros, exact_zeros)),
                ("gain_relative", float(abs(gain / exact_gain - 1))),
            ]:
                key = f"{a['kind']}, {name}"
                self_check[key] = max(self_check.get(key, 0.0), value)
            found.append(described(a, order, zeros, poles, gain))
    return found


def described(a, order, zeros, poles, gain):
    return {
        "approximation": a,
        "order": order,
        "zeros": pairs(zeros),
        "poles": pairs(poles),
        "gain": float(gain),
    }


def exact_moved(a, order, band):
    """Zeros and poles in rad/s, from the exact prototype by the substitutions of s themselves."""
    zeros, poles, _ = exact_prototype(a, order)
    low, high = [2 * mpmath.pi * mpmath.mpf(band.get(key, band.get("edge"))) for key in ["low", "high"]]
    surplus = len(poles) - len(zeros)

    def each(p):
        if band["kind"] == "low-pass":
            return [p * high]
        if band["kind"] == "high-pass":
            return [high / p]
        # (s^2 + low high)/(s (high - low)) = p, or its inverse.
        middle = (high - low) / 2 * (p if band["kind"] == "band-pass" else 1 / p)
        half_gap = mpmath.sqrt(middle**2 - low * high)
        return [middle + half_gap, middle - half_gap]

    centre = mpmath.mpc(0, mpmath.sqrt(low * high))
    at_infinity = {"high-pass": [0], "band-pass": [0], "band-stop": [centre, -centre]}.get(band["kind"], [])
    return [r for z in zeros for r in each(z)] + at_infinity * surplus, [r for p in poles for r in each(p)]


def moved(self_check):
    """One of each kind, moved to each band; narrow and wide ones, so that real poles split both ways."""
    bands = [
        {"kind": "low-pass", "edge": 3400.0},
        {"kind": "high-pass", "edge": 27.5},
        {"kind": "band-pass", "low": 950.0, "high": 1080.0},
        {"kind": "band-pass", "low": 20.0, "high": 20e3},
        {"kind": "band-stop", "low": 49.0, "high": 51.5},
        {"kind": "band-stop", "low": 300.0, "high": 3400.0},
    ]
    kinds = [
        {"kind": "butterworth"},
        {"kind": "chebyshev", "ripple_db": 0.5},
        {"kind": "inverse-chebyshev", "stop_db": 50.0},
        {"kind": "elliptic", "ripple_db": 0.5, "stop_db": 50.0},
        {"kind": "bessel"},
    ]
    found = []
    for a in kinds:
        for band in bands:
            most = MOST[band["kind"]]
            for order in [1, 2, 3, 4, 5] if most == 5 else [1, 4, 7, 10]:
                zeros, poles, gain = prototype(a, order)
                low, high = [2 * math.pi * band.get(key, 0.0) for key in ["low", "high"]]
                edge = 2 * math.pi * band.get("edge", 0.0)
                centre, width = math.sqrt(low * high), high - low
                if band["kind"] == "low-pass":
                    roots = signal.lp2lp_zpk(zeros, poles, gain, edge)
                elif band["kind"] == "high-pass":
                    roots = signal.lp2hp_zpk(zeros, poles, gain, edge)
                elif band["kind"] == "band-pass":
                    roots = signal.lp2bp_zpk(zeros, poles, gain, centre, width)
                else:
                    roots = signal.lp2bs_zpk(zeros, poles, gain, centre, width)
                exact = exact_moved(a, order, band)
                off = max(miss(side[side != 0], [e for e in other if e]) for side, other in zip(roots, exact))
                key = f"{band['kind']}, relative"
                self_check[key] = max(self_check.get(key, 0.0), off)
                found.append({"band": band, **described(a, order, *roots)})
    return found


def symmetric(pass_edges, stop_edges):
    """A band-stop's pass edges, one of them moved inwards until both centres agree."""
    (p0, p1), (s0, s1) = pass_edges, stop_edges
    return [max(p0, s0 * s1 / p1), min(p1, s0 * s1 / p0)]


def selectivity(kind, pass_edges, stop_edges):
    """The nearest stop edge on the prototype's axis, where the pass edge is 1."""
    if kind == "low-pass":
        return stop_edges[0] / pass_edges[0]
    if kind == "high-pass":
        return pass_edges[0] / stop_edges[0]
    if kind == "band-stop":
        p0, p1 = symmetric(pass_edges, stop_edges)
        return min(s * (p1 - p0) / abs(s * s - p0 * p1) for s in stop_edges)
    p0, p1 = pass_edges
    return min(abs(s * s - p0 * p1) / (s * (p1 - p0)) for s in stop_edges)


def exact_orders(nat, ripple_db, stop_db):
    """Orders before rounding up, by the closed forms in mpmath."""
    nat = mpmath.mpf(nat)
    ratio = excess(stop_db) / excess(ripple_db)
    chebyshev = mpmath.acosh(mpmath.sqrt(ratio)) / mpmath.acosh(nat)
    m, m1 = 1 / nat**2, 1 / ratio
    elliptic = mpmath.ellipk(m) * mpmath.ellipk(1 - m1) / (mpmath.ellipk(1 - m) * mpmath.ellipk(m1))
    return {
        "butterworth": float(mpmath.log(ratio) / (2 * mpmath.log(nat))),
        "chebyshev": float(chebyshev),
        "inverse-chebyshev": float(chebyshev),
        "elliptic": float(elliptic),
    }


def bessel_frequency(order, db):
    """Where the prototype attenuates by so much, rad/s."""
    zeros, poles, gain = signal.besselap(order, norm="mag")

    def beyond(log_w):
        _, h = signal.freqs_zpk(zeros, poles, gain, [math.exp(log_w)])
        return -20 * math.log10(abs(h[0])) - db

    return math.exp(optimize.brentq(beyond, -12.0, 12.0, xtol=1e-15, rtol=1e-15))


def bessel_order(most, nat, ripple_db, stop_db):
    """The order, the frequency of `ripple_db`, and how near the decision was."""
    near = math.inf
    for order in range(1, most + 1):
        allowed, wanted = bessel_frequency(order, ripple_db), bessel_frequency(order, stop_db)
        near = min(near, abs(wanted / allowed / nat - 1))
        if wanted / allowed <= nat:
            return order, allowed, near
    return None, None, near


def scaled(kind, edges, factor):
    """Band edges for a prototype edge at `factor` instead of 1."""
    if kind == "low-pass":
        return [edges[0] * factor]
    if kind == "high-pass":
        return [edges[0] / factor]
    half = (edges[1] - edges[0]) / 2 * (factor if kind == "band-pass" else 1 / factor)
    centre = math.sqrt(edges[0] * edges[1])
    return [math.hypot(half, centre) - half, math.hypot(half, centre) + half]


def as_band(kind, edges):
    names = ["edge"] if len(edges) == 1 else ["low", "high"]
    return {"kind": kind, **dict(zip(names, edges))}


def random_edges(kind, rng):
    """Pass and stop edges, Hz."""
    f = 10 ** rng.uniform(1, 6)
    gaps = [1.03 * 10 ** rng.uniform(0, 1.2) for _ in range(2)]
    if kind == "low-pass":
        return [f], [f * gaps[0]]
    if kind == "high-pass":
        return [f], [f / gaps[0]]
    width = 1.05 * 10 ** rng.uniform(0, 0.6)
    inner, outer = [f, f * width], [f / gaps[0], f * width * gaps[1]]
    return (inner, outer) if kind == "band-pass" else (outer, inner)


def requirements(self_check):
    """Random requirements with the order of every family and the edges to design at."""
    search = {
        "butterworth": signal.buttord,
        "chebyshev": signal.cheb1ord,
        "inverse-chebyshev": signal.cheb2ord,
        "elliptic": signal.ellipord,
    }
    rng = random.Random(20)
    self_check["orders that differ"] = 0
    self_check["band-stop edges, relative"] = 0.0
    found = []
    for kind, most in MOST.items():
        count = 0
        while count < REQUIREMENTS:
            pass_edges, stop_edges = random_edges(kind, rng)
            ripple_db, stop_db = 10 ** rng.uniform(-1.5, 0.5), rng.uniform(12, 70)
            nat = selectivity(kind, pass_edges, stop_edges)
            least = exact_orders(nat, ripple_db, stop_db)
            thomson, allowed, near = bessel_order(most, nat, ripple_db, stop_db)
            if near < 1e-4 or any(abs(n - round(n)) < 1e-3 for n in least.values()):
                continue
            count += 1
            answers = {}
            for family, function in search.items():
                order, edges = function(pass_edges, stop_edges, ripple_db, stop_db, analog=True)
                edges = np.atleast_1d(edges).tolist()
                self_check["orders that differ"] += int(order != math.ceil(least[family]))
                if kind == "band-stop":
                    factor = 1.0
                    if family == "butterworth":
                        factor = float(excess(ripple_db)) ** (-0.5 / order)
                    if family == "inverse-chebyshev":
                        steps = math.sqrt(float(excess(stop_db) / excess(ripple_db)))
                        factor = math.cosh(math.acosh(steps) / order)
                    other = scaled(kind, symmetric(pass_edges, stop_edges), factor)
                    off = max(abs(a / b - 1) for a, b in zip(edges, other))
                    self_check["band-stop edges, relative"] = max(
                        off, self_check["band-stop edges, relative"]
                    )
                    edges = other
                answers[family] = {"order": order if order <= most else None, "edges_hz": edges}
            centred = symmetric(pass_edges, stop_edges) if kind == "band-stop" else pass_edges
            edges = scaled(kind, centred, 1 / allowed) if thomson else []
            answers["bessel"] = {"order": thomson, "edges_hz": edges}
            requirement = {
                "pass": as_band(kind, pass_edges),
                "stop": as_band(kind, stop_edges),
                "ripple_db": ripple_db,
                "stop_db": stop_db,
            }
            found.append({"requirement": requirement, "answers": answers})
    return found


def main():
    mpmath.mp.dps = 40
    self_check = {}
    data = {
        "prototypes": prototypes(self_check),
        "moved": moved(self_check),
        "requirements": requirements(self_check),
        "self_check": self_check,
    }
    write(__file__, data, ["numpy", "scipy", "mpmath"])


if __name__ == "__main__":
    main()
