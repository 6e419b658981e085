"""A report as JSON text and back (report_version 1): UTF-8, keys in the order of the models, figures rounded.

Whatever a stranger's file put into a name stays readable and never breaks the text: a half character (lone surrogate) is written
as its escape, a figure that is no number as ``null``.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from enum import Enum
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError
from pydantic_core import to_json

from preflight.errors import UsageFault
from preflight.findings import REPORT_VERSION, Report
from preflight.report.same_rules import once_per_rules
from preflight.tomlfile import one_line

#: Digits after the point: a tenth of a micron, a ten-thousandth of a percent.
DIGITS = 4


def report_to_json(report: Report) -> str:
    """One report as a JSON object."""
    return _text(_plain_report(report))


def reports_to_json(reports: Sequence[Report]) -> str:
    """Several reports as a JSON array."""
    return _text([_plain_report(report) for report in reports])


def _plain_report(report: Report) -> dict[str, Any]:
    rules = report.rules
    whole: dict[str, Any] = plain(dataclasses.replace(report, rules=dataclasses.replace(rules, values={})))
    whole["rules"]["values"] = _plain_rules(rules.values)
    return whole


@once_per_rules
def _plain_rules(values: Mapping[str, Any]) -> Any:
    return plain(values)


def _text(value: Any) -> str:
    # Ten times as fast as the standard library with an indent, and a run over a folder writes thousands of reports.
    return to_json(value, indent=2).decode()


def plain(value: Any) -> Any:
    """A value as JSON has it: objects, arrays, texts, numbers, true, false and null."""
    kind = type(value)
    if kind is str:  # what most of a report is made of, before all that it might be
        return value if value.isascii() else whole_text(value)
    if kind is dict:
        return {
            key if type(key) is str and key.isascii() else whole_text(str(plain(key))): plain(held)
            for key, held in value.items()
        }
    if kind is list or kind is tuple:
        return [plain(item) for item in value]
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, str):
        return whole_text(value)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return round(float(value), DIGITS) + 0.0 if math.isfinite(value) else None
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain(getattr(value, item.name)) for item in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {whole_text(str(plain(key))): plain(held) for key, held in value.items()}
    if isinstance(value, AbstractSet):
        return sorted((plain(item) for item in value), key=str)
    if isinstance(value, Sequence) and not isinstance(value, (bytes, bytearray)):
        return [plain(item) for item in value]
    if callable(getattr(value, "tolist", None)):  # a figure or a row of them from an array library
        return plain(value.tolist())
    return whole_text(str(value))


def whole_text(text: str) -> str:
    """A text with half characters written as escapes, so that it can be stored and sent as UTF-8."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def report_from_json(text: str | bytes, name: str = "report") -> Report:
    """A report read back; ``name`` (of its file) stands in the fault. Raises ``UsageFault`` with one line.

    Fields it does not know are passed over: later versions may add some.
    """
    try:
        value = plain(json.loads(text, parse_constant=_refuse))
    except RecursionError:
        raise _fault(name, "nested too deeply; expected a JSON report") from None
    except ValueError as fault:  # JSONDecodeError, UnicodeDecodeError, and numbers of thousands of digits
        raise _fault(name, f"not valid JSON ({fault}); expected a JSON report") from None
    if isinstance(value, list) and len(value) == 1:
        value = value[0]
    if isinstance(value, list):
        raise _fault(name, f"holds {len(value)} reports; expected a JSON report of one file")
    if not isinstance(value, dict) or "report_version" not in value:
        raise _fault(name, "has no report_version; expected a JSON report of one file")
    if value["report_version"] != REPORT_VERSION or isinstance(value["report_version"], bool):
        raise _fault(name, f"report_version: expected {REPORT_VERSION}, found {str(value['report_version'])[:40]}")
    try:
        report = _adapter().validate_python(value)
    except ValidationError as fault:
        first = fault.errors(include_url=False, include_input=False, include_context=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        raise _fault(name, f"{where}: {first['msg']}") from None
    except RecursionError:
        raise _fault(name, "nested too deeply; expected a JSON report") from None
    _refuse_odd_boxes(report, name)
    return report


@cache
def _adapter() -> TypeAdapter[Report]:
    return TypeAdapter(Report)


def _refuse_odd_boxes(report: Report, name: str) -> None:
    """Boxes are four numbers and sizes two: what is drawn by them counts on it."""
    sized: list[tuple[str, Any, int]] = []
    for turn, page in enumerate(report.pages):
        for key, count in (("trim_mm", 2), ("bleed_mm", 4), ("picture_mm", 4)):
            sized.append((f"pages.{turn}.{key}", getattr(page, key), count))
    for turn, finding in enumerate(report.findings):
        sized.append((f"findings.{turn}.box_mm", finding.box_mm, 4))
        several = finding.details.get("boxes_mm")
        boxes = several if isinstance(several, list) else [] if several is None else [several]
        sized += [(f"findings.{turn}.details.boxes_mm", box, 4) for box in boxes]
    for where, figures, count in sized:
        if figures is not None and not (
            isinstance(figures, list)
            and len(figures) == count
            and all(type(figure) in (int, float) for figure in figures)
        ):
            raise _fault(name, f"{where}: expected {count} numbers")


def _refuse(constant: str) -> float:
    raise ValueError(f"{constant} is no number of JSON")


def _fault(name: str, problem: str) -> UsageFault:
    return UsageFault(one_line(f"{name}: {problem}"))
