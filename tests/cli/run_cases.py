#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Runs the command-line cases of tests/cli/*.txt.

Usage: run_cases.py --shimsight PROGRAM --fixtures MAKE_FIXTURES [--only WORDS] [FILE.txt ...]

A case begins with a line [title]; its other lines are `key: value`, keys may repeat:
  before   words after "shimsight" as in args, run before it and expected to end with status 0; may repeat
  overwrite NAME TEXT: after that, the file {out}/NAME gets this text, with escapes such as \\n
  args     the words after "shimsight", split as a shell would; {sets} is models/gear-sets, {samples} is samples, {fix}
           the fixtures, {out} an empty folder of the case's own, in which the program also runs
  edit     FILE FIELD VALUE: the gear set {sets}/FILE with the dotted FIELD set to the JSON text VALUE (or removed, when
           VALUE is the word removed), as {out}/axle.json; further edits add to it
  text     NAME TEXT: the file {out}/NAME with this text
  settings TEXT: the settings of the user's shop, JSON; without it there are none
  stdin    a line of the standard input; further ones add to it
  status   the exit status that is wanted (obligatory)
  stdout   a text that the standard output must hold, line breaks read as spaces; stderr likewise; not-stdout, not-stderr:
           must not hold
  json     the standard output must be valid by models/schemas/VALUE-1.schema.json
  value    PATH LOW HIGH: the number at the dotted PATH of the JSON lies in LOW..HIGH; or PATH = JSON TEXT
  valid    NAME FILE: the file {out}/FILE must be valid by models/schemas/NAME-1.schema.json
  holds    NAME TEXT: the file {out}/NAME must hold TEXT
  writes   names of all files that must be there afterwards, beside those of edit and text; default: none

