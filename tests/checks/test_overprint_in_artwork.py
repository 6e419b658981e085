"""Overprint found in PDFs: what vanishes, what changes, in which disguise, and what must be left alone.

What the plates hold follows ISO 32000-2, Table 146 (``tests/test_plates.py``); colour differences are held against FOGRA39 data
(``press_colour``), which is not what the reader itself reckons with.
"""

from __future__ import annotations

from typing import Any

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from test_plates import STATES, TABLE_146, named
from twins import HIDDEN_TEXT, NESTED, Thing, book, leaves_mark
from whole import found_in

from preflight.findings import Finding
from preflight.press_colour import delta_e_1976, lab_of_cmyk

#: A ground of C 70, and a patch on it, from the trim's lower left; the trim is 80 mm high.
GROUND = f"0.7 0 0 0 k {rectangle(10, 20, 70, 40)} f"
PATCH = rectangle(20, 30, 30, 20)
PATCH_MM = [20.0, 30.0, 50.0, 50.0]
#: A letter that is a solid block of 900 x 700 thousandths of the size.
BLOCK = "0 0 900 700 re f"


def overprints(book: Book, mode: int = 1) -> Dictionary:
    return book.state(OP=True, op=True, OPM=mode)


def page(content: str, ground: str = GROUND, **resources: Any) -> Book:
    made = Book()
    given = {name: thing(made) if callable(thing) else thing for name, thing in resources.items()}
    made.page(f"{ground} {content}", resources={"On": overprints(made), "On0": overprints(made, 0), **given})
    return made


def found(made: Book, folder: Any, **order: Any) -> list[Finding]:
    return found_in(made, folder, "overprint", **order)


# --- Table 146, row by row --------------------------------------------------------------------------------------------

#: What every row of the table makes of a fill over C70 M20 K10 + Fern Green 50 (in one go, nothing under it), with OPM 0 and OPM 1.
#: White loses its white wherever anything stays. Light fills change. Black stays black with a spot under it; with C 70 in
#: addition it is farther from black alone than the rules allow.
ROWS = {
    "DeviceCMYK black": (None, "changes"),
    "DeviceCMYK two inks": ("changes", "changes"),
    "DeviceCMYK white": ("vanishes", "vanishes"),
    "DeviceGray black": (None, None),
    "DeviceGray white": ("vanishes", "vanishes"),
    "ICCBased CMYK": (None, None),
    "Separation Black": ("changes", "changes"),
    "Separation, the same spot": ("changes", "changes"),
    "Separation, another spot": ("changes", "changes"),
    "DeviceN": ("changes", "changes"),
    "DeviceN with a zero": ("changes", "changes"),
}
ALL_IN_ONE = f"/G cs 0.7 0.2 0.1 0.5 scn {rectangle(0, 0, 100, 80)} f"


def row_of_table_146(row: str, state: str) -> Book:
    colour, what, *_ = TABLE_146[row]
    made = Book()
    resources = {
        "G": made.device_n(["Cyan", "Magenta", "Black", "Fern Green"]),
        "Fern": made.spot("Fern Green"),
        "State": made.state(**STATES[state]),
        **named(made, what),
    }
    made.page(f"{ALL_IN_ONE} /State gs {colour} {PATCH} f", resources=resources)
    return made


@pytest.mark.parametrize("mode", [0, 1])
@pytest.mark.parametrize("row", TABLE_146)
def test_what_a_row_of_table_146_comes_to(row: str, mode: int, tmp_path: Any) -> None:
    findings = found(row_of_table_146(row, f"OPM {mode}"), tmp_path)
    expected = ROWS[row][mode]
    assert [finding.id for finding in findings] == ([f"overprint.{expected}"] if expected else [])
    for finding in findings:
        assert finding.box_mm == pytest.approx(PATCH_MM, abs=0.17)
        assert finding.details["area_mm2"] == pytest.approx(600.0, rel=0.02)


@pytest.mark.parametrize("row", TABLE_146)
def test_without_overprint_nothing_is_said(row: str, tmp_path: Any) -> None:
    assert found(row_of_table_146(row, "off"), tmp_path) == []


