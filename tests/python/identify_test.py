"""Parameters of a log by scipy, beside those that the program finds in it.

An output-error fit of its own: the linear drive is taken from row to row by scipy.linalg.expm, currents and counts are
compared over a staircase whose shaft turns one way, and scipy.optimize.least_squares searches. It shares no code with the
program, and begins where the shaft turns, with the state there as parameters.
"""

import csv
import json
import math
import pathlib
import subprocess
import tempfile
import unittest

import numpy as np
from scipy.linalg import expm
from scipy.optimize import least_squares

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target" / "release" / "firstspin"
TRIAL = """
[trials.stairs]
axis = "left"
shaft = "free"
sample_rate = "2.25 kHz"
input = { kind = "staircase", levels = { a = 0.08, b = 0.11, c = 0.15, d = 0.2, e = 0.24 }, hold = "120 ms" }
"""
NAMES = ["resistance", "inductance", "torque_constant", "inertia", "coulomb_friction", "viscous_friction", "brush_drop"]
# How far both may lie apart, in parts: they compare other rows, and counts of a coarse encoder.
APART = {"inductance": 0.02, "coulomb_friction": 0.02, "viscous_friction": 0.1}


def run(*arguments, folder):
    done = subprocess.run([PROGRAM, *arguments], cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


def play(values, start, voltage, step):
    """Current, and angle, row by row, of a shaft that turns forward."""
    r, l, k, j, friction, viscous, drop = values
    a = np.zeros((4, 4))
    # i, ω, θ, and a one that carries what is constant within a row.
    a[0] = [-r / l, -k / l, 0.0, 0.0]
    a[1] = [k / j, -viscous / j, 0.0, -friction / j]
    a[2] = [0.0, 1.0, 0.0, 0.0]
    per_volt = a.copy()
    per_volt[0, 3] = 1.0 / l
    alone, with_one = expm(a * step), expm(per_volt * step)
    gain = with_one[:3, 3] - alone[:3, 3]
    state, found = np.array([start[0], start[1], start[2]]), []
    for u in voltage:
        found.append(state)
        state = alone[:3, :3] @ state + alone[:3, 3] + gain * (u - drop)
    return np.array(found)


class Identified(unittest.TestCase):
    def test_a_staircase_tells_scipy_the_same(self):
        with tempfile.TemporaryDirectory() as folder:
            run("new", "bench", folder=folder)
            bench = pathlib.Path(folder) / "bench"
            text = (bench / "bench.toml").read_text(encoding="utf-8")
            (bench / "bench.toml").write_text(text + TRIAL, encoding="utf-8")
            run("predict", "stairs", "--builds", "0", "--out", "stairs.csv", folder=bench)
            told = json.loads(run("identify", "stairs.csv", "--temperature", "20°C", "--format", "json", folder=bench))
            with (bench / "stairs.csv").open(encoding="utf-8", newline="") as log:
                rows = list(csv.DictReader(log))
        mine = {p["name"]: p["value"] for p in told["axes"][0]["parameters"]}
        # By the duty, switches and leads would be in the resistance.
        self.assertIn("driven by the voltage at the motor", " ".join(told["axes"][0]["sheet"]["summary"]))
        names = ["time [s]", "current [A]", "count", "motor voltage [V]"]
        time, current, count, mean_voltage = (np.array([float(row[name]) for row in rows]) for name in names)
        # A voltage is the mean since the row before.
        voltage = mean_voltage[1:]
        step = time[1] - time[0]
        per_turn = 64.0
        angle = (count + 0.5) * 2.0 * math.pi / per_turn
        first = int(0.06 / step)
        while current[first] <= 0.0 or count[first + 5] == count[first]:
            first += 1
        last = len(time) - 1
        # At the end the duty stays, so the shaft turns to the last row.
        window = slice(first, last)
        sigma_i, sigma_angle = 1e-3, 2.0 * math.pi / per_turn / math.sqrt(12.0)
        start = np.array([3.5, 1.4e-3, 0.036, 6e-6, 3e-3, 3e-6, 0.4])
        turning = (angle[first + 20] - angle[first]) / (20 * step)
        begin = np.array([current[first], turning, angle[first]])

        def residual(x):
            found = play(start * np.exp(x[:7]), begin + x[7:] * [0.1, 1.0, 0.1], voltage[window], step)
            return np.concatenate([
                (found[:, 0] - current[window]) / sigma_i,
                (found[:, 2] - angle[window]) / sigma_angle,
            ])

        fit = least_squares(residual, np.zeros(10), method="lm")
        scipy_values = dict(zip(NAMES, start * np.exp(fit.x[:7])))
        for name, value in scipy_values.items():
            self.assertLess(abs(mine[name] / value - 1.0), APART.get(name, 0.01), f"{name}: {mine[name]} and {value} by scipy")


if __name__ == "__main__":
    unittest.main()
