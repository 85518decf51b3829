"""Runs of a stepper by a general integrator: SciPy's DOP853 at a tight tolerance, one call for each step of the command.

Written from the balance of voltages and torques; the step times from the equation of the ramp. Without arguments it writes
integrated.json anew; with --check it compares, and leaves with status 0 where they agree.
"""

import json
import sys
from math import copysign, cos, pi, sin, sqrt
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

RESULT = Path(__file__).with_name("integrated.json")

BASE = dict(
    voltage=24.0, chopped_current=1.2, settling=6e-5, parts=1, sine=False, resistance=2.4, inductance=3.2e-3,
    constant=0.245, teeth=50.0, detent_torque=0.0, inertia=9e-6, friction=8e-3, full_friction_speed=2.0,
    viscous_friction=4e-4, load_torque=0.03,
)

# Name, changes of the base, rate, acceleration, full steps of the hold, micro-steps between samples.
CASES = [
    ("full steps, chopped, past the rate where a step is too short for the current", dict(inertia=5e-6, viscous_friction=3e-3,
     inductance=9e-3), 1300.0, 5000.0, 80, 20),
    ("full steps, chopped, some of them lost", dict(voltage=36.0, viscous_friction=1.5e-3), 2200.0, 9000.0, 80, 20),
    ("half steps at a constant voltage", dict(chopped_current=None, voltage=5.0, parts=2, detent_torque=0.015), 150.0,
     400.0, 20, 8),
    ("eighth steps through the resonance", dict(parts=8, sine=True, detent_torque=0.012), 320.0, 900.0, 40, 64),
]


def shares(p, n):
    angle = pi / 4 + n * pi / (2 * p["parts"])
    a, b = cos(angle), sin(angle)
    if p["sine"]:
        return a, b
    return tuple(0.0 if abs(x) < 0.3 else copysign(1.0, x) for x in (a, b))


def slope(p, ab):
    def f(_, y):
        ia, ib, w, th = y[:4]
        s, c = sin(p["teeth"] * th), cos(p["teeth"] * th)
        ea, eb = -p["constant"] * w * s, p["constant"] * w * c
        u = []
        for share, i, e in ((ab[0], ia, ea), (ab[1], ib, eb)):
            if p["chopped_current"] is None:
                u.append(share * p["voltage"])
            else:
                pull = p["inductance"] * (share * p["chopped_current"] - i) / p["settling"]
                u.append(max(-p["voltage"], min(p["voltage"], p["resistance"] * i + e + pull)))
        magnetic = p["constant"] * (ib * c - ia * s) - p["detent_torque"] * sin(4 * p["teeth"] * th)
        grip = p["friction"] * max(-1.0, min(1.0, w / p["full_friction_speed"])) + p["viscous_friction"] * w
        return (
            (u[0] - p["resistance"] * ia - ea) / p["inductance"],
            (u[1] - p["resistance"] * ib - eb) / p["inductance"],
            (magnetic - grip - p["load_torque"]) / p["inertia"],
            w,
            u[0] * ia + u[1] * ib,
        )

    return f


def go(p, n, y, start, end):
    return solve_ivp(slope(p, shares(p, n)), (start, end), y, method="DOP853", rtol=1e-11, atol=1e-13).y[:, -1]


def run(p, rate, acceleration, hold, every):
    ramp = rate**2 / (2 * acceleration)
    steps = int(np.ceil(2 * ramp + hold))
    # Time by inverting the way of each stretch; the second half mirrors the first.
    def first(s):
        return sqrt(2 * s / acceleration) if s < ramp else rate / acceleration + (s - ramp) / rate
    end = 2 * first(steps / 2)
    def due(s):
        return first(s) if s <= steps / 2 else end - first(steps - s)

    full = p["chopped_current"] or p["voltage"] / p["resistance"]
    a, b = shares(p, 0)
    # The rest, by Newton from the field, written in the torque itself.
    th = pi / 4 / p["teeth"]
    for _ in range(50):
        x = p["teeth"] * th
        torque = p["constant"] * full * (b * cos(x) - a * sin(x)) - p["detent_torque"] * sin(4 * x) - p["load_torque"]
        rise = p["teeth"] * (-p["constant"] * full * (b * sin(x) + a * cos(x)) - 4 * p["detent_torque"] * cos(4 * x))
        th -= torque / rise
    y, t, samples, origin = np.array([a * full, b * full, 0.0, th, 0.0]), 0.0, [], th
    for n in range(1, steps * p["parts"] + 1):
        y, t = go(p, n, y, t, due(n / p["parts"])), due(n / p["parts"])
        if n % every == 0:
            samples.append([t, *(float(v) for v in y[:3]), float(y[3] - origin), float(y[4])])
    return dict(commanded=steps, samples=samples)


def results():
    cases = []
    for name, changes, rate, acceleration, hold, every in CASES:
        p = {**BASE, **changes}
        ramp = dict(rate=rate, acceleration=acceleration, hold=hold)
        cases.append(dict(name=name, set_up=p, ramp=ramp, every=every, **run(p, rate, acceleration, hold, every)))
    return cases


def main():
    found = results()
    if "--check" not in sys.argv:
        RESULT.write_text(json.dumps(found, indent=1) + "\n")
        return
    kept = json.loads(RESULT.read_text())
    for a, b in zip(found, kept, strict=True):
        for key in ("name", "set_up", "ramp", "every", "commanded"):
            assert a[key] == b[key], a["name"]
        x, y = np.array(a["samples"]), np.array(b["samples"])
        off = np.abs(x - y).max(axis=0) / (np.abs(y).max(axis=0) + 1e-12)
        assert off.max() < 1e-7, f"{a['name']}: {off}"


if __name__ == "__main__":
    main()