# --- vanishes -----------------------------------------------------------------------------------------------------------


def glyph(content: str) -> Any:
    return lambda made: made.type3_font({"I": content}, resources={"Own": overprints(made)})


def cell(made: Book) -> Any:
    """A cell without a colour of its own, larger than the page: the pattern shows once."""
    tile = made.tiling("0 0 2000 2000 re f", cell=(2000, 2000))
    tile.PaintType = 2
    return tile


DISGUISES: dict[str, tuple[str, dict[str, Any]]] = {
    "fill": (f"/On gs 0 0 0 0 k {PATCH} f", {}),
    "stroke": (f"/On gs 0 0 0 0 K {mm(20)} w {mm(20)} {mm(40)} m {mm(50)} {mm(40)} l S", {}),
    "one state switches it on, another sets the mode": (
        f"/A gs /B gs 0 0 0 0 k {PATCH} f",
        {"A": lambda made: made.state(op=True), "B": lambda made: made.state(OPM=1)},
    ),
    "capital OP alone": (f"/A gs 0 0 0 0 k {PATCH} f", {"A": lambda made: made.state(OP=True, OPM=1)}),
    "form that inherits the state": ("/On gs /X Do", {"X": lambda made: made.form(f"0 0 0 0 k {PATCH} f")}),
    "form in a form with its own": (
        "/X Do",
        {
            "X": lambda made: made.form(
                "/Y Do",
                resources={"Y": made.form(f"/Own gs 0 0 0 0 k {PATCH} f", resources={"Own": overprints(made)})},
            )
        },
    ),
    "open group": (
        "/X Do",
        {
            "X": lambda made: made.form(
                f"/Own gs 0 0 0 0 k {PATCH} f",
                resources={"Own": overprints(made)},
                Group=Dictionary(S=Name.Transparency),
            )
        },
    ),
    "DeviceN at nothing": (
        f"/On0 gs /N cs 0 0 scn {PATCH} f",
        {"N": lambda made: made.device_n(["Yellow", "Fern Green"])},
    ),
    "spot at nothing": (f"/On0 gs /S cs 0 scn {PATCH} f", {"S": lambda made: made.spot("Fern Green")}),
    "Separation Magenta at nothing": (f"/On0 gs /S cs 0 scn {PATCH} f", {"S": lambda made: made.spot("Magenta")}),
    "stencil": (
        f"/On gs 0 0 0 0 k q {mm(30)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /Im Do Q",
        {"Im": lambda made: made.image(8, 8, bits=1, data=bytes(8), ImageMask=True)},
    ),
    "letters that are drawings": (
        f"/On gs 0 0 0 0 k BT /F {mm(20) / 0.7:.4f} Tf 1.1667 0 0 1 {mm(20)} {mm(30)} Tm (I) Tj ET",
        {"F": glyph(f"1000 0 0 0 1000 1000 d1 {BLOCK}")},
    ),
    "letters with colours and states of their own": (
        f"BT /F {mm(20) / 0.7:.4f} Tf 1.1667 0 0 1 {mm(20)} {mm(30)} Tm (I) Tj ET",
        {"F": glyph(f"1000 0 d0 /Own gs 0 0 0 0 k {BLOCK}")},
    ),
    "pattern that shows once": (
        f"/On gs /P cs 0 0 0 0 /Tile scn {PATCH} f",
        {"P": lambda made: Array([Name.Pattern, Name.DeviceCMYK]), "Tile": cell},
    ),
}


@pytest.mark.parametrize("name", DISGUISES)
def test_white_that_vanishes(name: str, tmp_path: Any) -> None:
    content, resources = DISGUISES[name]
    (finding,) = found(page(content, **resources), tmp_path)
    assert (finding.id, finding.severity, finding.stage) == ("overprint.vanishes", "stop", "plates")
    assert finding.box_mm == pytest.approx(PATCH_MM, abs=0.35)
    assert finding.details["on_the_plates_percent"] == {"Cyan": pytest.approx(70.0, abs=0.5)}
    assert finding.details["without_overprint_percent"] == {}


