"""The JSON report: what is written is what the contract names, the shipped schema accepts it, and it reads back the same."""

import dataclasses
import json
import math

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preflight.errors import UsageFault
from preflight.findings import (
    REPORT_VERSION,
    FileReport,
    Finding,
    NotJudged,
    PageReport,
    PlateReport,
    Report,
    RulesReport,
    Severity,
    Stage,
    TicketReport,
    ToolReport,
    Unchecked,
    Verdict,
    Waived,
)
from preflight.report.json_report import report_from_json, report_to_json, reports_to_json
from preflight.report.schema import SCHEMA_FILE, report_schema, schema_text
from preflight.units import Box

#: The example of the contract, field by field.
CONTRACT = """{
  "report_version": 1,
  "tool": {"name": "preflight", "version": "0.1.0"},
  "made_at": "2026-11-25T09:30:00Z",
  "file": {"name": "spring-guide.pdf", "sha256": "0a", "bytes": 123, "kind": "pdf", "pages": 16},
  "rules": {"name": "sheetfed-coated", "sha256": "0b"},
  "ticket": {"job": "TP-1", "sha256": "0c"},
  "verdict": "stop",
  "counts": {"stop": 2, "ask": 1, "note": 4, "waived": 0, "unchecked": 0},
  "findings": [{
    "id": "resolution.low", "severity": "stop", "stage": "plates", "page": 3,
    "box_mm": [12.0, 30.5, 90.2, 77.0], "measured": 71.9, "limit": 150.0, "unit": "ppi", "count": 1,
    "message": "for prepress", "remedy": "for the customer, no jargon", "key": "same fault",
    "waived": null, "details": {}
  }],
  "pages": [{
    "number": 1, "trim_mm": [148.0, 210.0], "bleed_mm": [3.0, 3.0, 3.0, 3.0], "rotation": 0,
    "plates": [{"ink": "Cyan", "kind": "process", "coverage_percent": 12.3},
               {"ink": "Fern Green", "kind": "spot", "coverage_percent": 2.0}],
    "max_total_coverage_percent": 287.4, "images": 3, "fonts": ["Fern Sans"]
  }],
  "unchecked": [{"check": "total-ink", "page": 7, "why": "no memory"}],
  "not_judged": [{"check": "pages", "why": "not ordered"}],
  "seconds": 0.42
}"""


def report(**change):
    finding = Finding(
        "resolution.low",
        Severity.STOP,
        Stage.PLATES,
        3,
        [12.0, 30.5, 90.2, 77.0],
        71.9,
        150.0,
        "ppi",
        1,
        "for prepress",
        "for the customer",
        "same fault",
        Waived("R. Hale", "2026-11-25", "seen"),
        {"x_ppi": 71.9},
    )
    page = PageReport(1, [148.0, 210.0], None, 90, [PlateReport("Cyan", "process", 12.3)], 287.4, 3, ["Fern Sans"])
    return dataclasses.replace(
        Report(
            report_version=REPORT_VERSION,
            tool=ToolReport("preflight", "0.1.0"),
            made_at="2026-11-25T09:30:00Z",
            file=FileReport("spring-guide.pdf", "0a", 123, "pdf", 16),
            rules=RulesReport("sheetfed-coated", "0b", "Coated", {"a.b": {"value": 1.5, "from": "x", "source": ""}}),
            ticket=TicketReport("TP-1", "0c"),
            verdict=Verdict.STOP,
            counts={"stop": 0, "ask": 0, "note": 0, "waived": 1, "unchecked": 1},
            findings=[finding],
            pages=[page],
            unchecked=[Unchecked("total-ink", 7, "no memory")],
            not_judged=[NotJudged("pages", "not ordered")],
            seconds=0.42,
        ),
        **change,
    )


def fields_of(value, at=""):
    """Every field name with its place, list places left out."""
    if isinstance(value, dict):
        return {f"{at}.{key}" for key in value} | set().union(
            *(fields_of(held, f"{at}.{key}") for key, held in value.items())
        )
    if isinstance(value, list):
        return set().union(*(fields_of(item, at) for item in value)) if value else set()
    return set()


def test_every_field_of_the_contract_is_written():
    written = fields_of(json.loads(report_to_json(report())))
    assert fields_of(json.loads(CONTRACT)) <= written


def test_the_example_of_the_contract_fits_the_schema_and_is_read():
    example = json.loads(CONTRACT)
    jsonschema.validate(example, report_schema())
    read = report_from_json(CONTRACT)
    assert (read.verdict, read.findings[0].severity, read.pages[0].plates[1].ink) == (
        Verdict.STOP,
        Severity.STOP,
        "Fern Green",
    )


