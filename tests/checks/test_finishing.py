"""Finishing plates judged by facts written by hand: missing, too many, and what is painted on them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from by_hand import document_of, file_answers, ids, job_of, judged, not_judged, page_answers, page_of, plate, summary
from inked import CYAN_70, K100, WHITE, area, line, page_with, picture, spot, text

from preflight.findings import Finding
from preflight.inventory.model import Colour, Layer, Plate
from preflight.ticket import Finishing

DIE = Finishing("die-cut", "Die")
ART = area(CYAN_70, (10.0, 10.0, 60.0, 60.0))


def finishing_plate(ink: str, **how) -> Plate:
    return replace(plate(ink, **how), kind="finishing")


def of_file(*plates: Plate, layers: tuple[Layer, ...] = (), used: tuple[str, ...] = (), pages: int = 1, **order):
    job = job_of(**order)
    held = [replace(summary(number, plates=plates), layers_used=used) for number in range(1, pages + 1)]
    return judged("finishing", file_answers("finishing", held, job, document_of(pages=pages, layers=layers)), job)


def of_page(*things, spread=None, **order) -> list[Finding]:
    job = job_of(**order)
    return judged("finishing", page_answers("finishing", page_with(*things, spread=spread), job), job)


# --- ordered and not there -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("process", ["die-cut", "foil", "emboss", "varnish", "crease", "perforation"])
def test_an_ordered_plate_that_is_not_there_stops(process):
    (finding,) = of_file(plate("Black"), finishing=(Finishing(process, "Special 1"),))
    assert (finding.id, finding.severity, finding.page) == ("finishing.plate-missing", "stop", None)
    assert finding.details["process"] == process
    assert "Special 1" in finding.message
    assert process in finding.remedy


@pytest.mark.parametrize(
    "other",
    [
        finishing_plate("Die", highest=0.5),
        finishing_plate("Die", marked_mm2=0.0),
        finishing_plate("Crease"),
        plate("Dire"),
    ],
    ids=["below one percent", "marks nothing", "another finishing plate", "another name"],
)
def test_a_plate_that_leaves_no_mark_is_missing(other):
    assert "finishing.plate-missing stop" in ids(of_file(plate("Black"), other, finishing=(DIE,)))


@pytest.mark.parametrize("name", ["Die", "DIE", "die", "Di-e", "D i e"])
def test_a_plate_that_is_there_is_not_missing(name):
    assert of_file(plate("Black"), finishing_plate(name), finishing=(DIE,)) == []


def test_one_page_with_the_plate_is_enough():
    job = job_of(finishing=(DIE,))
    pages = [summary(1, plates=(plate("Black"),)), summary(2, plates=(finishing_plate("Die"),))]
    assert judged("finishing", file_answers("finishing", pages, job), job) == []


def test_what_a_page_not_measured_may_carry_is_not_missing():
    job = job_of(finishing=(DIE,))
    pages = [summary(1, plates=(plate("Black"),)), summary(2, blank_trim=None)]
    assert judged("finishing", file_answers("finishing", pages, job), job) == []


def test_without_a_ticket_nothing_is_judged():
    job = job_of()
    answers = file_answers("finishing", [summary(plates=(finishing_plate("Die"),))], job)
    assert judged("finishing", answers, job) == []
    assert any("ticket" in why for why in not_judged(answers))


# --- there and not ordered -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ink", ["Dieline", "CutContour", "Spot UV", "Heißfolie Gold", "dorure", "Fustella", "Perf"])
def test_an_ink_that_sounds_like_finishing_and_is_not_ordered_is_asked_about(ink):
    (finding,) = of_file(plate("Black"), finishing_plate(ink, coverage=2.5), inks=("Black",), pages=2)
    assert (finding.id, finding.severity, finding.page) == ("finishing.unordered", "ask", 1)
    assert finding.details["pages"] == [1, 2]
    assert finding.measured == pytest.approx(2.5)
    assert ink in finding.message


@pytest.mark.parametrize(
    ("ink", "order"),
    [
        ("Dieline", {"finishing": (Finishing("die-cut", "DIE LINE"),)}),
        ("Foil", {"inks": ("Black", "Foil")}),
        ("Fern Green", {"inks": ("Black",)}),
        ("Soldier Blue", {"inks": ("Black",)}),
        ("Cutty Sark Yellow", {"inks": ("Black",)}),
    ],
    ids=["ordered", "ordered as an ink", "a colour", "a word that holds die", "a word that begins with cut"],
)
def test_inks_left_alone(ink, order):
    job = job_of(**order)
    kind = "finishing" if job.is_finishing(ink) else "spot"
    found = of_file(plate("Black"), replace(plate(ink), kind=kind), **order)
    assert "finishing.unordered ask" not in ids(found)


STEP = Layer("Cutting", 7, shown=True, printed=True, processing_step="Structural/Cutting")


def test_a_processing_step_that_is_not_ordered_is_asked_about():
    (finding,) = of_file(plate("Black"), layers=(STEP,), used=("Cutting",), inks=("Black",))
    assert (finding.id, finding.severity) == ("finishing.unordered", "ask")
    assert finding.details["step"] == "Structural/Cutting"


@pytest.mark.parametrize(("printed", "said"), [(True, 1), (False, 0)])
def test_a_processing_step_may_hold_things_by_a_membership(printed, said):
    step = replace(STEP, printed=printed, pages=(1,), has_members=True)
    found = of_file(plate("Black"), layers=(step,), inks=("Black",))
    assert [finding.details["pages"] for finding in found] == [[1]] * said


@pytest.mark.parametrize(
    ("layer", "used", "order"),
    [
        (STEP, ("Cutting",), {"finishing": (Finishing("die-cut", "Black"),)}),
        (STEP, (), {"inks": ("Black",)}),
        (replace(STEP, processing_step=None), ("Cutting",), {"inks": ("Black",)}),
        (replace(STEP, processing_step="Dimensions"), ("Cutting",), {"inks": ("Black",)}),
        (replace(STEP, processing_step="Structural/Bleed"), ("Cutting",), {"inks": ("Black",)}),
    ],
    ids=["ordered", "holds nothing", "an ordinary layer", "only informs", "the bleed"],
)
def test_layers_left_alone(layer, used, order):
    assert of_file(plate("Black"), layers=(layer,), used=used, **order) == []


def test_a_step_and_its_ink_are_told_once():
    found = of_file(finishing_plate("Dieline"), layers=(STEP,), used=("Cutting",), inks=("Black",))
    assert [finding.details.get("ink") for finding in found] == ["Dieline"]


def test_a_missing_plate_names_the_layer_that_may_hold_it():
    found = of_file(plate("Black"), layers=(replace(STEP, printed=False),), finishing=(DIE,))
    assert [finding.details["layers"] for finding in found if finding.id == "finishing.plate-missing"] == [["Cutting"]]


# --- knocks out ------------------------------------------------------------------------------------------------------

LINE = (20.0, 20.0, 50.0, 20.2)


@pytest.mark.parametrize(
    "thing",
    [
        line(spot("Die"), LINE, 0.5, ground_inks=("Cyan",)),
        area(spot("Varnish"), (20.0, 20.0, 40.0, 40.0), ground_inks=("Cyan",)),
        area(spot("Varnish", 40.0), (20.0, 20.0, 40.0, 40.0), ground_inks=("Cyan",)),
        area(spot("Foil"), (20.0, 20.0, 40.0, 40.0), ground_inks=("Cyan",), alpha=0.5),
        text(spot("Die"), ground_inks=("Cyan",)),
    ],
    ids=["a line", "an area", "a tint", "half see-through", "type"],
)
def test_a_plate_that_does_not_overprint_knocks_out(thing):
    found = [finding for finding in of_page(ART, thing) if finding.id == "finishing.knocks-out"]
    assert [(finding.severity, finding.details["erased_inks"]) for finding in found] == [("stop", ["Cyan"])]
    assert found[0].box_mm == [round(side, 2) for side in thing.box_mm]


@pytest.mark.parametrize(
    "thing",
    [
        line(spot("Die"), LINE, 0.5, ground_inks=("Cyan",), overprint=True),
        line(spot("Die"), LINE, 0.5, ground_inks=()),
        line(spot("Die"), LINE, 0.5, ground_inks=("Varnish",)),
        area(spot("Varnish"), (20.0, 20.0, 40.0, 40.0), ground_inks=("Cyan",), blend="Multiply"),
        line(spot("Fern Green"), LINE, 0.5, ground_inks=("Cyan",)),
        line(spot("Die", 0.0), LINE, 0.5, ground_inks=("Cyan",)),
        line(spot("Die"), LINE, 0.5, ground_inks=("Cyan",), alpha=0.0),
        line(spot("Die"), (-9.0, 20.0, -8.0, 20.2), 0.5, ground_inks=("Cyan",)),
    ],
    ids=["overprints", "on paper", "on another plate", "multiplies", "an ink", "no tint", "not there", "outside"],
)
def test_knocking_out_left_alone(thing):
    assert "finishing.knocks-out stop" not in ids(of_page(ART, thing))


def test_an_ink_named_at_zero_is_erased_even_by_overprint():
    both = Colour("device-n", inks=("Die", "Cyan"), values=(1.0, 0.0))
    thing = line(both, LINE, 0.5, ground_inks=("Cyan",), overprint=True)
    (found,) = [finding for finding in of_page(ART, thing) if finding.id == "finishing.knocks-out"]
    assert found.details["cause"] == "named-at-zero"


def test_what_is_hidden_wholly_is_knocked_out():
    """Type under a patch of varnish: no ground by area, but nothing of it is left."""
    type_under = text(K100, (22.0, 22.0, 38.0, 26.0), covered=True)
    patch = area(spot("Varnish"), (20.0, 20.0, 40.0, 30.0), ground_inks=())
    assert "finishing.knocks-out stop" in ids(of_page(type_under, patch))
    white = area(WHITE, (20.0, 20.0, 40.0, 30.0))
    assert "finishing.knocks-out stop" not in ids(of_page(type_under, white, patch))


# --- tinted ----------------------------------------------------------------------------------------------------------

FOIL, VARNISH = Finishing("foil", "Special 1"), Finishing("varnish", "Special 1")
BOX = (20.0, 20.0, 40.0, 40.0)


def special(percent: float = 100.0) -> Colour:
    return spot("Special 1", percent)


@pytest.mark.parametrize("process", ["foil", "emboss", "die-cut", "crease", "perforation"])
def test_a_tint_is_asked_about(process):
    order = (Finishing(process, "Special 1"),)
    thing = line(special(40.0), LINE, 0.5, overprint=True)
    (finding,) = of_page(thing, finishing=order)
    assert (finding.id, finding.severity, finding.unit, finding.limit) == ("finishing.tinted", "ask", "percent", 100.0)
    assert finding.measured == pytest.approx(40.0)


@pytest.mark.parametrize(
    ("thing", "what"),
    [
        (picture(BOX, Colour("separation", inks=("Special 1",)), overprint=True), "a picture"),
        (area(Colour("separation", inks=("Special 1",)), BOX, kind="shading", overprint=True), "a gradient"),
        (area(special(), BOX, alpha=0.5, overprint=True), "a tint of 50 %"),
    ],
    ids=["picture", "gradient", "opacity"],
)
def test_what_no_stamp_can_hold(thing, what):
    (finding,) = of_page(thing, finishing=(FOIL,))
    assert finding.id == "finishing.tinted"
    assert finding.details["what"] == what


def test_a_die_of_areas_alone_is_no_line():
    (finding,) = of_page(area(spot("Die"), BOX, overprint=True), finishing=(DIE,))
    assert finding.id == "finishing.tinted"
    assert "not a line" in finding.message


@pytest.mark.parametrize(
    ("things", "order"),
    [
        ([area(special(40.0), BOX, overprint=True)], VARNISH),
        ([picture(BOX, Colour("separation", inks=("Special 1",)), overprint=True)], VARNISH),
        ([area(special(40.0), BOX, overprint=True)], Finishing("white", "Special 1")),
        ([area(special(), BOX, overprint=True)], FOIL),
        ([area(special(99.2), BOX, overprint=True)], FOIL),
        ([line(spot("Die"), LINE, 0.5, overprint=True), area(spot("Die"), BOX, overprint=True)], DIE),
        ([line(spot("Die"), LINE, 0.5, overprint=True), text(spot("Die"), overprint=True)], DIE),
        ([area(spot("Fern Green", 40.0), BOX)], FOIL),
    ],
    ids=["varnish tint", "varnish picture", "white tint", "solid foil", "rounding", "arrow heads", "labels", "an ink"],
)
def test_tints_left_alone(things, order):
    assert of_page(*things, finishing=(order,)) == []


@pytest.mark.parametrize("ink", ["Hot Foil", "Prägung", "goffratura"])
def test_without_an_order_the_name_tells_the_process(ink):
    thing = area(spot(ink, 40.0), BOX, overprint=True)
    assert ids(of_page(thing, inks=("Black",))) == ["finishing.tinted ask"]


def test_a_page_without_finishing_says_nothing():
    job = job_of(finishing=(DIE,))
    assert page_answers("finishing", page_of(), job) == []