@pytest.mark.parametrize(
    "ground",
    [
        f"/X cs 1 scn {rectangle(10, 20, 70, 40)} f",
        f"0 0.6 0.9 rg {rectangle(10, 20, 70, 40)} f",
        f"q {mm(70)} 0 0 {mm(40)} {mm(10)} {mm(20)} cm /Im Do Q",
        f"/Pattern cs /Tile scn {rectangle(10, 20, 70, 40)} f",
    ],
    ids=["spot", "RGB", "picture", "pattern"],
)
def test_whatever_the_ground_is_made_of(ground: str, tmp_path: Any) -> None:
    made = page(
        f"/On gs 0 0 0 0 k {PATCH} f",
        ground,
        X=lambda made: made.spot("Fern Green"),
        Im=lambda made: made.image(70, 40, data=bytes([180, 30, 0, 0]) * 2800),
        Tile=lambda made: made.tiling("0.7 0 0 0 k 0 0 20 20 re f", cell=(20, 20)),
    )
    (finding,) = found(made, tmp_path)
    assert finding.id == "overprint.vanishes"
    assert finding.box_mm == pytest.approx(PATCH_MM, abs=0.17)


@pytest.mark.parametrize("rotation", [90, 180, 270])
def test_on_a_turned_page(rotation: int, tmp_path: Any) -> None:
    made = Book()
    made.page(f"{GROUND} /On gs 0 0 0 0 k {PATCH} f", resources={"On": overprints(made)}, Rotate=rotation)
    (finding,) = found(made, tmp_path)
    turned = {90: [30.0, 20.0, 50.0, 50.0], 180: [50.0, 30.0, 80.0, 50.0], 270: [30.0, 50.0, 50.0, 80.0]}
    assert finding.box_mm == pytest.approx(turned[rotation], abs=0.17)


def test_small_type_of_a_real_font(tmp_path: Any) -> None:
    text = f"/On gs 0 0 0 0 k BT /F 6 Tf {mm(20)} {mm(40)} Td (Fernhollow) Tj ET"
    (finding,) = found(page(text, F=lambda made: made.base_font()), tmp_path)
    assert finding.id == "overprint.vanishes"
    assert finding.message.startswith("Type in white")
    # 27.3 pt wide by the widths of Helvetica (Adobe's metrics: 611+556+333+556+556+556+222+222+556+722 thousandths), 718 high.
    assert finding.box_mm == pytest.approx([20.0, 40 - 1.52, 20 + 29.34 * 0.3528, 40.0], abs=0.6)


def test_only_the_part_over_ink_is_lost(tmp_path: Any) -> None:
    made = page(f"/On gs 0 0 0 0 k {rectangle(5, 30, 30, 20)} f")
    (finding,) = found(made, tmp_path)
    assert finding.box_mm == pytest.approx([10.0, 30.0, 35.0, 50.0], abs=0.17)


def test_half_transparent_white(tmp_path: Any) -> None:
    made = page(f"/Half gs 0 0 0 0 k {PATCH} f", Half=lambda made: made.state(OP=True, op=True, OPM=1, ca=0.5))
    (finding,) = found(made, tmp_path)
    assert finding.id == "overprint.vanishes"


def test_a_light_colour_lost_on_black(tmp_path: Any) -> None:
    """Yellow 20 % on a screen's black stands out; overprinted it cannot be told from the black (ΔE 2.7 by FOGRA39 data)."""
    black = f"0 0 0 1 k {rectangle(10, 20, 70, 40)} f"
    (finding,) = found(page(f"/On gs 0 0 0.2 0 k {rectangle(20, 30, 3, 4)} f", black), tmp_path)
    assert finding.id == "overprint.vanishes"
    assert "in Yellow" in finding.message
    assert finding.box_mm == pytest.approx([20.0, 46.0, 23.0, 50.0], abs=0.17)


