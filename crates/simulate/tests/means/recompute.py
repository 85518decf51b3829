"""Averaged drives by a general integrator: SciPy's DOP853 at a tight tolerance, started anew at every event.

Written from the force and voltage balance, with a search over the signs in place of formulas for modes. Without
arguments it writes means.json anew; with --check it compares, and leaves with status 0 where they agree.
"""

import json
import math
import sys
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

NUDGE = 1e-10  # s

RESULT = Path(__file__).with_name("means.json")

BASE = dict(
    supply_voltage=24.0, supply_resistance=0.15, frequency=18e3, off_state="brake", diode_drop=0.8, resistance=3.4,
    winding_resistance=3.1, inductance=1.2e-3, constant=0.038, brush_drop=0.0, inertia=5e-6, friction=6e-3,
    viscous_friction=3e-6, ratio=12.0, efficiency=1.0, back_efficiency=1.0, load_inertia=2e-4, load_friction=0.01,
    load_viscous=1e-5, load_torque=0.0, locked=False,
)
LOSSY = dict(efficiency=0.75, back_efficiency=0.6)

# Name, changes of the base, stages (duty or None for open switches, PWM periods), periods between samples.
COURSES = [
    ("up and back across zero, brushes and gear", dict(brush_drop=0.7, **LOSSY), [(0.6, 1500), (-0.45, 1800)], 60),
    ("out to rest", dict(brush_drop=0.4), [(0.5, 1500), (None, 6000)], 150),
    ("both legs, a weight", dict(off_state="reverse", load_torque=0.04, brush_drop=0.5, **LOSSY),
     [(0.1, 900), (0.0, 900), (-0.5, 900)], 60),
    ("current and speed that swing", dict(inductance=9e-3, constant=0.06, friction=1e-3, load_friction=1e-3),
     [(0.3, 1800), (0.05, 1800)], 60),
]

HEAT = dict(winding_to_case=3.2, case_to_air=9.0, winding_time=6.0, case_time=80.0, coefficient=0.0039,
            constant_coefficient=-0.0012, reference=293.15, ambient=298.15)

# What bends, in full: name, changes of the base, heat, arm (torque, angle), friction that falls (extra, speed), duty, PWM
# periods, periods between samples.
BENDS = [
    ("a winding that warms over two minutes", dict(inductance=9e-3, friction=0.04, supply_resistance=0.0), HEAT, None,
     None, 0.55, 2_160_000, 36_000),
    ("an arm that is lifted", dict(load_inertia=2e-2, ratio=40.0), None, (2.2, -1.4), None, 0.5, 7_200, 120),
    ("friction that falls with speed", dict(brush_drop=0.4), None, None, (5e-3, 30.0), 0.2, 3_600, 60),
    ("a warm motor under an arm", dict(inductance=4e-3, load_inertia=2e-2, ratio=300.0), HEAT, (9.0, -1.2),
     (2e-3, 40.0), 0.6, 54_000, 900),
]

LOOP = dict(rate=1e3, proportional=0.11, integral=11.0, reference=300.0, load_torque=15e-3, load_time=0.1, duration=0.2)

# Name, changes of the base, changes of the loop.
LOOPS = [
    ("plain", dict(supply_resistance=0.0), dict()),
    ("strong gains and an early load", dict(supply_resistance=0.0, inertia=9e-6), dict(proportional=0.5, integral=60.0,
     load_time=0.06)),
    ("brushes and a supply that gives way", dict(brush_drop=0.6, supply_resistance=0.4), dict()),
    ("light and swinging", dict(supply_resistance=0.0, inductance=5e-3, friction=1e-3, load_friction=0.0),
     dict(proportional=0.05, integral=8.0)),
    ("slow speed under much friction", dict(friction=0.03), dict(reference=12.0, proportional=0.2, integral=30.0)),
]


