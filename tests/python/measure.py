"""Measures the program as whole processes and writes the tables of docs/benchmarks.md.

    cargo build --release --bin firstspin
    python3 tests/python/measure.py            # prints the table
    python3 tests/python/measure.py --benches  # runs `cargo bench` too
    python3 tests/python/measure.py --benches --write

Wall time is the median of the runs, memory the largest resident set, but never less than that of this script, which
the system counts in. Measure on a machine that does nothing else: the load at the time stands above the table. Linux
only, for the memory.
"""

import argparse
import os
import platform
import re
import statistics
import subprocess
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target/release/firstspin"
STARTERS = ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm", "draft-bench"]
CRATES = ["worked", "numeric", "bench", "drive", "report"]


def run(arguments, folder):
    """Wall seconds, processor seconds and kilobytes of one run."""
    start = time.perf_counter()
    process = subprocess.Popen([PROGRAM, *arguments], cwd=folder, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        raise SystemExit(f"firstspin {' '.join(arguments)} ends with {os.waitstatus_to_exitcode(status)}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss


def row(what, arguments, folder, runs, limit):
    run(arguments, folder)
    measured = [run(arguments, folder) for _ in range(runs)]
    wall = statistics.median(m[0] for m in measured)
    processor = statistics.median(m[1] for m in measured)
    memory = max(m[2] for m in measured) / 1024
    return f"| {what} | {1e3 * wall:.1f} ms | {1e3 * processor:.1f} ms | {memory:.1f} MB | {limit} |\n"


def many_axes(folder, axes):
    """The shuttle's board, drive train and cables again and again."""
    subprocess.run([PROGRAM, "new", folder], check=True, stdout=subprocess.DEVNULL)
    text = """
[bench]
name = "many"
ambient = "8 .. 35 °C"
[controller]
part = "parts/two-port-controller.toml"
supply = "drive"
[supplies.drive]
part = "parts/supply-24v.toml"
[loads.disc]
kind = "disc"
inertia = "3 g·m²"
[motions.turn]
kind = "trapezoid"
distance = "1 rev"
top_speed = "60 rpm"
acceleration = "30 rad/s²"
"""
    for n in range(axes // 2):
        text += f"""
[drivers.b{n}]
part = "parts/twin-bridge.toml"
use = "two motors"
supplies = {{ motor = "drive", logic = "controller.5V", io = "controller.3V3" }}
pwm_frequency = "18 kHz"
limits = {{ input = "high" }}
[cables.f{n}]
part = "builtin:cable-1.0"
from = "drive"
to = "b{n}.motor"
length = "1 m"
"""
        for channel in "AB":
            text += f"""
[axes.x{n}{channel}]
driver = "b{n}.{channel}"
motor = "parts/motor-24.toml"
gearbox = "parts/planetary-27.toml"
encoder = "parts/encoder-16.toml"
load = "disc"
moves = "turn"
controls = "speed"
duty_limit = 0.9
[cables.m{n}{channel}]
part = "builtin:cable-0.5"
from = "b{n}.{channel}"
to = "axes.x{n}{channel}.motor"
length = "1 m"
"""
    (folder / "bench.toml").write_text(text, encoding="utf-8")


def processor_name():
    lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()


def processes(runs):
    load = os.getloadavg()[0]
    text = f"{os.cpu_count()} cores ({processor_name()}), {platform.system()}; load when measuring began: {load:.1f}.\n\n"
    text += "| what | wall | processor | memory | at most |\n| --- | --- | --- | --- | --- |\n"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for starter in STARTERS:
            subprocess.run([PROGRAM, "new", starter, "--starter", starter], cwd=folder, check=True, stdout=subprocess.DEVNULL)
            text += row(f"`check` of `{starter}`", ["check", starter], folder, runs, "30 ms, 100 MB")
        for starter in STARTERS:
            text += row(f"`report` of `{starter}`", ["report", starter], folder, max(3, runs // 3), "300 ms, 100 MB")
        for axes in (50, 100, 200):
            many_axes(folder / f"axes-{axes}", axes)
            limit = "1 s, 100 MB" if axes == 200 else "linear"
            text += row(f"`check` of {axes} axes", ["check", f"axes-{axes}", "--brief"], folder, 3, limit)
    return text


def benches(crates):
    """Median times of `cargo bench`, a table for all crates."""
    text = "| crate | benchmark | fastest | median |\n| --- | --- | --- | --- |\n"
    for crate in crates:
        command = ["cargo", "bench", "-q", "-p", f"firstspin-{crate}"]
        output = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
        above = []
        for line in output.splitlines():
            # `│  ├─ name   fastest │ slowest │ median │ mean │ samples │ iterations`
            found = re.match(r"^([│ ]*)[├╰]─ (.*)$", line)
            if not found:
                continue
            depth = len(found[1]) // 3
            cells = [cell.strip() for cell in found[2].split("│")]
            name, fastest = re.match(r"^(.*?)(?:\s{2,}([\d.]+ \S+))?$", cells[0]).groups()
            above = above[:depth] + [name.strip()]
            if fastest:
                text += f"| {crate} | {', '.join(above)} | {fastest} | {cells[2]} |\n"
    return text


def placed(page, name, table):
    """The page with a table between its marks replaced."""
    begin, end = f"<!-- {name}: begin -->\n", f"<!-- {name}: end -->"
    start, stop = page.index(begin) + len(begin), page.index(end)
    return f"{page[:start]}\n{table}\n{page[stop:]}"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="write the tables into docs/benchmarks.md")
    parser.add_argument("--benches", action="store_true", help="run `cargo bench` too")
    parser.add_argument("--runs", type=int, default=30, help="runs of each")
    options = parser.parse_args()
    tables = {"processes": processes(options.runs)}
    if options.benches:
        tables["benches"] = benches(CRATES)
    if not options.write:
        print("\n".join(tables.values()), end="")
        return
    page = ROOT / "docs/benchmarks.md"
    text = page.read_text(encoding="utf-8")
    for name, table in tables.items():
        text = placed(text, name, table)
    page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