def white(twin: str) -> Thing:
    text = f"/On gs 0 0 0 0 k BT /F 30 Tf {mm(12)} {mm(8)} Td (III) Tj ET"
    return Thing(
        text if twin != "type 3" else f"/On gs 0 0 0 0 k {rectangle(12, 8, 20, 5)} f",
        (10.0, 5.0, 36.0, 12.0),
        lambda made: {"On": overprints(made), "F": made.base_font("Helvetica-Bold")},
        f"0.7 0 0 0 k {mm(-10)} {mm(-20)} {mm(130)} {mm(120)} re f",
    )


@pytest.mark.parametrize("twin", HIDDEN_TEXT)
def test_white_that_leaves_no_mark_anyway(twin: str, tmp_path: Any) -> None:
    assert found(book(white(twin), twin), tmp_path) == []


@pytest.mark.parametrize("twin", [twin for twin in NESTED if twin != "pattern"])
def test_white_wherever_it_is_nested(twin: str, tmp_path: Any) -> None:
    thing = white(twin)
    assert not leaves_mark(thing, twin, tmp_path)  # that is the fault
    assert {finding.id for finding in found(book(thing, twin), tmp_path)} == {"overprint.vanishes"}


def test_repeated_cells_of_a_pattern_knock_out(tmp_path: Any) -> None:
    """Two engines draw a pattern's cells on their own and set them down whole: the white is there on the plates."""
    thing = white("pattern")
    assert leaves_mark(thing, "pattern", tmp_path)
    assert found(book(thing, "pattern"), tmp_path) == []


SILENT: dict[str, str] = {
    "white on paper": f"/On gs 0 0 0 0 k {rectangle(82, 5, 10, 10)} f",
    "white beside the ground": f"/On gs 0 0 0 0 k {rectangle(80, 20, 10, 40)} f",
    "white that knocks out": f"0 0 0 0 k {PATCH} f",
    "white with OPM 0, process ground": f"/On0 gs 0 0 0 0 k {PATCH} f",
    "gray white, process ground": f"/On gs 1 g {PATCH} f",
    "DeviceN that names the ground at nothing": f"/On gs /NC cs 0 0 scn {PATCH} f",
    "covered later": f"q /On gs 0 0 0 0 k {PATCH} f Q 0 0.5 0 0 k {PATCH} f",
    "black type": f"/On gs 0 0 0 1 k BT /F 60 Tf {mm(15)} {mm(30)} Td (III) Tj ET",
    "gray type in black ink": f"/On gs 0 0 0 0.4 k BT /F 90 Tf {mm(15)} {mm(30)} Td (III) Tj ET",
    "type in the separation Black": f"/On gs /KS cs 1 scn BT /F 90 Tf {mm(15)} {mm(30)} Td (III) Tj ET",
    "solid black on a light tint": f"0.2 0.1 0.1 0 k {rectangle(82, 5, 10, 10)} f /On gs 0 0 0 1 k {rectangle(82, 5, 10, 10)} f",
    "varnish": f"/On gs /V cs 1 scn {PATCH} f",
    "varnish at nothing": f"/On gs /V cs 0 scn {PATCH} f",
    "ordered die": f"/On gs /D cs 1 scn {PATCH} f",
    "spot on paper": f"/On gs /S cs 1 scn {rectangle(82, 5, 10, 40)} f",
    "white in a blend mode that lets the darker one stand": f"/Mul gs 0 0 0 0 k {PATCH} f",
    "outside the bleed": f"/On gs 0 0 0 0 k {rectangle(-9, 20, 5, 40)} f",
    "a small change": f"/On gs /S cs 1 scn {rectangle(20, 30, 4, 3.5)} f",
    "a change nobody sees": f"/On gs 0 0 0.04 0 k {rectangle(82, 5, 10, 10)} f 0.02 0 0 0 k {rectangle(82, 5, 10, 10)} f",
}


