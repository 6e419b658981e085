"""What is settled before a page is drawn: colours that put down no ink, and layers shown by an expression.

By ISO 32000-2: 8.6.6.4 and 8.6.6.5 (None), 8.11.2.2 (VE), 8.11.2.3 (intent).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from twins import NESTED, Thing, book, leaves_mark
from whole import found_in, job_for, report_of

_GROUND = f"1 0 0 0 k {rectangle(10, 10, 60, 40)} f"


def _spaces(made: Book) -> dict[str, Any]:
    alone = made.device_n(["None"])
    return {"No": Array([Name.Separation, Name("/None"), alone[2], alone[3]]), "None": alone}


def _thing(space: str, painting: str) -> Thing:
    def resources(made: Book) -> dict[str, Any]:
        return {"C": _spaces(made)[space], "Op": made.state(OP=True, op=True, OPM=1)}

    return Thing(f"/C cs /C CS 1 scn 1 SCN 6 w {painting}", (20, 15, 20, 20), resources, _GROUND)


@pytest.mark.parametrize("twin", NESTED)
@pytest.mark.parametrize("space", ["No", "None"])
@pytest.mark.parametrize("state", ["", "/Op gs "])
def test_what_is_painted_in_it_changes_no_plate(state: str, space: str, twin: str, tmp_path: Path) -> None:
    thing = _thing(space, f"{state}{rectangle(22, 17, 16, 16)} B")
    pages = report_of(book(thing, twin).save(tmp_path / "art.pdf"), job_for()).pages
    covered = {plate.ink: plate.coverage_percent for plate in pages[0].plates}
    assert covered["Cyan"] == pytest.approx(30.0, abs=0.1)  # 60 x 40 of 100 x 80 mm
    assert set(covered) == {"Cyan", "Magenta", "Yellow", "Black"}


@pytest.mark.parametrize("check", ["overprint", "line", "black"])
def test_no_check_speaks_of_it(check: str, tmp_path: Path) -> None:
    thing = _thing("No", f"/Op gs 0.05 w {mm(22)} {mm(17)} m {mm(38)} {mm(17)} l S {rectangle(22, 19, 16, 10)} f")
    assert not found_in(book(thing, "plain"), tmp_path, check)


def test_a_named_ink_in_its_place_does_mark(tmp_path: Path) -> None:
    """The twin: the same drawing in a spot ink."""
    thing = Thing(
        f"/C cs 1 scn {rectangle(22, 17, 16, 16)} f", (20, 15, 20, 20), lambda made: {"C": made.spot("Fern")}, _GROUND
    )
    assert leaves_mark(thing, "plain", tmp_path)


# --- layers shown by an expression ------------------------------------------------------------------------------------

_EXPRESSIONS = [
    (lambda on, off: [Name.Not, on], False),
    (lambda on, off: [Name.Not, off], True),
    (lambda on, off: [Name.And, on, off], False),
    (lambda on, off: [Name.And, on, Array([Name.Not, off])], True),
    (lambda on, off: [Name.Or, off, on], True),
    (lambda on, off: [Name.Or, off, Array([Name.Not, on])], False),
]


@pytest.mark.parametrize("nested", [False, True])
@pytest.mark.parametrize(("expression", "shows"), _EXPRESSIONS)
def test_an_expression_over_layers_is_worked_out(expression: Any, shows: bool, nested: bool, tmp_path: Path) -> None:
    made = Book()
    on, off = made.layer("Text"), made.layer("Notes", on=False)
    member = made.pdf.make_indirect(Dictionary(Type=Name.OCMD, VE=Array(expression(on, off)), OCGs=on, P=Name.AllOff))
    painting = f"0 0 0 1 k {rectangle(10, 10, 40, 20)} f"
    if nested:
        inner = made.form(painting, OC=member)
        made.page("/F Do", resources={"F": made.form("/I Do", resources={"I": inner})})
    else:
        made.page(f"/OC /M BDC {painting} EMC", resources={"M": member})
    report = report_of(made.save(tmp_path / "art.pdf"), job_for())
    assert not report.unchecked
    black = next(plate for plate in report.pages[0].plates if plate.ink == "Black")
    assert black.coverage_percent == pytest.approx(10.0 if shows else 0.0, abs=0.1)  # 40 x 20 of 100 x 80 mm


@pytest.mark.parametrize("policy", [None, "AnyOn", "AllOn", "AnyOff", "AllOff"])
@pytest.mark.parametrize("states", [(True, True), (True, False), (False, False)])
def test_a_membership_goes_by_its_policy(policy: str | None, states: tuple[bool, bool], tmp_path: Path) -> None:
    """ISO 32000-2, Table 97: visible where any or all of the layers are on, or off; any that is on where nothing is said."""
    shows = {"AllOn": all(states), "AnyOff": not all(states), "AllOff": not any(states)}.get(policy or "", any(states))
    made = Book()
    layers = [made.layer(f"Layer {place}", on=on) for place, on in enumerate(states)]
    member = Dictionary(Type=Name.OCMD, OCGs=Array([*layers, None]))
    if policy:
        member.P = Name("/" + policy)
    content = f"/OC /M BDC 0 0 0 1 k {rectangle(10, 10, 40, 20)} f EMC"
    made.page(content, resources={"M": made.pdf.make_indirect(member)})
    (page,) = report_of(made.save(tmp_path / "art.pdf"), job_for()).pages
    assert page.plates[3].coverage_percent == pytest.approx(10.0 if shows else 0.0, abs=0.1)


@pytest.mark.parametrize("intent", [Name.Design, Name.View, Name.All])
def test_a_layer_for_designers_alone_hides_nothing(intent: Name, tmp_path: Path) -> None:
    made = Book()
    layer = made.layer("Sketch", on=False, Intent=intent)
    made.page(f"/OC /L BDC 0 0 0 1 k {rectangle(10, 10, 40, 20)} f EMC", resources={"L": layer})
    (page,) = report_of(made.save(tmp_path / "art.pdf"), job_for()).pages
    assert page.plates[3].coverage_percent == pytest.approx(10.0 if intent == Name.Design else 0.0, abs=0.1)


# --- drawn glyphs on hidden layers ------------------------------------------------------------------------------------


@pytest.mark.parametrize("prints", [True, False])
@pytest.mark.parametrize("way", ["outside", "in the glyph", "form", "form called there", "membership"])
def test_a_drawn_glyph_goes_with_its_layer(way: str, prints: bool, tmp_path: Path) -> None:
    """A glyph that brings its own colour (d0), 40 x 20 mm of 100 x 80: the engine alone draws it on layers that are off."""
    made = Book()
    layer = made.layer("Notes", on=prints)
    block = f"0 0 0 1 k {rectangle(0, 0, 40, 20)} f"
    inside = way == "in the glyph"
    font = made.type3_font(
        {"a": f"1 0 d0 {f'/OC /L BDC {block} EMC' if inside else block}"}, resources={"L": layer} if inside else {}
    )
    font.FontMatrix, font.FontBBox = Array([1, 0, 0, 1, 0, 0]), Array([0, 0, 0, 0])
    text = f"q BT /F 1 Tf {mm(10)} {mm(10)} Td (a) Tj ET Q"
    resources: dict[str, Any] = {"F": font, "L": layer}
    content = text if inside else f"/OC /L BDC {text} EMC"
    if way == "membership":
        resources["L"] = made.pdf.make_indirect(Dictionary(Type=Name.OCMD, OCGs=Array([layer]), P=Name.AllOn))
    elif way == "form":
        resources, content = {"X": made.form(content, resources=resources)}, "/X Do"
    elif way == "form called there":
        resources, content = {"X": made.form(text, resources={"F": font}), "L": layer}, "/OC /L BDC /X Do EMC"
    shown = f"0 1 0 0 k {rectangle(60, 40, 20, 20)} f"
    made.page(f"{content} {shown}", resources=resources)
    (page,) = report_of(made.save(tmp_path / "art.pdf"), job_for()).pages
    inks = {plate.ink: plate.coverage_percent for plate in page.plates}
    assert inks["Black"] == pytest.approx(10.0 if prints else 0.0, abs=0.1)
    assert inks["Magenta"] == pytest.approx(5.0, abs=0.1)


# --- overprint in a blend mode that leaves the ground -----------------------------------------------------------------


def _blended(mode: Any, colour: str, *, nested: bool = False, **state: bool) -> Book:
    """Something in a blend mode on cyan of 60 %, on a page whose group is CMYK."""
    made = Book()
    things = {"Blend": made.state(BM=mode, **state), "S": made.spot("Fern Green")}
    patch = f"/Blend gs {colour} {rectangle(30, 30, 20, 20)} f"
    if nested:
        things = {"Form": made.form(patch, resources=things)}
        patch = "/Form Do"
    made.page(f"0.6 0 0 0 k {rectangle(10, 10, 80, 60)} f {patch}", resources=things)
    made.pdf.pages[0].Group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)
    return made


@pytest.mark.parametrize("nested", [False, True], ids=["page", "form"])
@pytest.mark.parametrize("state", [{"OP": True, "op": True, "OPM": 1}, {"OP": True, "op": True}, {"OP": True}, {}])
@pytest.mark.parametrize(
    ("mode", "colour", "own"),
    [
        (Name.Multiply, "0 0 0 0.5 k", ("Black", 50)),
        (Array([Name.Multiply]), "0 0 0.5 0 k", ("Yellow", 50)),
        (Name.Multiply, "/S cs 0.5 scn", ("Fern Green", 50)),
        (Name.Multiply, "0 0 0 0 k", None),
        (Name.Darken, "0 0 0 0.5 k", ("Black", 50)),
        (Name.ColorBurn, "0 0 0 0.5 k", None),
    ],
    ids=["black", "a list", "spot", "white", "darken", "burn"],
)
def test_the_ground_is_not_blended_with_itself(mode, colour, own, state, nested, tmp_path: Path) -> None:
    made = _blended(mode, colour, nested=nested, **state)
    (page,) = report_of(made.save(tmp_path / "art.pdf"), job_for()).pages
    covered = {plate.ink: plate.coverage_percent for plate in page.plates if plate.coverage_percent}
    assert covered.pop("Cyan") == pytest.approx(36.0, abs=0.1)  # 60 % of 80 x 60 of 100 x 80 mm
    # 20 x 20 mm of it.
    assert covered == ({own[0]: pytest.approx(own[1] * 0.05, abs=0.05)} if own else {})


def test_nothing_is_said_of_overprint_that_a_blend_mode_makes_needless(tmp_path: Path) -> None:
    made = _blended(Name.Multiply, "0 0 0.5 0 k", OP=True, op=True, OPM=1)
    assert not found_in(made, tmp_path, "overprint")


def test_overprint_stays_in_other_modes(tmp_path: Path) -> None:
    (page,) = report_of(
        _blended(Name.Normal, "0 0 0 0.5 k", OP=True, op=True, OPM=1).save(tmp_path / "art.pdf"), job_for()
    ).pages
    covered = {plate.ink: plate.coverage_percent for plate in page.plates}
    assert covered["Cyan"] == pytest.approx(36.0, abs=0.1)