def test_what_is_written_fits_the_schema_and_reads_back_the_same():
    text = report_to_json(report())
    jsonschema.Draft202012Validator.check_schema(report_schema())
    jsonschema.validate(json.loads(text), report_schema())
    assert report_from_json(text) == report()
    assert report_to_json(report_from_json(text.encode())) == text


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("report_version",), 2),
        (("verdict",), "pass"),
        (("findings", 0, "severity"), "off"),
        (("findings", 0, "measured"), "71.9"),
        (("findings", 0, "stage"), "bindary"),
        (("pages", 0, "number"), None),
    ],
)
def test_the_schema_refuses_what_is_wrong(path, value):
    wrong = json.loads(report_to_json(report()))
    place = wrong
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(wrong, report_schema())


def test_the_shipped_schema_is_fresh():
    assert SCHEMA_FILE.read_text(encoding="utf-8") == schema_text(), (
        "run: python -m preflight.report.schema > preflight/report/report.schema.json"
    )


def test_fields_added_later_are_passed_over():
    later = json.loads(report_to_json(report())) | {"mood": "calm"}
    later["findings"][0]["colour"] = "green"
    jsonschema.validate(later, report_schema())
    assert report_from_json(json.dumps(later)) == report()


def test_several_reports_are_an_array():
    several = json.loads(reports_to_json([report(), report()]))
    assert [one["file"]["name"] for one in several] == ["spring-guide.pdf"] * 2
    assert report_from_json(reports_to_json([report()])) == report()
    with pytest.raises(UsageFault, match="holds 2 reports"):
        report_from_json(reports_to_json([report(), report()]))


def test_odd_values_become_plain_json():
    odd = {
        "half \udcff name": "Font \ud800",
        "nan": math.nan,
        "inf": [math.inf, 1.0],
        "minus": -0.0,
        "long": 0.123456789,
        "box": Box(0, 1, 2, 3),
        "row": np.array([1.5, 2.5], dtype=np.float32),
        "one": np.uint8(7),
        "some": frozenset({"b", "a"}),
        "severity": Severity.ASK,
        3: None,
    }
    finding = dataclasses.replace(report().findings[0], details=odd)
    text = report_to_json(report(findings=[finding]))
    text.encode("utf-8")
    assert json.loads(text)["findings"][0]["details"] == {
        "half \\udcff name": "Font \\ud800",
        "nan": None,
        "inf": [None, 1.0],
        "minus": 0.0,
        "long": 0.1235,
        "box": [0, 1, 2, 3],
        "row": [1.5, 2.5],
        "one": 7,
        "some": ["a", "b"],
        "severity": "ask",
        "3": None,
    }
    assert "-0.0" not in text


DETAILS = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters(exclude_categories=()))
    | st.binary(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(st.characters(exclude_categories=())), inner),
    max_leaves=10,
)


@settings(max_examples=80, deadline=None)
@given(details=st.dictionaries(st.text(st.characters(exclude_categories=())), DETAILS, max_size=4))
def test_any_detail_is_written_once_and_for_all(details):
    finding = dataclasses.replace(report().findings[0], details=details)
    text = report_to_json(report(findings=[finding]))
    assert json.loads(text.encode("utf-8"), parse_constant=pytest.fail)
    assert report_to_json(report_from_json(text)) == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not valid JSON"),
        ("{", "not valid JSON"),
        (b"\xff\xfe\x00", "not valid JSON"),
        ("[" * 100_000, "nested too deeply"),
        ("{}", "no report_version"),
        ("[]", "holds 0 reports"),
        ("3", "no report_version"),
        ('{"report_version": 2}', "report_version: expected 1, found 2"),
        ('{"report_version": true}', "report_version: expected 1, found True"),
        ('{"report_version": 1}', "tool: Field required"),
        ('{"report_version": NaN}', "NaN is no number"),
        (CONTRACT.replace('"stop",\n', '"perhaps",\n'), "verdict"),
        (CONTRACT.replace("71.9", '"many"'), "findings.0.measured"),
        (CONTRACT.replace("123", "9" * 6000), "not valid JSON"),
    ],
)
def test_what_is_no_report_is_refused_in_one_line(text, words):
    with pytest.raises(UsageFault) as caught:
        report_from_json(text, "old\nreport.json")
    message = str(caught.value)
    assert message.isprintable()
    assert message.startswith("old\\nreport.json: ")
    assert words in message


def test_half_characters_in_a_stored_report_are_made_whole():
    read = report_from_json(CONTRACT.replace("TP-1", "\\ud800"))
    assert read.ticket.job == "\\ud800"
    report_to_json(read).encode("utf-8")


@settings(max_examples=100, deadline=None)
@given(data=st.binary(max_size=60), at=st.integers(0, len(CONTRACT)))
def test_a_damaged_report_ends_in_a_usage_fault_or_a_report(data, at):
    damaged = CONTRACT.encode()[:at] + data + CONTRACT.encode()[at + len(data) :]
    try:
        assert isinstance(report_from_json(damaged), Report)
    except UsageFault as fault:
        assert str(fault).isprintable()