def acceleration(p, i, w, sense, friction):
    """In a sense of motion: J_m·a = K·i − friction − gear_input(J_L·a/N + c), by trying both branches."""
    n = p["ratio"]
    i, w = i * sense, w * sense
    push = p["constant"] * i - friction - p["viscous_friction"] * w
    c = p["load_friction"] + sense * p["load_torque"] + p["load_viscous"] * w / n
    best = None
    for e in (1 / p["efficiency"], p["back_efficiency"]):
        a = (push - e * c / n) / (p["inertia"] + e * p["load_inertia"] / n**2)
        torque = p["load_inertia"] * a / n + c
        taken = torque / (n * p["efficiency"]) if torque > 0 else torque * p["back_efficiency"] / n
        residual = abs(p["inertia"] * a - (push - taken))
        if best is None or residual < best[0]:
            best = (residual, a, torque)
    return best[1] * sense, best[2]


def holding(p, friction):
    def taken(torque):
        return torque / (p["ratio"] * p["efficiency"]) if torque > 0 else torque * p["back_efficiency"] / p["ratio"]

    return (-friction - taken(p["load_friction"] - p["load_torque"]),
            friction + taken(p["load_friction"] + p["load_torque"]))


def follow(p, bridge, friction, x, way, time):
    """x = current, speed, angle, ∫current²; bridge = voltage(sign), resistance, half of the ripple; way = (sign of the
    current where no ripple reaches zero, sense of the shaft). Gives the largest current as well."""
    voltage, resistance, half = bridge
    low, high = holding(p, friction)
    k, at, peak = p["constant"], 0.0, abs(x[0])
    sigma, delta = way
    for _ in range(1000):
        if half == 0.0:
            sigma = int(np.sign(x[0]))
            if sigma == 0:
                sigma = next((s for s in (1, -1) if s * (voltage(s) - k * x[1]) > 1e-13), 0)
        if delta == 0:
            delta = 1 if k * x[0] > high + 1e-16 else -1 if k * x[0] < low - 1e-16 else 0
        if at >= time:
            return x, (sigma, delta), peak

        def slope(_, y):
            if half > 0.0:
                s = max(-1.0, min(1.0, y[0] / half))
                u = 0.5 * (voltage(1) + voltage(-1)) + s * 0.5 * (voltage(1) - voltage(-1))
            else:
                u = voltage(sigma)
            di = (u - resistance * y[0] - k * y[1]) / p["inductance"] if half > 0.0 or sigma else 0.0
            dw = acceleration(p, y[0], y[1], delta, friction)[0] if delta else 0.0
            return (di, dw, y[1], y[0] ** 2)

        events = []

        def add(what, f, terminal=True):
            f.terminal, f.direction = terminal, -1
            events.append((what, f))

        if half == 0.0:
            if sigma:
                add("current", lambda _, y: y[0] * sigma)
            else:
                add("conducts", lambda _, y: k * y[1] - voltage(1))
                add("conducts", lambda _, y: voltage(-1) - k * y[1])
        if delta:
            add("speed", lambda _, y: y[1] * delta)
            add("gear", lambda _, y: acceleration(p, y[0], y[1], delta, friction)[1])
            add("gear", lambda _, y: -acceleration(p, y[0], y[1], delta, friction)[1])
        else:
            add("breaks", lambda _, y: high - k * y[0])
            add("breaks", lambda _, y: k * y[0] - low)
        add("peak", lambda t, y: slope(t, y)[0] * (1 if y[0] >= 0 else -1), False)
        if at > 0:
            # Off the event that was just met, or it would be met again.
            ahead = min(time, at + NUDGE)
            x = solve_ivp(slope, (at, ahead), x, method="DOP853", rtol=1e-12, atol=1e-14).y[:, -1]
            at = ahead
            if at >= time:
                continue
        s = solve_ivp(slope, (at, time), x, method="DOP853", rtol=1e-12, atol=1e-14,
                      events=[f for _, f in events], max_step=max(time / 8, 1e-4))
        at, x = s.t[-1], s.y[:, -1].copy()
        peak = max([peak, abs(x[0])] + [abs(y[0]) for y in s.y_events[-1]])
        if s.status != 1:
            at = time
            continue
        what = next(what for (what, f), hit in zip(events, s.t_events) if len(hit) and f.terminal)
        if what == "current":
            x[0] = 0.0
        elif what == "speed":
            was, x[1] = delta, 0.0
            out = k * x[0] < low if was > 0 else k * x[0] > high
            delta = -was if out else 0
        elif what == "breaks":
            delta = 1 if abs(k * x[0] - high) < abs(k * x[0] - low) else -1
    raise RuntimeError("too many events")


