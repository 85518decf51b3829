"""Sweeps of a servo by a general integrator: SciPy's Radau at a tight tolerance, one call for each target.

Written from the balance of voltages and torques. Without arguments it writes integrated.json anew; with --check it compares,
and leaves with status 0 where they agree.
"""

import json
import sys
from math import sqrt
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

RESULT = Path(__file__).with_name("integrated.json")

BASE = dict(
    open_voltage=5.1, line_resistance=0.35, resistance=5.6, back_emf_constant=0.6, torque_per_current=0.24,
    idle_current=0.008, friction=0.036, inertia=5e-4, load_torque=0.05, dead_band=0.006, full_drive=0.05, end=0.8,
    frame=0.02,
)

# Name, changes of the base, targets with frames each.
CASES = [
    ("to both sides with a load", dict(), [(0.6, 25), (-0.6, 30), (0.0, 25)]),
    ("a load that friction holds, small steps", dict(load_torque=0.02), [(0.02, 10), (0.0, 10), (-0.3, 15)]),
    ("into an end", dict(load_torque=-0.03), [(1.0, 30), (0.0, 20)]),
]
PULSE = 0.0015


def slope(p, target):
    top = p["open_voltage"] / p["back_emf_constant"]
    tau = p["inertia"] * p["resistance"] / (p["torque_per_current"] * p["back_emf_constant"])
    gain = top / p["full_drive"]
    lead = max(0.0, (2 * sqrt(gain * tau) - 1) / gain)
    stall = p["torque_per_current"] * p["open_voltage"] / (p["resistance"] + p["line_resistance"])
    spring = stall / 0.01
    damper = 2 * sqrt(spring * p["inertia"])

    def f(_, y):
        angle, speed = y[:2]
        e = target - angle
        sign = 1.0 if e > 0 else -1.0
        past = abs(e) - p["dead_band"]
        least = 1.2 * p["friction"] / stall * min(1.0, max(0.0, 1 + past / (0.1 * p["dead_band"])))
        s = sign * (least + max(0.0, past) / p["full_drive"]) - lead * speed / p["full_drive"]
        s = min(1.0, max(-1.0, s))
        # Voltage of the rail and current of the motor together: two equations with two unknowns.
        a = np.array([[1.0, p["line_resistance"] * s], [-s, p["resistance"]]])
        u, i = np.linalg.solve(
            a, [p["open_voltage"] - p["line_resistance"] * p["idle_current"], -p["back_emf_constant"] * speed]
        )
        if s * i <= 0:
            i = (s * (p["open_voltage"] - p["line_resistance"] * p["idle_current"]) - p["back_emf_constant"] * speed)
            i /= p["resistance"]
        drawn = max(0.0, s * i) + p["idle_current"]
        grip = p["friction"] * min(1.0, max(-1.0, speed / (1e-4 * top)))
        into = abs(angle) - p["end"]
        stop = 0.0
        if into > 0:
            sign = 1.0 if angle > 0 else -1.0
            stop = sign * max(0.0, spring * into + damper * speed * sign)
        return speed, (p["torque_per_current"] * i - grip - p["load_torque"] - stop) / p["inertia"], drawn

    return f


def run(p, legs):
    y, t, target, samples = np.zeros(3), 0.0, 0.0, []
    for aim, frames in legs:
        for frame in range(frames):
            for until, to in ((t + PULSE, target if frame == 0 else aim), (t + p["frame"], aim)):
                start = t if until == t + PULSE else t + PULSE
                s = solve_ivp(slope(p, to), (start, until), y, method="Radau", rtol=1e-9, atol=1e-12)
                y = s.y[:, -1]
            t += p["frame"]
            samples.append([t, *(float(v) for v in y)])
        target = aim
    return dict(samples=samples)


def results():
    return [
        dict(name=name, set_up={**BASE, **changes}, legs=[list(leg) for leg in legs], pulse=PULSE,
             **run({**BASE, **changes}, legs))
        for name, changes, legs in CASES
    ]


def main():
    found = results()
    if "--check" not in sys.argv:
        RESULT.write_text(json.dumps(found, indent=1) + "\n")
        return
    kept = json.loads(RESULT.read_text())
    for a, b in zip(found, kept, strict=True):
        for key in ("name", "set_up", "legs", "pulse"):
            assert a[key] == b[key], a["name"]
        x, y = np.array(a["samples"]), np.array(b["samples"])
        off = np.abs(x - y).max(axis=0) / (np.abs(y).max(axis=0) + 1e-12)
        assert off.max() < 1e-6, f"{a['name']}: {off}"


if __name__ == "__main__":
    main()
