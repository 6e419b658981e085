"""Finishing plates in artwork: every verdict on knocking out is proved on the plates, drawn by the engine alone."""

from __future__ import annotations

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from plated import look
from twins import HIDDEN, NESTED, Thing, leaves_mark
from twins import book as twin_book
from whole import found_in, job_for, report_of

from preflight.findings import Finding
from preflight.ticket import Finishing

DIE, VARNISH, FOIL = Finishing("die-cut", "Die"), Finishing("varnish", "Gloss"), Finishing("foil", "Hot Foil")
ORDER = {"finishing": (DIE, VARNISH, FOIL), "inks": ("Cyan", "Magenta", "Yellow", "Black")}
GROUND = f"0.7 0 0 0 k {rectangle(5, 5, 80, 60)} f\n"
CUT = f"/D CS 1 SCN 1 w {rectangle(20, 20, 40, 20)} S\n"
PATCH = rectangle(20, 20, 30, 20)


def resources(book: Book) -> dict:
    return {
        "D": book.spot("Die", (0, 1, 1, 0)),
        "G": book.spot("Gloss", (0, 0, 0.2, 0)),
        "F": book.spot("Hot Foil", (0, 0.2, 0.6, 0.1)),
        "N": book.device_n(["Die", "Cyan"]),
        "On": book.state(OP=True, op=True, OPM=1),
        "Low": book.state(OP=False, op=True, OPM=1),
        "Mul": book.state(BM=Name.Multiply),
        "Half": book.state(ca=0.5, CA=0.5),
    }


def findings(book: Book, folder, kind: str, **order) -> list[Finding]:
    return [one for one in found_in(book, folder, "finishing", **(order or ORDER)) if one.id == f"finishing.{kind}"]


def page(content: str, **more) -> Book:
    book = Book()
    book.page(content, resources=resources(book) | more)
    return book


# --- knocks out ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "place", "erased"),
    [
        (f"{GROUND} {CUT}", (40, 20), True),
        (f"{GROUND} /On gs {CUT}", (40, 20), False),
        (f"{GROUND} /Low gs {CUT}", (40, 20), True),
        (f"{GROUND} /Mul gs {CUT}", (40, 20), False),
        (f"{GROUND} /On gs /N CS 1 0 SCN 1 w {rectangle(20, 20, 40, 20)} S", (40, 20), True),
        (f"{GROUND} /G cs 1 scn {PATCH} f", (30, 30), True),
        (f"{GROUND} /On gs /G cs 1 scn {PATCH} f", (30, 30), False),
        (f"{GROUND} /G cs 0.3 scn {PATCH} f", (30, 30), True),
        (f"{GROUND} /F cs 1 scn {rectangle(5, 5, 80, 60)} f", (30, 30), True),
    ],
    ids=[
        "a line",
        "overprint",
        "overprint for fills alone",
        "multiply",
        "DeviceN with cyan at zero",
        "an area",
        "an area that overprints",
        "a tint",
        "an area as large as the art",
    ],
)
def test_what_the_plates_lose(tmp_path, content, place, erased):
    book = page(content)
    assert ("Cyan" not in look(book, tmp_path).at(*place)) == erased
    found = findings(book, tmp_path, "knocks-out")
    assert bool(found) == erased
    if erased:
        assert found[0].severity == "stop"
        assert "Cyan" in found[0].details["erased_inks"]


def test_the_place_of_a_knocked_out_area(tmp_path):
    (finding,) = findings(page(f"{GROUND} /G cs 1 scn {PATCH} f"), tmp_path, "knocks-out")
    assert finding.box_mm == pytest.approx([20, 40, 50, 60], abs=0.2)


def test_half_a_plate_weakens_the_art_by_half(tmp_path):
    book = page(f"{GROUND} /Half gs /G cs 1 scn {PATCH} f")
    assert look(book, tmp_path).at(30, 30)["Cyan"] == pytest.approx(35, abs=1)
    assert len(findings(book, tmp_path, "knocks-out")) == 1


def test_type_under_foil_is_lost(tmp_path):
    font = "1000 0 0 0 1000 1000 d1 0 0 900 700 re f"
    words = f"0 0 0 1 k BT /T 12 Tf {mm(25)} {mm(28)} Td (III) Tj ET\n"
    patch = f"/F cs 1 scn {PATCH} f"
    for state, lost in (("", True), ("/On gs", False)):
        book = Book()
        book.page(f"{words} {state} {patch}", resources=resources(book) | {"T": book.type3_font({"I": font})})
        assert ("Black" not in look(book, tmp_path).at(26, 29)) == lost
        assert bool(findings(book, tmp_path, "knocks-out")) == lost