Always checked: no crash (only the statuses 0, 1 and 2), no sentence of a broken check, at most 60 seconds of processor, no left-over
part file; with status 0 an empty standard error unless the case names one; with 1 or 2 every line of the standard error
begins with "shimsight: " and ends with a full stop, and standard output is empty or JSON.
"""

import argparse
import json
import os
import pathlib
import re
import resource
import shlex
import signal
import subprocess
import sys
import tempfile

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parents[2]
KEYS = {"settings", "before", "overwrite", "args", "stdin", "edit", "text", "status", "stdout", "stderr", "not-stdout", "not-stderr", "json", "value", "valid", "holds", "writes"}
# Of processor, which says more than the clock on a machine that is busy with other things; and where it hangs.
PROCESSOR_S, TIMEOUT_S = 60, 300


def boundProcessor():
    resource.setrlimit(resource.RLIMIT_CPU, (PROCESSOR_S, PROCESSOR_S + 5))


def readCases(path):
    cases = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        line = line.strip()
        if not line or line.startswith("#"):
            continue
        if line.startswith("[") and line.endswith("]"):
            cases.append({"title": line[1:-1], "where": f"{path.name}:{number}"})
            continue
        key, colon, value = line.partition(":")
        if not colon or key not in KEYS or not cases:
            sys.exit(f"{path}:{number}: not understood: {line}")
        cases[-1].setdefault(key, []).append(value.strip())
    for case in cases:
        if len(case.get("status", [])) != 1 or len(case.get("args", [])) != 1:
            sys.exit(f"{path}: [{case['title']}] needs one args line and one status line")
    return cases


def edited(document, field, value):
    *parents, last = field.split(".")
    for parent in parents:
        document = document.setdefault(parent, {})
    if value == "removed":
        del document[last]
    else:
        # Kept as text: NaN and repeated keys are not JSON that Python would write.
        document[last] = f"@@{value}@@"


def validatorOf(name):
    """Of NAME-1.schema.json. Schemas refer to one another by their $id; all are put into one, so nothing is fetched."""
    schemas = {path.name: json.loads(path.read_text()) for path in (ROOT / "models/schemas").glob("*.json")}
    files = {schema.pop("$id"): file for file, schema in schemas.items()}

    def moved(node, file):
        if isinstance(node, list):
            return [moved(item, file) for item in node]
        if not isinstance(node, dict):
            return node
        node = {key: moved(value, file) for key, value in node.items()}
        if isinstance(node.get("$ref"), str):
            address, _, place = node["$ref"].partition("#")
            node["$ref"] = f"#/definitions/{files[address] if address else file}{place}"
        return node

    definitions = {file: moved(schema, file) for file, schema in schemas.items()}
    return jsonschema.Draft7Validator({"$ref": f"#/definitions/{name}-1.schema.json", "definitions": definitions})


def at(document, path):
    for part in path.split("."):
        document = document[int(part)] if isinstance(document, list) else document[part]
    return document


def faultsOf(case, program, fixtures):
    faults = []
    with (tempfile.TemporaryDirectory(prefix="shimsight-cli-") as folder,
          tempfile.TemporaryDirectory(prefix="shimsight-cli-") as config):
        out = pathlib.Path(folder)
        # Whoever runs the tests may have settings of their own.
        env = {**os.environ, "XDG_CONFIG_HOME": config}
        for text in case.get("settings", []):
            (pathlib.Path(config) / "shimsight").mkdir()
            (pathlib.Path(config) / "shimsight/settings.json").write_text(text)
        for line in case.get("edit", []):
            name, field, value = line.split(None, 2)
            target = out / "axle.json"
            document = json.loads((target if target.exists() else ROOT / "models/gear-sets" / name).read_text())
            edited(document, field, value)
            text = json.dumps(document)
            text = re.sub(r'"@@(.*?)@@"', lambda m: json.loads(f'"{m.group(1)}"'), text)
            target.write_text(text)
        for line in case.get("text", []):
            name, _, text = line.partition(" ")
            (out / name).write_text(text)
        places = {"{sets}": ROOT / "models/gear-sets", "{samples}": ROOT / "samples", "{fix}": fixtures, "{out}": out}

        def wordsOf(line):
            words = shlex.split(line)
            for name, place in places.items():
                words = [word.replace(name, str(place)) for word in words]
            return words

        for line in case.get("before", []):
            done = subprocess.run([program, *wordsOf(line)], cwd=out, env=env, stdin=subprocess.DEVNULL, capture_output=True,
                                  timeout=TIMEOUT_S, check=False, preexec_fn=boundProcessor)
            if done.returncode != 0:
                return [f"before: status {done.returncode}: {line}", "  | " + done.stderr.decode("utf-8", "replace")]
        for line in case.get("overwrite", []):
            name, _, text = line.partition(" ")
            (out / name).write_text(text.encode().decode("unicode_escape"))
        before = {str(path.relative_to(out)) for path in out.rglob("*")}
        words = wordsOf(case["args"][0])
        try:
            lines = "".join(line + "\n" for line in case.get("stdin", []))
            done = subprocess.run([program, *words], cwd=out, env=env, input=lines.encode(), capture_output=True, timeout=TIMEOUT_S, check=False,
                                  preexec_fn=boundProcessor)
        except subprocess.TimeoutExpired:
            return [f"no answer within {TIMEOUT_S} s"]
        if done.returncode == -signal.SIGXCPU:
            return [f"no answer within {PROCESSOR_S} s of processor"]
        stdout, stderr = done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace")

        wanted = int(case["status"][0])
        if done.returncode != wanted:
            faults.append(f"status {done.returncode}, wanted {wanted}")
        if "a fault in the program" in stderr or "Sanitizer" in stderr or "runtime error" in stderr:
            faults.append("a fault in the program")
        if wanted == 0 and stderr and not case.get("stderr"):
            faults.append("something on the standard error")
        if wanted != 0:
            if not stderr:
                faults.append("no sentence on the standard error")
            for line in stderr.splitlines():
                if not line.startswith("shimsight: ") or not line.endswith("."):
                    faults.append(f"no plain sentence: {line}")
            if stdout and "json" not in case:
                faults.append("something on the standard output")
        for key, text in (("stdout", stdout), ("stderr", stderr)):
            # Where lines break depends on the length of file names.
            text = text + " ".join(text.split())
            for part in case.get(key, []):
                if part not in text:
                    faults.append(f"{key} does not hold: {part}")
            for part in case.get("not-" + key, []):
                if part in text:
                    faults.append(f"{key} holds: {part}")

        document = None
        if "json" in case or "value" in case:
            try:
                document = json.loads(stdout)
            except ValueError as error:
                faults.append(f"standard output is no JSON: {error}")
        for name in case.get("json", []):
            if document is not None:
                for error in validatorOf(name).iter_errors(document):
                    faults.append(f"schema {name}: {'/'.join(map(str, error.absolute_path))}: {error.message[:200]}")
        for line in case.get("value", []):
            if document is None:
                continue
            try:
                path, rest = line.split(None, 1)
                found = at(document, path)
                if rest.startswith("="):
                    if found != json.loads(rest[1:]):
                        faults.append(f"{path} is {json.dumps(found)}, wanted {rest[1:].strip()}")
                else:
                    low, high = map(float, rest.split())
                    if not low <= found <= high:
                        faults.append(f"{path} is {found}, wanted {low} to {high}")
            except (KeyError, IndexError, TypeError) as error:
                faults.append(f"value {line}: {error!r}")

        for line in case.get("valid", []):
            name, file = line.split()
            if not (out / file).is_file():
                faults.append(f"no file {file}")
                continue
            for error in validatorOf(name).iter_errors(json.loads((out / file).read_text())):
                faults.append(f"schema {name}: {'/'.join(map(str, error.absolute_path))}: {error.message[:200]}")

        for line in case.get("holds", []):
            file, text = line.split(None, 1)
            if not (out / file).is_file() or text not in (out / file).read_text():
                faults.append(f"{file} without {text}")

        after = {str(path.relative_to(out)) for path in out.rglob("*") if path.is_file() or not any(path.iterdir())}
        written = after - before
        expected = set(" ".join(case.get("writes", [])).split())
        if written != expected:
            faults.append(f"wrote {sorted(written) or 'nothing'}, wanted {sorted(expected) or 'nothing'}")
        if faults:
            faults.append("  $ shimsight " + " ".join(words))
            faults.extend("  | " + line for line in (stderr + stdout).splitlines()[:12])
    return faults


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--shimsight", required=True)
    parser.add_argument("--fixtures", required=True, help="the program make_fixtures")
    parser.add_argument("--only", default="", help="run the cases whose title holds this")
    parser.add_argument("files", nargs="*", type=pathlib.Path)
    options = parser.parse_args()
    files = options.files or sorted(path for path in pathlib.Path(__file__).parent.glob("*.txt") if path.name != "CMakeLists.txt")
    cases = [case for path in files for case in readCases(path) if options.only in case["title"]]
    if not cases:
        sys.exit("no cases")
    for path in sorted((ROOT / "models/schemas").glob("*.json")):
        jsonschema.Draft7Validator.check_schema(json.loads(path.read_text()))
    failed = 0
    with tempfile.TemporaryDirectory(prefix="shimsight-fixtures-") as folder:
        subprocess.run([options.fixtures, folder, ROOT / "models/gear-sets"], check=True)
        for case in cases:
            faults = faultsOf(case, str(pathlib.Path(options.shimsight).resolve()), pathlib.Path(folder))
            if faults:
                failed += 1
                print(f"FAILED {case['where']} [{case['title']}]")
                for fault in faults:
                    print(f"    {fault}")
        # Every gear set of the repository is valid by its own schema.
        schema = json.loads((ROOT / "models/schemas/gear-set-1.schema.json").read_text())
        for path in sorted((ROOT / "models/gear-sets").glob("*.json")):
            jsonschema.validate(json.loads(path.read_text()), schema)
        outlineSchema = json.loads((ROOT / "models/schemas/outline-1.schema.json").read_text())
        for name in ("drive.json", "both.json"):
            jsonschema.validate(json.loads((pathlib.Path(folder) / name).read_text()), outlineSchema)
    print(f"{len(cases)} cases, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
