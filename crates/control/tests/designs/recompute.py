"""240 random loops by python-control and SciPy: discretisation, margins and steps, from the physical state of the drive.

The plant is discretised by python-control from current, speed and angle; L is evaluated on a dense grid of frequencies, and its
margins are those that python-control finds on that grid. Steps are the difference equations of the loop, played in plain Python.

Without arguments it writes designs.json anew; with --check it compares, and leaves with status 0 where they agree.
"""

import json
import math
import sys
import warnings
from pathlib import Path

import control as ct
import numpy as np
from scipy.optimize import brentq, minimize_scalar

RESULT = Path(__file__).with_name("designs.json")
COUNT = 240


def drawn():
    """Drives and laws: tight and loose, windows of counts or sampled outputs, with and without a position loop."""
    random = np.random.default_rng(20)

    def log(low, high):
        return float(low * (high / low) ** random.random())

    for k in range(COUNT):
        r = log(0.3, 8)
        l, ke, j, b = r * log(5e-5, 5e-3), log(0.005, 0.1), log(5e-7, 1e-4), log(1e-7, 1e-5)
        window = 0 if k % 4 == 3 else int(1 + random.random() * 20)
        time = log(2e-4, 4e-3)
        crossover = log(0.2, 0.7) / (time * (1.5 + 0.5 * window) + l / r)
        slow = r * j / (ke * ke + r * b)
        gain = r * j / ke * crossover
        yield dict(
            resistance=r, inductance=l, constant=ke, inertia=j, viscous_friction=b, voltage_factor=log(0.9, 1.1), sample_time=time,
            gain=gain, integral_time=min(slow, 4 / crossover), weight=float(random.random()), forward=ke, window=window,
            position_gain=crossover * log(0.05, 0.25) if window and random.random() < 0.5 else 0.0, torque=log(1e-3, 1e-1),
        )


class Design:
    """A loop from the physical state: current, speed, angle."""

    def __init__(self, d):
        self.d = d
        r, l, k, j, b = (d[n] for n in ("resistance", "inductance", "constant", "inertia", "viscous_friction"))
        a = np.array([[-r / l, -k / l, 0], [k / j, -b / j, 0], [0, 1, 0]])
        into = np.array([[d["voltage_factor"] / l, 0], [0, -1 / j], [0, 0]])
        # Both inputs held: the voltage and the torque of the load.
        sampled = ct.c2d(ct.ss(a, into, np.eye(3), 0), d["sample_time"], "zoh")
        self.a, self.b = np.asarray(sampled.A), np.asarray(sampled.B)

    def loop(self, angle):
        d, z = self.d, np.exp(1j * np.atleast_1d(angle))
        time, n, ki = d["sample_time"], d["window"], d["gain"] * d["sample_time"] / d["integral_time"]
        a, b = self.a[:2, :2], self.b[:2, 0]
        det = (z - a[0, 0]) * (z - a[1, 1]) - a[0, 1] * a[1, 0]
        current = ((z - a[1, 1]) * b[0] + a[0, 1] * b[1]) / det
        speed = (a[1, 0] * b[0] + (z - a[0, 0]) * b[1]) / det
        moved = self.a[2, 0] * current + self.a[2, 1] * speed + self.b[2, 0]
        pi = d["gain"] + ki / (z - 1)
        if n == 0:
            return pi * speed / z
        mean = moved / time / z
        f = pi * sum(z**-i for i in range(n)) / n
        if d["position_gain"]:
            f = f + d["position_gain"] * (d["weight"] * d["gain"] + d["forward"] + ki / (z - 1)) * time * z / (z - 1)
        return f * mean / z

    def margins(self):
        time = self.d["sample_time"]
        angles = np.geomspace(math.pi * 1e-5, math.pi, 1501)
        data = self.loop(angles)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            gains, phases, _, turns, crossings, _ = ct.stability_margins(
                ct.frd(data, angles / time), returnall=True)
        # The grid is dense enough to tell which crossings there are; where they lie is located anew.
        gain = -1 / data[-1].real if data[-1].real < 0 and -1 / data[-1].real > 1 else math.inf
        for by_grid, turn in zip(gains, turns, strict=True):
            angle = turn * time
            # Beyond a thousand only zeros of the window lie.
            if 1 < by_grid < 1e3 and angle < 0.999 * math.pi:
                low, high = angle * (1 - 1e-2), min(angle * (1 + 1e-2), math.pi)
                root = brentq(lambda x: self.loop(x)[0].imag, low, high, xtol=1e-14)
                located = -1 / self.loop(root)[0].real
                assert abs(located - by_grid) < 1e-2 * located, (located, by_grid)
                gain = min(gain, located)
        least = np.argmin(np.abs(1 + data))
        low, high = angles[max(least - 1, 0)], angles[min(least + 1, len(angles) - 1)]
        peak = minimize_scalar(lambda x: abs(1 + self.loop(x)[0]), bounds=(low, high), method="bounded", options=dict(xatol=1e-12))
        phase, delay = math.inf, math.inf
        for crossing in crossings:
            angle = crossing * time
            width = 1e-2 * angle
            root = brentq(lambda x: abs(self.loop(x)[0]) - 1, angle - width, min(angle + width, math.pi), xtol=1e-14)
            left = math.remainder(math.pi + np.angle(self.loop(root)[0]), math.tau)
            phase, delay = min(phase, abs(left)), min(delay, left % math.tau / root * time)
        by_grid = min((abs(math.radians(p)) for p in phases), default=math.inf)
        assert phase == by_grid or abs(phase - by_grid) < 1e-2, (phase, by_grid)
        return dict(gain=float(gain), phase=float(phase), delay=float(delay), distance=float(min(peak.fun, np.abs(1 + data).min())))

    def play(self, reference, torque, samples):
        """Output at the ticks."""
        d = self.d
        time, n, ki = d["sample_time"], d["window"], d["gain"] * d["sample_time"] / d["integral_time"]
        x, integral, voltage, places, out = np.zeros(3), 0.0, 0.0, [0.0] * (n + 1), []
        for _ in range(samples):
            places = [float(x[2]), *places[:n]]
            measured = (places[0] - places[n]) / (n * time) if n else float(x[1])
            asked = d["position_gain"] * (reference - float(x[2])) if d["position_gain"] else reference
            said = d["gain"] * (d["weight"] * asked - measured) + integral + d["forward"] * asked
            integral += ki * (asked - measured)
            out.append(float(x[2] if d["position_gain"] else x[1]))
            x = self.a @ x + self.b @ np.array([voltage, torque])
            voltage = said
        return out


