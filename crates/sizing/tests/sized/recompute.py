"""The shuttle of the starter seed-tray-shuttle over its cycle, by a general integrator.

Figures are typed in from the starter's files, nominal, and the model is written anew from its equations: the balance of
torques at the motor shaft, the armature, ripple of the bridge, two thermal bodies whose copper gets dearer and whose magnets
get weaker. The cycle is played until it repeats itself; the winding's state at its start is found by a root finder.

Without arguments it writes recomputed.json anew; with --check it compares, and leaves with status 0 where they agree.
"""

import json
import math
import sys
from pathlib import Path

import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.optimize import fsolve

RESULT = Path(__file__).with_name("recomputed.json")
G = 9.80665

# parts/motor-24.toml, parts/planetary-27.toml, bench.toml
R20, L, K20 = 3.9, 1.6e-3, 4.03 / (1000 * 2 * math.pi / 60)
UB, JM, MC, B = 0.6, 62e-7, 3.2e-3, 2.0e-6
ALPHA, ALPHA_B, FOLLOW = 0.00393, -0.002, 0.6
RWH, RHA, TW, TH = 3.5, 9.0, 10.0, 600.0
N, ETA, DRAG, JG, COLD = 27 + 1 / 25, 0.78, 0.6e-3, 6e-7, 2.0
MASS, RADIUS, CRR, SLOPE, JW = 12.0 / 2, 45e-3, 0.02, math.radians(1.0), 1.2e-4
DISTANCE, SPEED, ACCELERATION, DWELL = 1.8, 0.5, 0.7, 2.0
AMBIENT, PWM, BUS = (8 + 35) / 2, 18e3, 24.0


def cable(length, area):
    """Out and back, in mm², the copper as warm as the air."""
    return 2 * length / (58 * area) * (1 + 0.00393 * (AMBIENT - 20))


# Switches, and leads of 0.5 mm² over 0.6 m; the supply, and its feed of 1 mm² over 1.2 m.
LOOP = 0.310 + cable(0.6, 0.5)
SOURCE = 0.040 + cable(1.2, 1.0)


def load_torque(acceleration, back):
    """At the wheel's shaft, forward motion; the mechanism itself loses nothing."""
    slope = -SLOPE if back else SLOPE
    inertia = MASS * RADIUS**2 + JW
    gravity = MASS * G * math.sin(slope) * RADIUS
    rolling = CRR * MASS * G * math.cos(slope) * RADIUS
    return inertia * acceleration + gravity + rolling


def current(speed, acceleration, back, winding):
    """Motor current at a wheel speed and acceleration, and the motor's constant."""
    torque = load_torque(acceleration, back)
    through = torque / (N * ETA) if torque > 0 else torque * (2 - 1 / ETA) / N
    drag = DRAG * (1 + (COLD - 1) * max(0.0, (20 - AMBIENT) / 20))
    magnets = AMBIENT + FOLLOW * (winding - AMBIENT)
    constant = K20 * (1 + ALPHA_B * (magnets - 20))
    w = speed * N
    shaft = (JM + JG) * N * acceleration + through + drag
    return (shaft + MC + B * w) / constant, constant, w


def heating(speed, acceleration, back, winding):
    """Square of the effective current, ripple included, and its root."""
    i, constant, w = current(speed, acceleration, back, winding)
    voltage = (R20 * (1 + ALPHA * (winding - 20)) + LOOP) * i + constant * w + math.copysign(UB, i)
    bus, drawn = BUS, 0.0
    for _ in range(30):
        bus = BUS - SOURCE * max(0.0, drawn)
        drawn = voltage / bus * i
    duty = min(1.0, max(0.0, voltage / bus))
    ripple = bus * duty * (1 - duty) / (PWM * L)
    return math.sqrt(i * i + ripple * ripple / 12), i, voltage * i


