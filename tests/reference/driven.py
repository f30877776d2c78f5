"""Peaks at every op amp of every circuit of the catalogue, and of paths as one network each, with a signal in time.

stage_netlists.json is the catalogue's own list of parts between nodes; nothing else of the program is used, and no equations of
nodal.py, noise.py and demands.py. A network becomes a state space: the states are the charges of its capacitors, as far as they
are independent (combinations of node voltages in the range of the capacitance matrix, so that loops of capacitors and of
capacitors with a source are no case of their own), and each op amp's integrator, d w/dt = 2 pi GBW (plus - minus - w/A0) with w
behind the output resistance. Node voltages in the null space of the capacitance matrix follow from the resistors alone.

Method: SciPy's solve_ivp by Radau's implicit Runge-Kutta method of order five (E. Hairer, G. Wanner, "Solving Ordinary
Differential Equations II"), because the op amps' own poles are thousands of times faster than the signal; the matrix is its
Jacobian. The signal is the function itself, not samples: a chirp in a window of sin^2. Slews are the equations' right-hand side,
not differences. Peaks are those of a grid of GRID points. `self_check` is how far
backward differences (BDF) come out, relative to each peak.

Values are random in a decade round 10 kOhm and 3.3 nF; the op amp is that of noise.py. All poles lie on the left; with one
on the right the script ends.
"""

import json
import math

import numpy as np
from noise import drawn
from reference import HERE, write
from scipy.integrate import solve_ivp
from scipy.linalg import null_space, orth

SEED = 20261130
AMPLITUDE = 1.5
TIME = 4e-3
CHIRP = (200.0, 6000.0)
GRID = 16001
GAIN = 1e6
GAIN_BANDWIDTH = 1e7
OUTPUT_RESISTANCE = 100.0
LOAD = 2e3
# Every stage of them has an op amp at its output, as stages of a path that load each other should.
PATHS = [
    ["gain-inverting", "mfb-notch", "sallen-key-low-pass"],
    ["state-variable-notch", "inverting-low-pass", "lead-two-op-amps"],
    ["mfb-band-pass", "sallen-key-high-pass", "mfb-low-pass"],
    ["bainter-notch", "difference"],
    ["pid-parallel", "mfb-all-pass"],
]


def signal(t):
    """The voltage at the input, and its derivative."""
    rate = (CHIRP[1] - CHIRP[0]) / TIME
    turn = 2 * math.pi * (CHIRP[0] * t + rate * t**2 / 2)
    window, speed = np.sin(math.pi * t / TIME) ** 2, math.pi / TIME * np.sin(2 * math.pi * t / TIME)
    quick = 2 * math.pi * (CHIRP[0] + rate * t)
    voltage = AMPLITUDE * window * np.sin(turn)
    return voltage, AMPLITUDE * (speed * np.sin(turn) + window * quick * np.cos(turn))


