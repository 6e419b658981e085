"""Layers that print otherwise than they show; and what must be left alone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from by_hand import document_of, file_answers, ids, job_of, judged, summary

from preflight.findings import Finding
from preflight.inventory.model import Layer


def findings(*layers: Layer, used: tuple[tuple[str, ...], ...] = (("Deutsch",), ("Deutsch",))) -> list[Finding]:
    job = job_of()
    pages = [replace(summary(number), layers_used=names) for number, names in enumerate(used, 1)]
    return judged("layers", file_answers("layers", pages, job, document_of(pages=len(used), layers=layers)), job)


def test_a_hidden_layer_that_prints():
    (finding,) = findings(Layer("Deutsch", 5, shown=False, printed=True), used=((), ("Deutsch",), ("Deutsch",)))
    assert (finding.id, finding.severity, finding.page) == ("layers.print-differs", "ask", 2)
    assert finding.details["pages"] == [2, 3]
    assert "Deutsch" in finding.message
    assert "does not show" in finding.remedy


def test_a_shown_layer_that_does_not_print():
    (finding,) = findings(Layer("Preise", 5, shown=True, printed=False))
    assert (finding.id, finding.page) == ("layers.print-differs", None)
    assert "does not print" in finding.message


def test_a_layer_that_does_not_print_is_placed_by_the_files_structure():
    (finding,) = findings(Layer("Preise", 5, shown=True, printed=False, pages=(2, 3)))
    assert (finding.page, finding.details["pages"]) == (2, [2, 3])


def test_each_layer_is_told():
    found = findings(Layer("A", 5, shown=True, printed=False), Layer("B", 6, shown=True, printed=False))
    assert sorted(finding.details["layer"] for finding in found) == ["A", "B"]
    assert len({finding.key for finding in found}) == 2


def test_two_layers_of_one_name_are_two():
    found = findings(Layer("A", 5, shown=True, printed=False), Layer("A", 6, shown=True, printed=False))
    assert len({finding.key for finding in found}) == len(found) == 2


@pytest.mark.parametrize(
    "layer",
    [
        pytest.param(Layer("Deutsch", 5, shown=True, printed=True), id="shows and prints"),
        pytest.param(Layer("Deutsch", 5, shown=False, printed=False), id="neither"),
        pytest.param(
            Layer("Deutsch", 5, shown=True, printed=False, processing_step="Structural/Cutting"), id="cutting"
        ),
        pytest.param(Layer("Deutsch", 5, shown=False, printed=True, processing_step="White"), id="white"),
        pytest.param(Layer("Deutsch", 5, shown=True, printed=False, used=False), id="unused"),
        pytest.param(Layer("English", 5, shown=False, printed=True), id="prints, and left nothing on any page"),
        pytest.param(Layer("Deutsch", 5, shown=None, printed=True), id="unknown"),
    ],
)
def test_layers_left_alone(layer):
    assert findings(layer) == []


def test_a_page_that_was_not_read_may_hold_the_layer():
    job = job_of()
    document = document_of(pages=2, layers=(Layer("English", 5, shown=False, printed=True),))
    assert ids(judged("layers", file_answers("layers", [summary(1)], job, document), job)) == [
        "layers.print-differs ask"
    ]