def pieces():
    """Of the cycle: from, to, speed and acceleration of the wheel by time within, back."""
    ramp, cruise = SPEED / ACCELERATION, DISTANCE / SPEED - SPEED / ACCELERATION
    a, w, at = ACCELERATION / RADIUS, SPEED / RADIUS, 0.0
    for back in (False, True):
        yield at, at + ramp, (lambda t: a * t), a, back
        at += ramp
        yield at, at + cruise, (lambda t: w), 0.0, back
        at += cruise
        yield at, at + ramp, (lambda t: w - a * t), -a, back
        at += ramp
        yield at, at + DWELL, None, 0.0, back
        at += DWELL


def rest_current(winding):
    """Nothing is taken off for friction, and the slope acts at its full amount."""
    magnets = AMBIENT + FOLLOW * (winding - AMBIENT)
    constant = K20 * (1 + ALPHA_B * (magnets - 20))
    i = MASS * G * math.sin(SLOPE) * RADIUS / N / constant
    voltage = (R20 * (1 + ALPHA * (winding - 20)) + LOOP) * i + UB
    bus, drawn = BUS, 0.0
    for _ in range(30):
        bus = BUS - SOURCE * drawn
        drawn = voltage / bus * i
    duty = voltage / bus
    ripple = bus * duty * (1 - duty) / (PWM * L)
    return math.sqrt(i * i + ripple * ripple / 12), i, voltage * i


def at(piece, time, winding):
    start, _, speed, acceleration, back = piece
    if speed is None:
        return rest_current(winding)
    return heating(speed(time - start), acceleration, back, winding)


def play(state, mean):
    """Temperatures after a cycle, and the highest of the winding. The currents are those of its mean temperature."""
    hottest = state[0]
    for piece in pieces():
        def slope(t, x):
            i, _, _ = at(piece, t, mean)
            power = R20 * (1 + ALPHA * (x[0] - 20)) * i * i + UB * i
            flow, out = (x[0] - x[1]) / RWH, (x[1] - AMBIENT) / RHA
            return [(power - flow) * RWH / TW, (flow - out) * RHA / TH]
        done = solve_ivp(slope, piece[:2], state, method="DOP853", rtol=1e-11, atol=1e-11, max_step=0.1)
        state = done.y[:, -1]
        hottest = max(hottest, done.y[0].max())
    return state, hottest


def mean_winding(start, mean):
    """Mean of the winding over a cycle, by a further unknown of the integration."""
    state, total, time = list(start), 0.0, 0.0
    for piece in pieces():
        def slope(t, x):
            i, _, _ = at(piece, t, mean)
            power = R20 * (1 + ALPHA * (x[0] - 20)) * i * i + UB * i
            flow, out = (x[0] - x[1]) / RWH, (x[1] - AMBIENT) / RHA
            return [(power - flow) * RWH / TW, (flow - out) * RHA / TH, x[0]]
        done = solve_ivp(slope, piece[:2], [*state, 0.0], method="DOP853", rtol=1e-11, atol=1e-11, max_step=0.1)
        state, total, time = done.y[:2, -1], total + done.y[2, -1], piece[1]
    return total / time


def run():
    mean, start = AMBIENT, [AMBIENT, AMBIENT]
    for _ in range(12):
        start = fsolve(lambda x: np.subtract(play(x, mean)[0], x), start, xtol=1e-13)
        found = mean_winding(start, mean)
        if abs(found - mean) < 1e-7:
            break
        mean = found
    _, hottest = play(start, mean)
    time = list(pieces())[-1][1]

    def over(of):
        return sum(quad(lambda t: of(at(piece, t, mean)), *piece[:2], limit=200)[0] for piece in pieces())
    return {
        "winding_hottest": hottest,
        "cycle_current": math.sqrt(over(lambda x: x[0] ** 2) / time),
        "drawn_energy": over(lambda x: max(0.0, x[2])),
        "returned_energy": over(lambda x: max(0.0, -x[2])),
    }


def main():
    result = run()
    if "--check" in sys.argv[1:]:
        known = json.loads(RESULT.read_text())
        far = [key for key in result if abs(result[key] - known[key]) > 1e-6 * max(1.0, abs(known[key]))]
        print("differs: " + ", ".join(far) if far else "agrees")
        sys.exit(1 if far else 0)
    RESULT.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
