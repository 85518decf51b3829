"""The same drives by a general integrator: SciPy's DOP853 at its tightest tolerance, restarted at every event.

Written from the force and voltage balance, with a search over the signs in place of formulas for modes. Without
arguments it writes integrated.json anew; with --check it compares, and leaves with status 0 where they agree.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

NUDGE = 1e-10  # s

RESULT = Path(__file__).with_name("integrated.json")

BASE = dict(
    supply_voltage=24.0, supply_resistance=0.15, frequency=5e3, off_state="brake", diode_drop=0.8, resistance=2.6,
    winding_resistance=2.3, inductance=1.2e-3, constant=0.03, brush_drop=0.5, inertia=4e-6, friction=4e-3,
    viscous_friction=3e-6, ratio=12.0, efficiency=0.75, back_efficiency=0.6, load_inertia=4e-4, load_friction=0.01,
    load_viscous=1e-4, load_torque=0.0, locked=False,
)

# Name, changes of the base, stages (duty or None for open switches, PWM periods), periods between samples.
CASES = [
    ("across zero, short off-time", dict(), [(0.7, 150), (-0.5, 200)], 10),
    ("current with gaps, then out to rest", dict(off_state="coast", inductance=3e-4, efficiency=1.0,
     back_efficiency=1.0), [(0.3, 200), (None, 800)], 20),
    ("weight, one diode, breaking away in every period", dict(off_state="diode", load_torque=0.05, inductance=4e-4,
     frequency=2e3, inertia=1e-6, load_inertia=5e-5), [(0.045, 60), (0.45, 60), (-0.3, 60)], 4),
    ("both legs switched", dict(off_state="reverse"), [(0.4, 120), (0.0, 120), (-0.6, 60)], 10),
    ("weight that drives through a gear", dict(load_torque=0.35, friction=1e-3, load_friction=0.0),
     [(0.3, 150), (0.0, 150)], 10),
]


def source(p, gate, sense, sign):
    """Voltage that a current of a sign meets, brushes counted, and how the supply lies in the loop."""
    off = p["off_state"]
    if gate == "on":
        k, diodes = sense, 0
    elif gate == "open" or off == "coast":
        k, diodes = -sign, 2
    elif off == "brake":
        k, diodes = 0, 0
    elif off == "reverse":
        k, diodes = -sense, 0
    else:
        k, diodes = (0, 1) if sign == sense else (sense, 1)
    drop = diodes * p["diode_drop"] + p["brush_drop"]
    return k * p["supply_voltage"] - sign * drop, p["resistance"] + k * k * p["supply_resistance"]


def gear_input(p, torque):
    """Torque at the input for one at the output that is counted against the motion."""
    return torque / (p["ratio"] * p["efficiency"]) if torque > 0 else torque * p["back_efficiency"] / p["ratio"]


def acceleration(p, i, w, sense):
    """In a sense of motion: J_m·a = K·i − friction − gear_input(J_L·a/N + c), by trying both branches."""
    n = p["ratio"]
    i, w = i * sense, w * sense
    push = p["constant"] * i - p["friction"] - p["viscous_friction"] * w
    c = p["load_friction"] + sense * p["load_torque"] + p["load_viscous"] * w / n
    best = None
    for e in (1 / p["efficiency"], p["back_efficiency"]):
        a = (push - e * c / n) / (p["inertia"] + e * p["load_inertia"] / n**2)
        torque = p["load_inertia"] * a / n + c
        residual = abs(p["inertia"] * a - (push - gear_input(p, torque)))
        if best is None or residual < best[0]:
            best = (residual, a, torque)
    return best[1] * sense, best[2]


def holding(p):
    up = p["friction"] + gear_input(p, p["load_friction"] + p["load_torque"])
    down = p["friction"] + gear_input(p, p["load_friction"] - p["load_torque"])
    return -down, up


def segment(p, x, way, gate, sense, time):
    """One piece of the PWM period; x = current, speed, angle, charge either way; way = (sign of the current, sense of
    the shaft)."""
    sigma, delta = way
    low, high = holding(p)
    at = 0.0
    for _ in range(1000):
        k = p["constant"]
        if sigma == 0:
            for sign in (1, -1):
                u, _ = source(p, gate, sense, sign)
                if sign * (u - k * x[1]) > 1e-13:
                    sigma = sign
        if delta == 0:
            delta = 1 if k * x[0] > high + 1e-16 else -1 if k * x[0] < low - 1e-16 else 0
        if at >= time:
            return x, (sigma, delta)
        u, r = source(p, gate, sense, sigma or 1)

        def slope(_, y):
            di = (u - r * y[0] - k * y[1]) / p["inductance"] if sigma else 0.0
            dw = acceleration(p, y[0], y[1], delta)[0] if delta else 0.0
            return (di, dw, y[1], abs(y[0]))

        events = []

        def add(what, f):
            f.terminal, f.direction = True, -1
            events.append((what, f))

        if sigma:
            add("current", lambda _, y: y[0] * sigma)
        else:
            forward, back = source(p, gate, sense, 1)[0], source(p, gate, sense, -1)[0]
            add("conducts", lambda _, y: k * y[1] - forward)
            add("conducts", lambda _, y: back - k * y[1])
        if delta:
            add("speed", lambda _, y: y[1] * delta)
            add("gear", lambda _, y: acceleration(p, y[0], y[1], delta)[1])
            add("gear", lambda _, y: -acceleration(p, y[0], y[1], delta)[1])
        else:
            add("breaks", lambda _, y: high - k * y[0])
            add("breaks", lambda _, y: k * y[0] - low)
        if at > 0:
            # Off the event that was just met, or it would be met again.
            ahead = min(time, at + NUDGE)
            x = solve_ivp(slope, (at, ahead), x, method="DOP853", rtol=2.3e-14, atol=1e-15).y[:, -1]
            at = ahead
            if at >= time:
                continue
        s = solve_ivp(slope, (at, time), x, method="DOP853", rtol=2.3e-14, atol=1e-15,
                      events=[f for _, f in events], max_step=time / 4)
        at, x = s.t[-1], s.y[:, -1].copy()
        if s.status != 1:
            at = time
            continue
        what = next(what for (what, _), hit in zip(events, s.t_events) if len(hit))
        if what == "current":
            was, sigma, x[0] = sigma, 0, 0.0
            u, _ = source(p, gate, sense, -was)
            if -was * (u - k * x[1]) > 0:
                sigma = -was
        elif what == "speed":
            was, x[1] = delta, 0.0
            out = k * x[0] < low if was > 0 else k * x[0] > high
            delta = -was if out else 0
        elif what == "breaks":
            delta = 1 if abs(k * x[0] - high) < abs(k * x[0] - low) else -1
        elif what == "conducts":
            sigma = 1 if abs(k * x[1] - forward) < abs(k * x[1] - back) else -1
    raise RuntimeError("too many events")


def run(p, stages, every):
    x, way, samples, charges, period = np.zeros(4), (0, 0), [], [], 0
    span = 1 / p["frequency"]
    for duty, periods in stages:
        for _ in range(periods):
            if duty is None:
                pieces = [("open", 1, span)]
            else:
                sense, on = (1, 0.5 * (1 + duty)) if p["off_state"] == "reverse" else (1 if duty >= 0 else -1, abs(duty))
                off = 0.5 * (1 - on) * span
                pieces = [("off", sense, off), ("on", sense, on * span), ("off", sense, off)]
            for gate, sense, time in pieces:
                if time > 0:
                    x, way = segment(p, x, way, gate, sense, time)
            period += 1
            if period % every == 0:
                samples.append([period * span, *(float(v) for v in x[:3])])
        charges.append(float(x[3]))
    return dict(samples=samples, charges=charges)


def results():
    cases = []
    for name, changes, stages, every in CASES:
        p = {**BASE, **changes}
        cases.append(dict(name=name, set_up=p, stages=[list(s) for s in stages], every=every, **run(p, stages, every)))
    return cases


def main():
    found = results()
    if "--check" not in sys.argv:
        RESULT.write_text(json.dumps(found, indent=1) + "\n")
        return
    kept = json.loads(RESULT.read_text())
    for a, b in zip(found, kept, strict=True):
        for key in ("name", "set_up", "stages", "every"):
            assert a[key] == b[key], a["name"]
        for key in ("samples", "charges"):
            x, y = np.array(a[key]), np.array(b[key])
            # The step control of another processor may differ in its last bits.
            off = np.abs(x - y).max(axis=0) / (np.abs(y).max(axis=0) + 1e-12)
            assert off.max() < 1e-9, f"{a['name']}: {key} {off}"


if __name__ == "__main__":
    main()
