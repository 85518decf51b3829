"""The JSON Schema that `firstspin schema` prints, judged by an independent validator.

Every starter, example and built-in part must pass it; the same files with a slip planted must not.
"""

import copy
import json
import subprocess
import tomllib
import unittest
from pathlib import Path

from jsonschema import Draft202012Validator

ROOT = Path(__file__).resolve().parents[2]
BENCHES = sorted([*ROOT.glob("examples/*/bench.toml"), *ROOT.glob("crates/bench/starters/*/bench.toml")])
# Drafts hold planted mistakes; which of them the schema sees is their own tests' affair.
BENCHES = [path for path in BENCHES if "draft" not in path.parent.name]
PARTS = sorted([
    *(part for bench in BENCHES for part in bench.parent.glob("parts/*.toml")),
    *ROOT.glob("crates/bench/builtin/*.toml"),
])


def firstspin(*arguments):
    command = ["cargo", "run", "-q", "--release", "--bin", "firstspin", "--", *arguments]
    return subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True)


def read(path):
    return tomllib.loads(path.read_text(encoding="utf-8"))


class Schema(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.schemas = {}
        for name in ("bench", "part"):
            done = firstspin("schema", name)
            if done.returncode != 0:
                raise AssertionError(f"firstspin schema {name}: exit status {done.returncode}\n{done.stderr}")
            cls.schemas[name] = json.loads(done.stdout)

    def problems(self, name, instance):
        validator = Draft202012Validator(self.schemas[name])
        return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(instance)]

    def test_it_is_a_valid_schema(self):
        for name, schema in self.schemas.items():
            with self.subTest(name):
                Draft202012Validator.check_schema(schema)

    def test_all_benches_and_parts_pass(self):
        self.assertGreater(len(BENCHES), 0, "no bench found")
        for name, paths in (("bench", BENCHES), ("part", PARTS)):
            for path in paths:
                with self.subTest(str(path.relative_to(ROOT))):
                    self.assertEqual(self.problems(name, read(path)), [])

    def test_planted_slips_do_not_pass(self):
        for name, paths in (("bench", BENCHES), ("part", PARTS)):
            for path in paths:
                instance = read(path)
                unknown = copy.deepcopy(instance)
                unknown["no_such_key"] = "1 V"
                slips = {"unknown key": unknown}
                # A flag is true or false anyway.
                for key in (key for key, value in instance.items() if not isinstance(value, bool)):
                    slips[f"`{key}` is true"] = {**instance, key: True}
                if name == "part":
                    slips["no kind"] = {key: value for key, value in instance.items() if key != "kind"}
                for slip, planted in slips.items():
                    if planted == instance:
                        continue
                    with self.subTest(str(path.relative_to(ROOT)), slip=slip):
                        self.assertNotEqual(self.problems(name, planted), [])


if __name__ == "__main__":
    unittest.main()
