"""The JSON Schema that fairwhy prints, tried with readers and a validator that are not ours.

YAML is read by ruamel.yaml as YAML 1.2, and validated by jsonschema (Julian Berman and others, PyPI)
after JSON Schema draft 2020-12. Every file that ships and every template must pass. Of
tests/cases/invalid, which our own reader refuses, those whose fault shows in one value by itself must
fail; the rest must pass: only `fairwhy check` can judge them.

    python tests/reference/schema.py --check    fails when any of that does not hold
"""

import json
import subprocess
import sys
from pathlib import Path

from jsonschema import Draft202012Validator
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

ROOT = Path(__file__).resolve().parents[2]
INVALID = ROOT / "tests/cases/invalid"

# Faults of shape: a schema sees one value at a time.
OF_SHAPE = """
bad-id body-words empty-item empty-step empty-text empty-value key-not-text key-twice missing-key not-on-list
off-scale out-of-range several-documents tag told-twice too-deep unknown-id unknown-key wrong-type
wrong-type-list yaml-syntax-backslash yaml-syntax-colon yaml-syntax-indent yaml-syntax-quote
yaml-syntax-sign yaml-syntax-tab
""".split()


def parse(text):
    return YAML(typ="safe", pure=True).load(text)


def main():
    program = ROOT / "target/debug/fairwhy"
    printed = subprocess.run([program, "schema"], capture_output=True, check=True)
    schema = json.loads(printed.stdout)
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    troubles = []

    def fits(text):
        try:
            return next(validator.iter_errors(parse(text)), None)
        except YAMLError as error:
            return error

    good = sorted((ROOT / "knowledge").rglob("*.yaml"))
    assert len(good) > 10, "the shipped library is there"
    for path in good:
        error = fits(path.read_text("utf-8"))
        if error is not None:
            troubles.append(f"{path.relative_to(ROOT)} does not fit: {str(error)[:300]}")

    for kind in ["drill", "fault", "cause", "outcome", "link"]:
        template = subprocess.run([program, "add", kind, "--template"], capture_output=True, check=True)
        value = parse(template.stdout.decode())
        lists = {"drills", "faults", "causes", "outcomes", "links"}
        if not lists & set(value):
            value = {kind + "s": [value]}
        error = next(validator.iter_errors(value), None)
        if error is not None:
            troubles.append(f"the template of a {kind} does not fit: {str(error)[:300]}")

    refused = sorted(path.stem for path in INVALID.glob("*.yaml") if fits(path.read_text("utf-8")) is not None)
    if refused != sorted(OF_SHAPE):
        troubles.append(f"refused are other files of tests/cases/invalid than listed: {sorted(set(refused) ^ set(OF_SHAPE))}")

    for trouble in troubles:
        print(trouble)
    print(f"{len(good)} shipped files and 5 templates fit, {len(refused)} wrong ones do not")
    return 1 if troubles else 0


if __name__ == "__main__":
    sys.exit(main())
