"""Runs all benchmarks and writes their figures into docs/benchmarks.md.

    python3 tests/python/measure.py            # prints the tables
    python3 tests/python/measure.py --write    # writes them into docs/benchmarks.md

Measure on a machine that does nothing else: the load when measuring began stands above the tables. The benchmarks
themselves are in crates/*/benches.
"""

import argparse
import os
import platform
import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CRATES = ["worked", "numeric", "bench", "drive", "logs", "wiring", "simulate", "identify", "check", "report"]


def bench(package, *options):
    """What a package's benchmarks print."""
    command = ["cargo", "bench", "-q", "-p", package, *options]
    return subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout


def machine():
    about = Path("/proc/cpuinfo")
    lines = about.read_text(encoding="utf-8").splitlines() if about.exists() else []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    name = names[0] if names else platform.machine()
    return f"{os.cpu_count()} cores ({name}), {platform.system()}; load when measuring began: {os.getloadavg()[0]:.1f}.\n"


def processes():
    """The whole program, from `cargo bench -p firstspin --bench process`."""
    rows = ["| command | shortest | middle | at most | memory |", "| --- | --- | --- | --- | --- |"]
    for line in bench("firstspin", "--bench", "process").splitlines()[1:]:
        command, *numbers = re.split(r"\s{2,}", line.strip())
        rows.append(f"| `firstspin {command}` | {' | '.join(numbers)} |")
    return "\n".join(rows) + "\n"


def inside():
    """Shortest and median times of the benchmarks of each crate."""
    rows = ["| crate | benchmark | fastest | median |", "| --- | --- | --- | --- |"]
    for crate in CRATES:
        above = []
        for line in bench(f"firstspin-{crate}").splitlines():
            # `│  ├─ name   fastest │ slowest │ median │ mean │ samples │ iterations`
            found = re.match(r"^([│ ]*)[├╰]─ (.*)$", line)
            if not found:
                continue
            depth = len(found[1]) // 3
            cells = [cell.strip() for cell in found[2].split("│")]
            name, fastest = re.match(r"^(.*?)(?:\s+([\d.]+ [nµm]?s))?$", cells[0]).groups()
            above = [*above[:depth], name.strip()]
            if fastest:
                rows.append(f"| {crate} | {', '.join(above)} | {fastest} | {cells[2]} |")
    return "\n".join(rows) + "\n"


def placed(page, name, table):
    """The page with what stands between the marks of a table replaced."""
    begin, end = f"<!-- {name}: begin -->\n", f"<!-- {name}: end -->"
    start, stop = page.index(begin) + len(begin), page.index(end)
    return f"{page[:start]}\n{table}\n{page[stop:]}"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="write the tables into docs/benchmarks.md")
    options = parser.parse_args()
    tables = {"machine": machine(), "processes": processes(), "inside": inside()}
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
