"""Layers that print otherwise than they show; and what must be left alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from artwork import Book, rectangle
from by_hand import document_of, file_answers, ids, job_of, judged, summary
from pikepdf import Array, Dictionary, Name
from whole import found_in

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


# --- in artwork ------------------------------------------------------------------------------------------------------

#: How content may belong to the layer ``it`` by a membership dictionary (8.11.2.2), beside a layer that is off.
MEMBERSHIPS = {
    "the layer": lambda it, off: Dictionary(OCGs=it),
    "the layer or one that is off": lambda it, off: Dictionary(OCGs=Array([it, off]), P=Name.AnyOn),
    "just where it is off": lambda it, off: Dictionary(OCGs=it, P=Name.AllOff),
    "an expression": lambda it, off: Dictionary(VE=Array([Name.Not, it])),
}


def watermarked(usage: Dictionary, membership: Any) -> Book:
    book = Book()
    layer, off = book.layer("Watermark", Usage=usage), book.layer("Notes", on=False)
    applied = [Dictionary(Event=name, Category=Array([name]), OCGs=Array([layer])) for name in (Name.View, Name.Print)]
    book.pdf.Root.OCProperties.D.AS = Array(applied)
    group = membership(layer, off)
    group.Type = Name.OCMD
    mark = f"/OC /M BDC {rectangle(10, 10, 30, 30)} f EMC"
    book.page(f"0 0 0 1 k {mark} {rectangle(50, 10, 20, 20)} f", resources={"M": book.pdf.make_indirect(group)})
    return book


@pytest.mark.parametrize("membership", MEMBERSHIPS.values(), ids=MEMBERSHIPS)
@pytest.mark.parametrize("printed", [True, False], ids=["prints alone", "shows alone"])
def test_content_may_belong_to_a_layer_by_a_membership(printed, membership, tmp_path):
    on, off = (Name.ON, Name.OFF) if printed else (Name.OFF, Name.ON)
    usage = Dictionary(Print=Dictionary(PrintState=on), View=Dictionary(ViewState=off))
    (finding,) = found_in(watermarked(usage, membership), tmp_path, "layers")
    assert (finding.id, finding.page, finding.details["layer"]) == ("layers.print-differs", 1, "Watermark")


def test_a_layer_named_by_a_membership_that_prints_as_it_shows(tmp_path):
    usage = Dictionary(Print=Dictionary(PrintState=Name.ON), View=Dictionary(ViewState=Name.ON))
    for membership in MEMBERSHIPS.values():
        assert found_in(watermarked(usage, membership), tmp_path, "layers") == []