def figures(d):
    design = Design(d)
    length = 600
    step, load = design.play(1.0, 0.0, length), design.play(0.0, d["torque"], length)
    y, time = np.array(step), d["sample_time"]
    crossing = lambda level: float(np.interp(0, *_around(y, level))) * time
    rise = crossing(0.9) - crossing(0.1) if y.max() >= 0.9 else None
    outside = np.flatnonzero(np.abs(y - 1) > 0.02)
    settling = None if outside.size and outside[-1] == length - 1 else float((outside[-1] + 1) * time if outside.size else 0)
    return dict(
        **design.margins(), rise=rise, overshoot=float(max(y.max() - 1, 0)), settling=settling, depth=float(np.abs(load).max()),
        step=[step[k] for k in (5, 50, 200, 599)], load=[load[k] for k in (5, 50, 200, 599)],
    )


def _around(y, level):
    """The two ticks around the first crossing of a level, so that their numbers are interpolated at it."""
    k = int(np.argmax(y >= level))
    return [y[k - 1] - level, y[k] - level], [k - 1, k]


def main():
    found = [dict(design=d, found=figures(d)) for d in drawn()]
    if "--check" not in sys.argv:
        # A loop that has no limit of its gain has none in JSON either.
        text = json.dumps(found, default=float).replace("Infinity", "null")
        RESULT.write_text(text.replace('}}, {"design"', '}},\n{"design"') + "\n")
        return
    kept = json.loads(RESULT.read_text())
    assert len(found) == len(kept)
    for is_, due in zip(found, kept, strict=True):
        flat = lambda one: [v for value in one.values() for v in (value if isinstance(value, list) else [value])]
        for a, b in zip(flat({**is_["design"], **is_["found"]}), flat({**due["design"], **due["found"]}), strict=True):
            none = a is None or not math.isfinite(a)
            assert (none and b is None) or abs(a - b) <= 1e-5 * abs(b) + 1e-12, (a, b, due)


if __name__ == "__main__":
    main()