def test_a_picture_under_varnish_of_its_own_shape_is_lost(tmp_path):
    book = Book()
    picture = book.image(60, 40)
    content = f"q {mm(30)} 0 0 {mm(20)} {mm(20)} {mm(20)} cm /Im Do Q /G cs 1 scn {PATCH} f"
    book.page(content, resources=resources(book) | {"Im": picture})
    assert set(look(book, tmp_path).at(30, 30)) == {"Gloss"}
    assert len(findings(book, tmp_path, "knocks-out")) == 1


HOLE = f"0.7 0 0 0 k {rectangle(5, 5, 80, 60)} {rectangle(19, 19, 32, 22)} f*\n"


@pytest.mark.parametrize(
    "content",
    [
        CUT,
        f"{HOLE} /F cs 1 scn {PATCH} f",
        f"{GROUND} 0 0 0 0 k {rectangle(18, 18, 50, 30)} f /F cs 1 scn {PATCH} f",
        f"/F cs 1 scn {PATCH} f 0.7 0 0 0 k {rectangle(50, 20, 10, 10)} f",
        f"/F cs 1 scn {PATCH} f /On gs {GROUND}",
        f"/G cs 1 scn {PATCH} f {CUT}",
    ],
    ids=["on paper", "in a hole of the art", "on white over the art", "beside art", "under the art", "over a plate"],
)
def test_nothing_is_lost(tmp_path, content):
    assert findings(page(content), tmp_path, "knocks-out") == []


LINE = Thing(
    f"/D CS 1 SCN 1 w {mm(20)} {mm(20)} m {mm(60)} {mm(20)} l S",
    (19.0, 19.0, 42.0, 2.0),
    lambda book: {"D": book.spot("Die", (0, 1, 1, 0))},
    GROUND,
)


@pytest.mark.parametrize("way", NESTED)
def test_a_nested_die_line_knocks_out(tmp_path, way):
    assert leaves_mark(LINE, way, tmp_path)
    found = [one for one in found_in(twin_book(LINE, way), tmp_path, "finishing", **ORDER) if "knocks" in one.id]
    assert len(found) == 1


@pytest.mark.parametrize("way", HIDDEN)
def test_a_die_line_that_nobody_sees_knocks_nothing_out(tmp_path, way):
    found = [one.id for one in found_in(twin_book(LINE, way), tmp_path, "finishing", **ORDER)]
    assert "finishing.knocks-out" not in found


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_a_turned_page(tmp_path, turn):
    book = Book()
    book.page(f"{GROUND} {CUT}", resources=resources(book), Rotate=turn)
    assert len(findings(book, tmp_path, "knocks-out")) == 1


def test_a_setting_made_outside_the_form_is_inherited(tmp_path):
    """The state is set before the form is called; overprint is part of it (ISO 32000-2, Table 57)."""
    for state, count in (("/On gs", 0), ("", 1)):
        book = Book()
        held = resources(book)
        held["X"] = book.form(CUT, resources={"D": held["D"]})
        book.page(f"{GROUND} {state} /X Do", resources=held)
        assert len(findings(book, tmp_path, "knocks-out")) == count


# --- missing, too many -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "missing"),
    [
        (f"/On gs {CUT}", []),
        (f"/On gs q {rectangle(0, 0, 5, 5)} W n {CUT} Q", ["Die"]),
        (f"0 1 1 0 K 1 w {rectangle(20, 20, 40, 20)} S", ["Die"]),
        (f"/On gs q 1 0 0 1 {mm(-500)} 0 cm {CUT} Q", ["Die"]),
        (f"/On gs {CUT} 0 0 0 0 k {rectangle(15, 15, 60, 40)} f", []),
    ],
    ids=["there", "clipped away", "in process inks", "off the page", "under white that overprints"],
)
def test_the_ordered_plate(tmp_path, content, missing):
    found = findings(page(content), tmp_path, "plate-missing", finishing=(DIE,), inks=("Black",))
    assert [finding.details["ink"] for finding in found] == missing


def test_a_plate_in_a_layer_that_does_not_print_is_missing(tmp_path):
    book = Book()
    layer = book.layer(
        "Cutting", on=False, GTS_Metadata=Dictionary(GTS_ProcStepsGroup="Structural", GTS_ProcStepsType="Cutting")
    )
    book.page(f"/OC /L BDC /On gs {CUT} EMC", resources=resources(book) | {"L": layer})
    (finding,) = findings(book, tmp_path, "plate-missing", finishing=(DIE,))
    assert finding.details["layers"] == ["Cutting"]


