"""Reads the table of ten million rows with what a practitioner would script with, for `readers.rs` beside this file.

    python peer_read_csv.py FILE        (pip install numpy pandas polars pyarrow)

Each reader runs in a process of its own, nine times, the file read through once before each, so that it lies in memory
and its peak is its own. One line a reader: median, fastest and slowest in s, MB/s of the median, processor time, peak.
"""

import json
import os
import statistics
import subprocess
import sys

READERS = {
    "pandas, own engine": "import pandas as pd; d = pd.read_csv(PATH); n = len(d)",
    "pandas, pyarrow engine": "import pandas as pd; d = pd.read_csv(PATH, engine='pyarrow'); n = len(d)",
    "pyarrow": "import pyarrow.csv as pc; d = pc.read_csv(PATH); n = d.num_rows",
    "polars": "import polars as pl; d = pl.read_csv(PATH); n = d.height",
    "polars, as one matrix": "import polars as pl; d = pl.read_csv(PATH); a = d.to_numpy(); n = len(a)",
}

ONE = """
import json, resource, time
PATH = {path!r}
{imports}
with open(PATH, "rb") as file:
    while file.read(1 << 24):
        pass
cpu, start = time.process_time(), time.perf_counter()
{body}
took, cpu = time.perf_counter() - start, time.process_time() - cpu
assert n == 10_000_000, n
print(json.dumps([took, cpu, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""


def main():
    path = sys.argv[1]
    size = os.path.getsize(path) / 1e6
    for name, code in READERS.items():
        imports, body = code.split("; ", 1)
        program = ONE.format(path=path, imports=imports, body=body.replace("; ", "\n"))
        runs = [json.loads(subprocess.check_output([sys.executable, "-c", program])) for _ in range(9)]
        took = sorted(run[0] for run in runs)
        median = statistics.median(took)
        cpu = statistics.median(run[1] for run in runs)
        peak = max(run[2] for run in runs)
        print(
            f"{name}: {median:.3f} s ({took[0]:.3f} to {took[-1]:.3f}), {size / median:.0f} MB/s, "
            f"processor {cpu:.2f} s, peak {peak:.0f} MB"
        )


if __name__ == "__main__":
    main()