class Network:
    """x' = a x + b u, and each node's voltage = nodes x + direct u."""

    def __init__(self, parts, source, grounded=()):
        names = dict.fromkeys(node for part in parts for node in part["nodes"])
        self.known = {"0", source, *grounded}
        free = [node for node in names if node not in self.known]
        self.at = {node: k for k, node in enumerate(free)}
        self.source = source
        self.op_amps = [part for part in parts if part["kind"] == "opamp"]
        size, count = len(free), len(self.op_amps)
        # A current out of each free node: conductance v + capacitance v' + (from_source u, charge_of_source u') - fed w.
        conductance, capacitance = np.zeros((size, size)), np.zeros((size, size))
        from_source, charge_of_source = np.zeros(size), np.zeros(size)
        fed = np.zeros((size, count))
        for part in parts:
            if part["kind"] == "R":
                self.between(conductance, from_source, part["nodes"], 1 / part["value"])
            elif part["kind"] == "C":
                self.between(capacitance, charge_of_source, part["nodes"], part["value"])
        for k, part in enumerate(self.op_amps):
            out = self.at[part["nodes"][2]]
            conductance[out, out] += 1 / OUTPUT_RESISTANCE
            fed[out, k] = 1 / OUTPUT_RESISTANCE
        # In nanofarads and nanosiemens: ranks are decided among numbers near 1, and states are volts and nanocoulombs.
        capacitance, charge_of_source, conductance, from_source, fed = (
            1e9 * one for one in (capacitance, charge_of_source, conductance, from_source, fed)
        )
        stored, still = orth(capacitance), null_space(capacitance)
        held = np.linalg.inv(stored.T @ capacitance @ stored)
        # v = stored z + still y, with z of the charges, and y where no current of resistors is left.
        inner = np.linalg.inv(still.T @ conductance @ still) @ still.T
        states = stored.shape[1]
        nodes = np.zeros((size, states + count))
        nodes[:, :states] = stored @ held
        direct = -stored @ held @ stored.T @ charge_of_source
        nodes_still = still @ inner @ (np.hstack([np.zeros((size, states)), fed]) - conductance @ nodes)
        direct = direct - still @ inner @ (from_source + conductance @ direct)
        nodes = nodes + nodes_still
        self.nodes, self.direct = nodes, direct
        a, b = np.zeros((states + count, states + count)), np.zeros(states + count)
        a[:states] = -stored.T @ conductance @ nodes
        a[:states, states:] += stored.T @ fed
        b[:states] = -stored.T @ (conductance @ direct + from_source)
        for k, part in enumerate(self.op_amps):
            for pin, sign in zip(part["nodes"][:2], (1, -1), strict=True):
                of_states, of_source = self.row(pin)
                a[states + k] += sign * 2 * math.pi * GAIN_BANDWIDTH * of_states
                b[states + k] += sign * 2 * math.pi * GAIN_BANDWIDTH * of_source
            a[states + k, states + k] -= 2 * math.pi * GAIN_BANDWIDTH / GAIN
        self.a, self.b, self.states = a, b, states

    def between(self, matrix, column, nodes, value):
        for here, there in (nodes, nodes[::-1]):
            if here in self.at:
                matrix[self.at[here], self.at[here]] += value
                if there in self.at:
                    matrix[self.at[here], self.at[there]] -= value
                elif there == self.source:
                    column[self.at[here]] -= value

    def row(self, node):
        """A node's voltage by the states and by the source."""
        if node in self.at:
            return self.nodes[self.at[node]], self.direct[self.at[node]]
        return np.zeros(self.nodes.shape[1]), float(node == self.source)

    def peaks(self, t, x):
        """For each op amp: slew, current, swing, common mode upwards and downwards; and each node's largest magnitude."""
        u, du = signal(t)
        dx = x @ self.a.T + np.outer(u, self.b)
        rows = []
        for k, part in enumerate(self.op_amps):
            plus, minus, out = (self.row(node) for node in part["nodes"])
            voltage = x @ out[0] + u * out[1]
            slew = dx @ out[0] + du * out[1]
            current = (x[:, self.states + k] - voltage) / OUTPUT_RESISTANCE
            common = (x @ (plus[0] + minus[0]) + u * (plus[1] + minus[1])) / 2
            largest = [np.abs(slew).max(), np.abs(current).max(), np.abs(voltage).max()]
            rows.append([*largest, max(common.max(), 0), max(-common.min(), 0)])
        nodes = {node: float(np.abs(x @ self.row(node)[0] + u * self.row(node)[1]).max()) for node in [self.source, *self.at]}
        return np.array(rows).reshape(-1, 5), nodes

    def followed(self):
        """Peaks by Radau, and how far those by backward differences come out."""
        t = np.linspace(0, TIME, GRID)
        if not len(self.a):
            return (*self.peaks(t, np.zeros((GRID, 0))), 0.0)

        def solved(method, tolerance):
            found = solve_ivp(
                lambda t, x: self.a @ x + self.b * signal(t)[0],
                (0, TIME),
                np.zeros(len(self.a)),
                method,
                t,
                rtol=tolerance,
                atol=0.1 * tolerance,
                jac=self.a,
            )
            assert found.success, found.message
            return self.peaks(t, found.y.T)

        (own, nodes), (other, _) = solved("Radau", 1e-8), solved("BDF", 1e-8)
        # The current of a follower without a load is that of its own input: none.
        miss = np.abs(own - other) / np.maximum(own, 1e-9)
        return own, nodes, miss.max(initial=0.0)


def told(network):
    right = np.linalg.eigvals(network.a).real.max(initial=-np.inf)
    assert right < 0, f"unstable, at {right} 1/s: draw other values"
    peaks, nodes, own = network.followed()
    return {"peaks": peaks.tolist(), "nodes": list(nodes), "levels": list(nodes.values())}, own


def joined(stages):
    """Stages behind each other as one list of parts: each one's output is the next one's input."""
    parts, grounded, before = [], [], "source"
    for k, (circuit, values) in enumerate(stages):
        names = {circuit["input"]: before, circuit["output"]: f"{k}.{circuit['output']}", "0": "0"}
        for part in circuit["parts"]:
            nodes = [names.get(node, f"{k}.{node}") for node in part["nodes"]]
            parts.append({**part, "nodes": nodes, "value": values.get(part["name"])})
        grounded += [f"{k}.{node}" for node in circuit["further_inputs"]]
        before = names[circuit["output"]]
    parts.append({"kind": "R", "nodes": [before, "0"], "value": LOAD})
    return Network(parts, "source", grounded)


def main():
    rng = np.random.default_rng(SEED)
    circuits = json.loads((HERE / "stage_netlists.json").read_text(encoding="utf-8"))
    by_name = {circuit["name"]: circuit for circuit in circuits}
    found, paths, check = [], [], 0.0
    for circuit in circuits:
        values = drawn(rng, circuit)
        parts = [{**part, "value": values.get(part["name"])} for part in circuit["parts"]]
        own, miss = told(Network(parts, circuit["input"], circuit["further_inputs"]))
        check = max(check, miss)
        found.append({"name": circuit["name"], "values": values, **own})
    for names in PATHS:
        stages = [(by_name[name], drawn(rng, by_name[name])) for name in names]
        for circuit, _ in stages:
            assert any(p["kind"] == "opamp" and p["nodes"][2] == circuit["output"] for p in circuit["parts"])
        own, miss = told(joined(stages))
        check = max(check, miss)
        paths.append({"stages": [{"name": circuit["name"], "values": values} for circuit, values in stages], **own})
    write(
        __file__,
        {
            "amplitude": AMPLITUDE,
            "chirp": list(CHIRP),
            "circuits": found,
            "load": LOAD,
            # Which steps Radau takes hangs on the processor's rounding: 1.4e-5 between two machines. The tests allow 2e-3.
            "made_again_within": 1e-4,
            "paths": paths,
            "self_check": f"{check:.0e}",
            "time": TIME,
        },
        ["numpy", "scipy"],
    )


if __name__ == "__main__":
    main()