def mean_bridge(p, duty):
    """The balance of a period: what the on-time lets the current rise, the off-time lets it fall."""
    brush, bus = p["brush_drop"], p["supply_voltage"]
    if duty is None:
        back = bus + 2 * p["diode_drop"] + brush
        return (lambda s: -s * back), p["resistance"] + p["supply_resistance"], 0.0
    both = p["off_state"] == "reverse"
    resistance = p["resistance"] + (1.0 if both else abs(duty)) * p["supply_resistance"]
    on, swing = ((1 + duty) / 2, 2 * bus) if both else (abs(duty), bus)
    period = resistance / (p["inductance"] * p["frequency"])
    grow, fade = 1 - math.exp(-on * period), 1 - math.exp(-(1 - on) * period)
    return (lambda s: duty * bus - s * brush), resistance, swing / resistance * grow * fade / (1 - math.exp(-period)) / 2


def course(p, stages, every):
    x, way, samples, period = np.zeros(4), (0, 0), [], 0
    for duty, periods in stages:
        bridge = mean_bridge(p, duty)
        for _ in range(periods // every):
            x, way, _ = follow(p, bridge, p["friction"], x, way, every / p["frequency"])
            period += every
            samples.append([period / p["frequency"], *(float(v) for v in x)])
    return samples


def bent(p, heat, arm, falling, duty, periods, every):
    """One duty forward from rest, everything that bends continuous: x = current, speed, angle, ∫current², temperatures of
    winding and case."""
    k0, rest = p["constant"], p["resistance"] - p["winding_resistance"]

    def figures(x):
        if heat is None:
            return p["resistance"], k0, p["winding_resistance"]
        winding = p["winding_resistance"] * (1 + heat["coefficient"] * (x[4] - heat["reference"]))
        start = heat["ambient"]
        winding /= 1 + heat["coefficient"] * (start - heat["reference"])
        return winding + rest, k0 * (1 + heat["constant_coefficient"] * (x[4] - start)), winding

    def slope(x, moves):
        resistance, k, winding = figures(x)
        voltage, loop_resistance, half = mean_bridge({**p, "resistance": resistance}, duty)
        s = max(-1.0, min(1.0, x[0] / half))
        u = 0.5 * (voltage(1) + voltage(-1)) + s * 0.5 * (voltage(1) - voltage(-1))
        di = (u - loop_resistance * x[0] - k * x[1]) / p["inductance"]
        torque = arm[0] * math.cos(arm[1] + x[2] / p["ratio"]) if arm else p["load_torque"]
        extra = falling[0] * math.exp(-abs(x[1]) / falling[1]) if falling else 0.0
        at = {**p, "constant": k, "load_torque": torque}
        squared = x[0] ** 2 + half**2 / 3
        dw = acceleration(at, x[0], x[1], 1, p["friction"] + extra)[0] if moves else 0.0
        warm = (0.0, 0.0)
        if heat:
            across = (x[4] - x[5]) / heat["winding_to_case"]
            warm = ((winding * squared - across) * heat["winding_to_case"] / heat["winding_time"],
                    (across - (x[5] - heat["ambient"]) / heat["case_to_air"]) * heat["case_to_air"] / heat["case_time"])
        left = k * x[0] - holding(at, p["friction"] + extra)[1]
        return (di, dw, x[1], squared, *warm), left

    ambient = heat["ambient"] if heat else 293.15
    x, at, moves, samples = np.array([0.0, 0.0, 0.0, 0.0, ambient, ambient]), 0.0, False, []
    for n in range(periods // every):
        until = (n + 1) * every / p["frequency"]
        while at < until:
            breaks = lambda _, y: slope(y, False)[1]  # noqa: E731
            breaks.terminal, breaks.direction = True, 1
            s = solve_ivp(lambda _, y: slope(y, moves)[0], (at, until), x, method="DOP853", rtol=1e-10, atol=1e-12,
                          events=None if moves else [breaks])
            at, x, moves = s.t[-1], s.y[:, -1], moves or s.status == 1
        assert x[1] >= 0.0, "it goes forward"
        samples.append([at, *(float(v) for v in x)])
    return samples


def loop(p, c):
    """A controller that measures its supply; the load step adds friction."""
    x, way, total = np.zeros(4), (0, 0), 0.0
    top, outside, peak, lowest = 0.0, 0.0, 0.0, math.inf
    bus = p["supply_voltage"]
    for k in range(round(c["rate"] * c["duration"])):
        error = c["reference"] - x[1]
        asked = c["proportional"] * error + total + c["integral"] / c["rate"] * error
        u = max(-bus, min(bus, asked))
        if not (asked > u and error >= 0 or asked < u and error <= 0):
            total += c["integral"] / c["rate"] * error
        loaded = k / c["rate"] >= c["load_time"] - 1e-9
        resistance = p["resistance"] + abs(u) / bus * p["supply_resistance"]
        bridge = (lambda s, u=u: u - s * p["brush_drop"]), resistance, 0.0
        friction = p["friction"] + (c["load_torque"] if loaded else 0.0)
        x, way, met = follow(p, bridge, friction, x, way, 1 / c["rate"])
        peak = max(peak, met)
        if loaded:
            lowest = min(lowest, x[1])
        else:
            top = max(top, x[1])
            if abs(x[1] - c["reference"]) > 0.02 * c["reference"]:
                outside = (k + 1) / c["rate"]
    return dict(overshoot=float(max(0.0, top / c["reference"] - 1)), settling_time=outside, peak_current=float(peak),
                dip=float(c["reference"] - lowest))


def results():
    courses = []
    for name, changes, stages, every in COURSES:
        p = {**BASE, **changes}
        courses.append(dict(name=name, set_up=p, stages=[list(s) for s in stages], every=every,
                            samples=course(p, stages, every)))
    bends = []
    for name, changes, heat, arm, falling, duty, periods, every in BENDS:
        p = {**BASE, **changes}
        bends.append(dict(name=name, set_up=p, heat=heat, arm=arm, falling=falling, duty=duty, periods=periods, every=every,
                          samples=bent(p, heat, arm, falling, duty, periods, every)))
    loops = []
    for name, changes, settings in LOOPS:
        p, c = {**BASE, **changes}, {**LOOP, **settings}
        loops.append(dict(name=name, set_up=p, loop=c, response=loop(p, c)))
    return dict(courses=courses, bends=bends, loops=loops)


def main():
    found = results()
    if "--check" not in sys.argv:
        RESULT.write_text(json.dumps(found, indent=1) + "\n")
        return
    kept = json.loads(RESULT.read_text())
    for a, b in zip(found["courses"], kept["courses"], strict=True):
        assert all(a[key] == b[key] for key in ("name", "set_up", "stages", "every")), a["name"]
        x, y = np.array(a["samples"]), np.array(b["samples"])
        # The step control of another processor may differ in its last bits.
        off = np.abs(x - y).max(axis=0) / (np.abs(y).max(axis=0) + 1e-12)
        assert off.max() < 1e-8, f"{a['name']}: {off}"
    for a, b in zip(json.loads(json.dumps(found["bends"])), kept["bends"], strict=True):
        assert all(a[key] == b[key] for key in a if key != "samples"), a["name"]
        x, y = np.array(a["samples"]), np.array(b["samples"])
        off = np.abs(x - y).max(axis=0) / (np.abs(y).max(axis=0) + 1e-12)
        assert off.max() < 1e-7, f"{a['name']}: {off}"
    for a, b in zip(found["loops"], kept["loops"], strict=True):
        assert all(a[key] == b[key] for key in ("name", "set_up", "loop")), a["name"]
        assert all(abs(a["response"][k] - b["response"][k]) < 1e-7 for k in a["response"]), a["name"]


if __name__ == "__main__":
    main()
