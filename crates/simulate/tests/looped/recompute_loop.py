"""A drive under a sampled loop with a counting encoder, by the general integrator of tests/integrated.

A PI law at 1 kHz sees only counts, its duty is rounded to the counts of a timer and takes effect with the next sample. The
two programs can agree only up to the first count that rounding makes differ; up to there they have to.

Without arguments it writes looped.json anew; with --check it compares, and leaves with status 0 where they agree.
"""

import json
import math
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "integrated"))
from balances import A, I, W  # noqa: E402
from cases import BASE  # noqa: E402
from recompute import Run  # noqa: E402

RESULT = Path(__file__).with_name("looped.json")
DRIVE = {
    **BASE, "supply_voltage": 24.0, "supply_resistance": 0.1, "frequency": 20e3, "resistance": 3.5, "winding_resistance": 3.3,
    "inductance": 1.1e-3, "constant": 0.038, "brush_drop": 0.3, "inertia": 6e-6, "friction": 7e-3,
    "viscous_friction": 3e-6, "ratio": 1.0, "efficiency": 1.0, "back_efficiency": 1.0, "load_inertia": 0.0,
    "load_friction": 0.0, "load_viscous": 0.0,
}
LOOP = {
    "rate": 1000.0, "lines": 100.0, "bits": 12, "duty_counts": 1200.0, "proportional": 0.03, "integral": 3.0,
    "reference": 300.0, "samples": 80,
}


def count_of(angle):
    """All edges of both channels, zero just above the angle zero, at the width of the counter."""
    half = 1 << (LOOP["bits"] - 1)
    return (math.floor(4 * LOOP["lines"] * angle / math.tau) + half) % (2 * half) - half


def run():
    p = {**DRIVE}
    drive, span = Run(p), 1 / p["frequency"]
    per_sample = round(p["frequency"] / LOOP["rate"])
    period, before, integral, duty, samples = 0, 0, 0.0, 0.0, []
    for _ in range(LOOP["samples"]):
        count = count_of(drive.y[A])
        samples.append([period * span, count, float(drive.y[I]), float(drive.y[W])])
        width = 1 << LOOP["bits"]
        moved = (count - before + width // 2) % width - width // 2
        before = count
        error = LOOP["reference"] - moved * math.tau / (4 * LOOP["lines"]) * LOOP["rate"]
        grown = integral + LOOP["integral"] / LOOP["rate"] * error
        voltage = LOOP["proportional"] * error + grown
        if abs(voltage) <= p["supply_voltage"]:
            integral = grown
        said = max(-1.0, min(1.0, voltage / p["supply_voltage"]))
        now, duty = duty, math.floor(abs(said) * LOOP["duty_counts"] + 0.5) / LOOP["duty_counts"] * math.copysign(1, said)
        for _ in range(per_sample):
            start = period * span
            for asked, a, b in drive.windows(now):
                drive.window(asked, start + a, start + b, start + span)
            period += 1
    return dict(set_up=DRIVE, loop=LOOP, samples=samples)


def main():
    found = run()
    if "--check" not in sys.argv:
        RESULT.write_text(json.dumps(found) + "\n")
        return
    kept = json.loads(RESULT.read_text())
    assert found["set_up"] == kept["set_up"] and found["loop"] == kept["loop"]
    for is_, due in zip(found["samples"], kept["samples"], strict=True):
        if is_[1] != due[1]:
            # On another processor the last bits may make a count differ.
            break
        assert abs(is_[2] - due[2]) < 1e-9 and abs(is_[3] - due[3]) < 1e-7, (is_, due)


if __name__ == "__main__":
    main()