@pytest.mark.parametrize("name", SILENT)
def test_overprint_left_alone(name: str, tmp_path: Any) -> None:
    from preflight.ticket import Finishing

    made = page(
        SILENT[name],
        f"0.7 0 0 0 k {rectangle(-10, 20, 90, 40)} f",
        F=lambda made: made.base_font("Helvetica-Bold"),
        S=lambda made: made.spot("Fern Green"),
        V=lambda made: made.spot("Varnish", (0.0, 0.0, 0.6, 0.0)),
        D=lambda made: made.spot("Shape of the leaf"),
        KS=lambda made: made.spot("Black", (0.0, 0.0, 0.0, 1.0)),
        NC=lambda made: made.device_n(["Cyan", "Fern Green"]),
        Mul=lambda made: made.state(OP=True, op=True, OPM=1, BM=Name.Darken),
    )
    assert found(made, tmp_path, finishing=(Finishing("die-cut", "Shape of the leaf"),)) == []


# --- changes ------------------------------------------------------------------------------------------------------------


def test_a_yellow_that_turns_green(tmp_path: Any) -> None:
    """C 70 under Y 100: the plates hold both, the screen shows yellow."""
    (finding,) = found(page(f"/On gs 0 0 1 0 k {PATCH} f"), tmp_path)
    assert (finding.id, finding.severity, finding.unit) == ("overprint.changes", "ask", "mm2")
    assert finding.measured == pytest.approx(600.0, rel=0.02)
    assert finding.box_mm == pytest.approx(PATCH_MM, abs=0.17)
    assert finding.details["without_overprint_percent"] == {"Yellow": 100.0}
    assert finding.details["on_the_plates_percent"] == {"Cyan": pytest.approx(70.0, abs=0.5), "Yellow": 100.0}
    expected = delta_e_1976(lab_of_cmyk(0, 0, 100, 0), lab_of_cmyk(70, 0, 100, 0))
    assert finding.details["delta_e"] == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("content", "resources"),
    [
        (f"/On0 gs /S cs 1 scn {PATCH} f", {"S": lambda made: made.spot("Fern Green")}),
        (f"/On0 gs /N cs 0.2 1 scn {PATCH} f", {"N": lambda made: made.device_n(["Yellow", "Fern Green"])}),
        (f"/On gs 0 1 0 0 K {mm(20)} w {mm(20)} {mm(40)} m {mm(50)} {mm(40)} l S", {}),
        ("/On gs /X Do", {"X": lambda made: made.form(f"0 1 0 0 k {PATCH} f")}),
        (
            f"/On0 gs q {PATCH} W n /Sh sh Q",
            {
                "Sh": lambda made: Dictionary(
                    ShadingType=2,
                    ColorSpace=made.spot("Fern Green"),
                    Coords=Array([0, 0, 300, 0]),
                    Function=Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0.5]), C1=Array([1]), N=1),
                    Extend=Array([True, True]),
                )
            },
        ),
        (
            f"/On0 gs q {mm(30)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /Im Do Q",
            {"Im": lambda made: made.image(30, 20, space=made.spot("Fern Green"), data=bytes([200]) * 600)},
        ),
    ],
    ids=["spot", "DeviceN", "line", "form", "gradient", "picture"],
)
def test_changes_in_disguise(content: str, resources: dict[str, Any], tmp_path: Any) -> None:
    (finding,) = found(page(content, **resources), tmp_path)
    assert finding.id == "overprint.changes"
    assert finding.box_mm == pytest.approx(PATCH_MM, abs=0.35)
    assert finding.measured == pytest.approx(600.0, rel=0.03)


@pytest.mark.parametrize(("width", "said"), [(3.0, 0), (3.9, 1)])
def test_an_area_from_15_mm2_on(width: float, said: int, tmp_path: Any) -> None:
    assert len(found(page(f"/On gs 0 0 1 0 k {rectangle(20, 30, width, 4)} f"), tmp_path)) == said


def test_black_type_on_a_colour_that_overprints_is_no_change_of_its_own(tmp_path: Any) -> None:
    """The box of a thin frame holds black type on a cyan ground; only the type differs there, and it is left alone."""
    frame = f"/On gs 0.7 0 0 0 K 0.3 w {rectangle(15, 25, 60, 30)} S"
    text = f"0 0 0 0.5 k BT /F 90 Tf {mm(17)} {mm(28)} Td (II) Tj ET"
    made = page(f"{frame} {text}", F=lambda made: made.base_font("Helvetica-Bold"))
    assert found(made, tmp_path) == []


