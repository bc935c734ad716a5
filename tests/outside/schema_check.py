"""The JSON Schemas that `schema` prints, by the Python package jsonschema (JSON Schema draft 2020-12).

Every file that the program reads must be valid by its schema; a file of the invalid fixtures in which the program finds
a fault that a schema can tell must be refused by it, and what a schema refuses the program must refuse.
"""

import json
import pathlib
import re
import subprocess
import tomllib

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
KINDS = ("installation", "test-set", "ruleset")
# Codes of errors that are of one table alone, whatever else the file holds.
TOLD_BY_SCHEMA = {"wrong-type", "unknown-key", "missing-key", "not-one-of", "unknown-format", "not-above-zero", "bad-indication"}


def schemas(program):
    """By kind, a validator of it."""
    found = {}
    for kind in KINDS:
        printed = subprocess.run([program, "schema", kind], capture_output=True, text=True, check=True).stdout
        schema = json.loads(printed)
        jsonschema.Draft202012Validator.check_schema(schema)
        found[kind] = jsonschema.Draft202012Validator(schema)
    return found


def content(path):
    """What a file holds, or nothing where Python can't read it."""
    try:
        return (json.loads if path.suffix == ".json" else tomllib.loads)(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError):
        return None


def kind_of(file):
    return next((kind for kind in ("installation", "ruleset") if kind in file), "test-set")


def codes(program, kind, path):
    """The exit status and the codes of the errors that the program finds."""
    small = str(ROOT / "tests/fixtures/small/intermediate.toml")
    command = {"installation": ["check", path], "test-set": ["check", small, path], "ruleset": ["rules", "--rules", path]}
    done = subprocess.run([program, *map(str, command[kind])], capture_output=True, text=True)
    return done.returncode, set(re.findall(r"\[([a-z0-9-]+)\]", done.stdout + done.stderr))


def outcomes(program):
    """(file, check, disagreements) rows."""
    validators = schemas(program)
    folders = [ROOT / name for name in ("tests/fixtures", "demo", "examples", "src/input/rulesets")]
    paths = sorted(path for folder in folders for ending in ("toml", "json") for path in folder.rglob(f"*.{ending}"))
    for path in paths:
        name, file = str(path.relative_to(ROOT)), content(path)
        if "invalid" in path.parts:
            kind = {"record": "test-set"}.get(path.parent.name, path.parent.name)
            if file is None:
                continue
            status, found = codes(program, kind, path)
            refused = not validators[kind].is_valid(file)
            wrong = [f"accepted with {sorted(found & TOLD_BY_SCHEMA)}"] if found & TOLD_BY_SCHEMA and not refused else []
            wrong += ["refused, and the program reads it"] if refused and status != 2 else []
            yield name, "schema: refuses what it can", wrong
        else:
            wrong = [error.message for error in validators[kind_of(file)].iter_errors(file)] if file is not None else ["unreadable"]
            yield name, "schema: accepts valid files", wrong
