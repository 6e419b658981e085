"""The JSON schema of a report, made from the models that are written, and shipped as ``report.schema.json`` beside this file.

Fresh copy: ``python -m preflight.report.schema > preflight/report/report.schema.json`` (a test compares it).
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from preflight.findings import REPORT_VERSION, Report

SCHEMA_FILE = Path(__file__).with_name("report.schema.json")


def report_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of one report; ``check --json`` with several files writes an array of them."""
    schema = TypeAdapter(Report).json_schema(mode="serialization")
    schema["properties"]["report_version"] = {"const": REPORT_VERSION, "title": "Report Version", "type": "integer"}
    # ``off`` is a word of the rules: what is off is not found.
    schema["$defs"]["Severity"]["enum"].remove("off")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def schema_text() -> str:
    """The shipped file's text."""
    return json.dumps(report_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(schema_text())
