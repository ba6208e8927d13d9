#!/usr/bin/env python3
"""Validates TOML files against a JSON Schema, by a validator that is not ours.

schema_check.py SCHEMA FILE...   prints "ok FILE" or "fault FILE: where: what" for each; exits 77 where Debian's python3-jsonschema is missing.
"""
import sys
import warnings

try:
    import tomllib

    warnings.simplefilter("ignore")
    from jsonschema import Draft202012Validator
except ImportError as missing:
    print(missing)
    sys.exit(77)

import json

with open(sys.argv[1], encoding="utf-8") as file:
    schema = json.load(file)
Draft202012Validator.check_schema(schema)
validator = Draft202012Validator(schema)
for path in sys.argv[2:]:
    with open(path, "rb") as file:
        document = tomllib.load(file)
    faults = sorted(validator.iter_errors(document), key=lambda fault: [str(part) for part in fault.absolute_path])
    if not faults:
        print("ok", path)
    for fault in faults[:1]:
        print(f"fault {path}: {'/'.join(map(str, fault.absolute_path))}: {fault.message[:200]}")
