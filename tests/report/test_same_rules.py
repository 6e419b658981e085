"""What is made of the rules is made once a run, and never taken for that of other rules."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import replace

from report.sample import report
from work import calls_made_by

from preflight.findings import Report
from preflight.report.html import html_report
from preflight.report.json_report import report_to_json
from preflight.report.same_rules import once_per_rules
from preflight.rules import settle


def test_made_once_for_the_very_same_values() -> None:
    made = []
    of = once_per_rules(lambda values: made.append(dict(values)) or len(made))
    rules = {"a": {"value": 1}, "b": {"value": 2}}

    assert of(rules) == of(dict(rules)) == 1
    assert of({"a": {"value": True}, "b": rules["b"]}) == 2, "true equals 1, and is written in another way"
    assert of({"b": rules["b"], "a": rules["a"]}) == 3, "in another order"
    assert of({"a": rules["a"]}) == 4
    assert of({"c": rules["a"], "b": rules["b"]}) == 5
    assert of(rules) == 6, "forgotten after so many others"


def of_run(values: dict) -> Report:
    """A report as a run makes it: the rules in a mapping of its own, their values those of the job."""
    whole = report()
    return replace(whole, rules=replace(whole.rules, values=dict(values)))


def test_a_second_file_costs_no_second_table_of_rules() -> None:
    values = settle(None, None).values
    first, second, others = of_run(values), of_run(values), of_run(deepcopy(values))
    for write in (report_to_json, html_report):
        write(first)
        again = calls_made_by(lambda write=write: write(second))
        anew = calls_made_by(lambda write=write: write(others))
        assert again < anew - 2 * len(values)


def test_each_report_has_its_own_rules() -> None:
    values = settle(None, None).values
    key = next(iter(values))
    changed = values | {key: values[key] | {"value": 987654}}
    for rules, there in ((values, False), (changed, True), (values, False)):
        whole = of_run(rules)
        assert ("987654" in html_report(whole)) is there
        assert (json.loads(report_to_json(whole))["rules"]["values"][key]["value"] == 987654) is there
