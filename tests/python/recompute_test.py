"""Expectations that were computed outside the program are still what their scripts compute.

A script `recompute*.py` stands with the tests that use its result, somewhere under a crate's `tests/`. Without
arguments it writes its result file anew; with `--check` it compares, and leaves with status 0 where they agree.
"""

import subprocess
import sys
import unittest
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def check_of(script):
    def check():
        command = [sys.executable, "-B", str(script), "--check"]
        done = subprocess.run(command, cwd=script.parent, stdin=subprocess.DEVNULL, capture_output=True, text=True)
        if done.returncode != 0:
            raise AssertionError(f"exit status {done.returncode}\n{done.stdout}{done.stderr}")

    return check


def load_tests(loader, tests, pattern):
    for script in sorted(ROOT.glob("crates/*/tests/**/recompute*.py")):
        tests.addTest(unittest.FunctionTestCase(check_of(script), description=str(script.relative_to(ROOT))))
    return tests


if __name__ == "__main__":
    unittest.main()