def test_a_plate_and_a_step_that_nobody_ordered(tmp_path):
    book = Book()
    layer = book.layer("Step 1", GTS_Metadata=Dictionary(GTS_ProcStepsGroup="Structural", GTS_ProcStepsType="Cutting"))
    content = f"/OC /L BDC 0 0 0 1 K 1 w {rectangle(20, 20, 40, 20)} S EMC /On gs /G cs 1 scn {PATCH} f"
    held = resources(book) | {"L": layer, "G": book.spot("Spot Varnish", (0, 0, 0.2, 0))}
    book.page(content, resources=held)
    found = findings(book, tmp_path, "unordered", inks=("Cyan", "Magenta", "Yellow", "Black"))
    assert sorted(finding.subject for finding in map(_named, found)) == ["Spot Varnish", "Step 1"]
    assert {finding.severity for finding in found} == {"ask"}


class _named:
    def __init__(self, finding: Finding) -> None:
        self.subject = finding.details["subject"]


def test_an_unordered_plate_is_told_once(tmp_path):
    """As finishing, not as an ink that is not ordered."""
    book = Book()
    book.page(f"/On gs /G cs 1 scn {PATCH} f", resources=resources(book) | {"G": book.spot("Spot Varnish")})
    order = {"inks": ("Cyan", "Magenta", "Yellow", "Black"), "finishing": (DIE,)}
    inks = [one.id for one in found_in(book, tmp_path, "colour", **order)]
    assert "colour.unexpected-ink" not in inks
    assert len(findings(book, tmp_path, "unordered", **order)) == 1


# --- tinted ----------------------------------------------------------------------------------------------------------


def gray_foil(book: Book) -> tuple[str, dict]:
    picture = book.image(60, 40, space=book.spot("Hot Foil"))
    return f"/On gs q {mm(30)} 0 0 {mm(20)} {mm(20)} {mm(20)} cm /Im Do Q", {"Im": picture}


def faded_foil(book: Book) -> tuple[str, dict]:
    function = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0]), C1=Array([1]), N=1)
    space = book.spot("Hot Foil")
    fade = Dictionary(ShadingType=2, ColorSpace=space, Coords=Array([mm(20), 0, mm(50), 0]), Function=function)
    return f"/On gs q {PATCH} W n /Sh sh Q", {"Sh": fade}


def patterned_foil(book: Book) -> tuple[str, dict]:
    tile = book.tiling("/F cs 0.4 scn 0 0 5 5 re f", cell=(10, 10), resources={"F": book.spot("Hot Foil")})
    return f"/On gs /Pattern cs /P scn {PATCH} f", {"P": tile}


def nested_foil(book: Book) -> tuple[str, dict]:
    inner = book.form(f"/F cs 0.4 scn {PATCH} f", resources={"F": book.spot("Hot Foil")})
    return "/On gs /X Do", {"X": inner}


def thinned_foil(book: Book) -> tuple[str, dict]:
    return f"/On gs /Half gs /F cs 1 scn {PATCH} f", {}


@pytest.mark.parametrize("draw", [gray_foil, faded_foil, patterned_foil, nested_foil, thinned_foil])
def test_foil_that_no_stamp_can_hold(tmp_path, draw):
    book = Book()
    content, more = draw(book)
    book.page(content, resources=resources(book) | more)
    found = findings(book, tmp_path, "tinted")
    assert [finding.severity for finding in found] == ["ask"]
    if found[0].measured is not None:
        assert found[0].measured == pytest.approx(50.0 if draw is thinned_foil else 40.0, abs=0.5)


@pytest.mark.parametrize(
    "content",
    [
        f"/On gs /F cs 1 scn {PATCH} f",
        f"/On gs /G cs 0.4 scn {PATCH} f",
        f"/On gs {CUT}",
        f"/On gs {CUT} /D cs 1 scn {PATCH} f",
    ],
    ids=["solid foil", "varnish in a tint", "a die line", "a die line with arrow heads"],
)
def test_plates_that_can_be_made(tmp_path, content):
    assert findings(page(content), tmp_path, "tinted") == []


def test_a_die_of_areas_is_no_line(tmp_path):
    (finding,) = findings(page(f"/On gs /D cs 1 scn {PATCH} f"), tmp_path, "tinted")
    assert "not a line" in finding.message


def test_names_of_any_bytes_do_no_harm(tmp_path):
    book = Book()
    book.page(f"/On gs /Z cs 0.4 scn {PATCH} f", resources=resources(book) | {"Z": book.spot("Foil ABCDEF")})
    path = book.save(tmp_path / "art.pdf")
    path.write_bytes(path.read_bytes().replace(b"ABCDEF", b"#e9#ff"))
    found = [one for one in report_of(path, job_for(**ORDER)).findings if one.id.startswith("finishing.")]
    assert {"finishing.tinted", "finishing.unordered"} <= {one.id for one in found}
    assert all(one.message and one.remedy and one.key for one in found)