#: On this ground black is farther from black alone than the rules allow.
DEEP = f"0.9 0.2 0 0 k {rectangle(-3, -3, 106, 86)} f"


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (f"0 0 0 1 K 0.9 w {rectangle(15, 25, 60, 30)} S", []),
        (f"0 0 0 1 k {' '.join(rectangle(15, 10 + step, 60, 0.3) for step in range(9))} f", []),
        (f"/KS CS 1 SCN 0.9 w {mm(10)} {mm(10)} m {mm(90)} {mm(70)} l S", []),
        (f"0 0 0 1 K 1.1 w {rectangle(15, 25, 60, 30)} S", ["overprint.changes"]),
        (f"0 0 0 1 k {rectangle(15, 25, 60, 0.5)} f", ["overprint.changes"]),
        (f"0 0 0 1 k {PATCH} f 0.9 w {rectangle(15, 25, 60, 30)} S", ["overprint.changes"]),
        (f"0 0 0.4 1 K 0.9 w {rectangle(15, 25, 60, 30)} S", ["overprint.changes"]),
    ],
)
def test_thin_lines_in_black_alone_are_to_overprint(lines: str, said: list[str], tmp_path: Any) -> None:
    """``black.knocks-out`` asks for it: what a customer sets right must not be asked back."""
    made = page(f"/On gs {lines}", DEEP, KS=lambda made: made.spot("Black", (0.0, 0.0, 0.0, 1.0)))
    assert [finding.id for finding in found(made, tmp_path)] == said


def trapped(width_mm: float) -> str:
    """Magenta that lies on cyan with its rim alone, the cyan having a hole for the rest."""
    inner = 30 - 2 * width_mm
    return f"0 0 0 0 k {rectangle(20 + width_mm, 25 + width_mm, inner, inner)} f /On gs 0 1 0 0 k {rectangle(20, 25, 30, 30)} f"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (trapped(0.17), 0),
        (trapped(0.4), 0),
        (trapped(0.8), 1),
        # A rim of one colour all round its own fill; and the same line without the fill.
        (f"0 1 0 0 k {PATCH} f /On gs 0 1 0 0 K 0.7 w {PATCH} S", 0),
        (f"0 0 1 0 k {PATCH} f /On gs 0 1 0 0 K 0.7 w {PATCH} S", 1),
        (f"/On gs 0 1 0 0 K 0.7 w {rectangle(20, 25, 50, 30)} S", 1),
        # The thing's own ink beside it in another colour is no rim of it.
        (f"0.7 0.3 0 0 k {GROUND[GROUND.index('k') + 1 :]} /On gs 0 1 0 0 K 0.7 w {rectangle(20, 25, 50, 30)} S", 1),
    ],
)
def test_a_trap_is_no_change_of_colour(content: str, said: int, tmp_path: Any) -> None:
    assert [finding.id for finding in found(page(content), tmp_path)] == ["overprint.changes"] * said


def test_white_is_not_told_twice(tmp_path: Any) -> None:
    made = page(f"/On gs 0 0 0 0 k {PATCH} f 0 0 1 0 k {rectangle(55, 30, 10, 20)} f")
    assert [finding.id for finding in found(made, tmp_path)] == ["overprint.vanishes", "overprint.changes"]


def test_no_second_view_where_nothing_overprints_anything(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Type in black, a spot on paper: drawing the page a second time would be for nothing."""
    from preflight.inventory import overprint

    def drawn(*_: Any, **__: Any) -> None:
        raise AssertionError("drawn a second time")

    monkeypatch.setattr(overprint, "render_plates", drawn)
    quiet = ("black type", "spot on paper", "white on paper", "varnish")
    for name in quiet:
        made = page(
            SILENT[name],
            F=lambda made: made.base_font("Helvetica-Bold"),
            S=lambda made: made.spot("Fern Green"),
            V=lambda made: made.spot("Varnish"),
        )
        assert found(made, tmp_path) == []
