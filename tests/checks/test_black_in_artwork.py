"""Black type and lines found in PDFs: from several inks, and knocking out colour, with the cause.

The causes follow ISO 32000-2, Table 146; plates rendered from the same artwork must agree with every verdict.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from plated import look
from whole import found_in

from preflight.findings import Finding

#: Letters that are solid blocks of 900 x 700 thousandths of the size, so that the plates inside one can be read.
BLOCK = "1000 0 0 0 1000 1000 d1 0 0 900 700 re f"
GROUND = rectangle(10, 20, 70, 40)
CYAN = f"0.7 0 0 0 k {GROUND} f"
ICC = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


def words(colour: str, size: float = 10, *, x_mm: float = 20, y_mm: float = 40) -> str:
    return f"{colour} BT /F {size} Tf {mm(x_mm)} {mm(y_mm)} Td (III) Tj ET\n"


def line(colour: str, width: float = 0.6) -> str:
    return f"{colour.upper()} {width} w {mm(20)} {mm(40)} m {mm(60)} {mm(40)} l S\n"


def page(book: Book, content: str, **resources) -> None:
    states = {
        "OP0": book.state(OP=True, op=True, OPM=0),
        "OP1": book.state(OP=True, op=True, OPM=1),
        "Low": book.state(op=True, OP=False, OPM=1),
        "Multiply": book.state(BM=Name.Multiply),
    }
    spaces = {
        "KSep": Array([Name.Separation, Name.Black, Name.DeviceCMYK, _into_black(book)]),
        "KN": book.device_n(["Cyan", "Black"]),
        "S": book.spot("Fern Green"),
    }
    book.page(content, resources={"F": book.type3_font({"I": BLOCK}), **states, **spaces, **resources})


def _into_black(book: Book) -> Dictionary:
    return Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0, 0]), C1=Array([0, 0, 0, 1]), N=1)


def blacks(book: Book, folder, **order) -> list[Finding]:
    return found_in(book, folder, "black", **order)


# --- knocks out ------------------------------------------------------------------------------------------------------

CASES = [
    ("", "0 0 0 1 k", "no-overprint"),
    ("/OP0 gs", "0 0 0 1 k", "overprint-mode-0"),
    ("/OP1 gs", "0 0 0 1 k", None),
    ("", "0 g", "no-overprint"),
    ("/OP0 gs", "0 g", "gray-erases"),
    ("/OP1 gs", "0 g", "gray-erases"),
    ("", "/KSep cs 1 scn", "no-overprint"),
    ("/OP0 gs", "/KSep cs 1 scn", None),
    ("/OP1 gs", "/KSep cs 1 scn", None),
    ("/OP1 gs", "/KN cs 0 1 scn", "named-at-zero"),
]


@pytest.mark.parametrize(("state", "colour", "cause"), CASES)
def test_the_cause_and_what_the_plates_show(tmp_path, state, colour, cause):
    book = Book()
    page(book, f"{CYAN} q {state} {words(colour)} Q")
    inside = look(book, tmp_path).at(21.5, 41)
    assert inside.get("Black") == 100
    assert inside.get("Cyan") == (None if cause else 70)
    found = blacks(book, tmp_path)
    assert [finding.details["cause"] for finding in found] == ([cause] if cause else [])
    if cause:
        assert (found[0].id, found[0].severity, found[0].limit) == ("black.knocks-out", "ask", 12.0)
        assert found[0].measured == pytest.approx(10.0, rel=0.02)
        assert found[0].box_mm == pytest.approx([20, 40 - 2.47, 20 + 2.9 * 3.53, 40], abs=0.1)


@pytest.mark.parametrize(("state", "colour", "cause"), [case for case in CASES if "cs" not in case[1]])
def test_lines_too(tmp_path, state, colour, cause):
    book = Book()
    page(book, f"{CYAN} q {state} {line(colour)} Q")
    found = blacks(book, tmp_path)
    assert [finding.details["cause"] for finding in found] == ([cause] if cause else [])


def test_overprint_for_fills_alone_leaves_lines_knocking_out(tmp_path):
    book = Book()
    page(book, f"{CYAN} /Low gs {words('0 0 0 1 k', y_mm=50)} {line('0 0 0 1 k')}")
    (finding,) = blacks(book, tmp_path)
    assert finding.details["what"] == "line"


def test_a_profile_takes_the_overprint_from_black(tmp_path):
    if not ICC.exists():
        pytest.skip("needs the profiles of libgs-common")
    book = Book()
    page(book, f"{CYAN} /OP1 gs {words('/P cs 0 0 0 1 scn')}", P=book.icc(ICC, 4))
    found = blacks(book, tmp_path)
    assert [finding.details.get("cause", "many") for finding in found] == ["converted-erases"]


def forms(book):
    return "/X Do", {"X": book.form("0.7 0 0 0 k " + GROUND + " f")}


def pictures(book):
    return f"q {mm(70)} 0 0 {mm(40)} {mm(10)} {mm(20)} cm /Im Do Q", {
        "Im": book.image(70, 40, data=bytes([180, 0, 0, 0]) * 2800)
    }


def patterns(book):
    cell = book.tiling("0.7 0 0 0 k 0 0 20 20 re f", cell=(20, 20))
    return f"/Pattern cs /P scn {GROUND} f", {"P": cell}


def rgb(book):
    return f"0 0.6 0.9 rg {GROUND} f", {}


def spots(book):
    return f"/S cs 1 scn {GROUND} f", {}


@pytest.mark.parametrize("ground", [forms, pictures, patterns, rgb, spots])
def test_grounds_in_disguise(tmp_path, ground):
    book = Book()
    content, resources = ground(book)
    page(book, f"{content} {words('0 0 0 1 k')}", **resources)
    assert [finding.id for finding in blacks(book, tmp_path)] == ["black.knocks-out"]


def test_in_a_form_with_an_inherited_state(tmp_path):
    book = Book()
    inner = book.form(words("0 0 0 1 k"), resources={"F": book.type3_font({"I": BLOCK})})
    page(book, f"{CYAN} /OP1 gs /X Do", X=inner)
    page(book, f"{CYAN} /OP0 gs /X Do", X=inner)
    assert [(finding.page, finding.details["cause"]) for finding in blacks(book, tmp_path)] == [(2, "overprint-mode-0")]


SILENT = {
    "on paper": words("0 0 0 1 k"),
    "on white": f"0 0 0 0 k {GROUND} f {words('0 0 0 1 k')}",
    "on a ground of black alone": f"0 0 0 0.4 k {GROUND} f {words('0 0 0 1 k')}",
    "on gray": f"0.6 g {GROUND} f {words('0 0 0 1 k')}",
    "on a white panel": f"{CYAN} 0 0 0 0 k {rectangle(15, 35, 40, 10)} f {words('0 0 0 1 k')}",
    "beside colour": f"0.7 0 0 0 k {rectangle(10, 20, 70, 19.5)} f {words('0 0 0 1 k')}",
    "ground clipped away": f"q {rectangle(0, 0, 5, 5)} W n {CYAN} Q {words('0 0 0 1 k')}",
    "12 pt": f"{CYAN} {words('0 0 0 1 k', 12)}",
    "a line of 1 pt": f"{CYAN} {line('0 0 0 1 k', 1.0)}",
    "gray type": f"{CYAN} {words('0 0 0 0.4 k')}",
    "covered": f"{CYAN} {words('0 0 0 1 k')} 0 1 0 0 k {GROUND} f",
}


@pytest.mark.parametrize("name", SILENT)
def test_black_left_alone(tmp_path, name):
    book = Book()
    page(book, SILENT[name])
    assert blacks(book, tmp_path) == []


# --- many inks -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "colour", ["0.6 0.4 0.4 1 k", "0.75 0.68 0.67 0.9 k", "0 0 0 rg", "0.1 0.1 0.1 rg", "/N cs 1 0.5 scn"]
)
@pytest.mark.parametrize("fine", [words, line])
def test_black_from_several_inks(tmp_path, colour, fine):
    book = Book()
    page(book, fine(colour), N=book.device_n(["Black", "Fern Green"]))
    (finding,) = blacks(book, tmp_path)
    assert (finding.id, finding.severity) == ("black.many-inks", "ask")
    assert "Black" in finding.details["inks"]
    assert len(finding.details["inks"]) > 1


@pytest.mark.parametrize(
    "content",
    [
        f"0.6 0.4 0.4 1 k {GROUND} f",
        words("0.6 0.4 0.4 1 k", 12),
        line("0.6 0.4 0.4 1 k", 1),
        words("0 0 0 1 k"),
        words("1 1 0 0 k"),
        words("0 0 1 rg"),
        words("/S cs 1 scn"),
    ],
    ids=["large area", "12 pt", "1 pt line", "black", "dark blue", "blue", "spot"],
)
def test_no_black_from_several_inks(tmp_path, content):
    book = Book()
    page(book, content)
    assert [finding.id for finding in blacks(book, tmp_path)] == []


# --- thin solid ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("colour", ["0 0 0 1 k", "0 g", "/KSep cs 1 scn"])
def test_a_large_black_of_one_ink(tmp_path, colour):
    book = Book()
    page(book, f"{colour} {rectangle(10, 20, 30, 20)} f")
    (finding,) = blacks(book, tmp_path)
    assert (finding.id, finding.severity, finding.unit) == ("black.thin-solid", "note", "mm2")
    assert finding.measured == pytest.approx(600.0, rel=0.02)


@pytest.mark.parametrize("x_mm", [10, 10.1, 10.26, 10.4])
def test_a_narrow_solid_is_seen_wherever_it_lies(tmp_path, x_mm):
    book = Book()
    page(book, f"0 0 0 1 k {rectangle(x_mm, -3, 5.1, 86)} f")
    assert [finding.id for finding in blacks(book, tmp_path)] == ["black.thin-solid"]


def test_a_solid_that_is_enriched_in_part(tmp_path):
    book = Book()
    page(book, f"0 0 0 1 k {GROUND} f /OP1 gs 0.6 0.4 0.4 0 k {rectangle(5, 15, 60, 60)} f")
    assert [finding.id for finding in blacks(book, tmp_path)] == ["black.thin-solid"]


BARS = " ".join(rectangle(10 + 3 * bar, 20, 1.8, 40) for bar in range(20))
LATER = f"0.6 0.4 0.4 0 k {rectangle(5, 15, 80, 60)} f"


@pytest.mark.parametrize(
    "content",
    [
        f"0 0 0 1 k {rectangle(10, 20, 20, 20)} f",
        f"0 0 0 0.6 k {GROUND} f",
        f"{CYAN} /OP1 gs 0 0 0 1 k {GROUND} f",
        f"q {rectangle(10, 20, 5, 5)} W n 0 0 0 1 k {GROUND} f Q",
        f"0 0 0 1 k {GROUND} f /OP1 gs {LATER}",
        f"0 0 0 1 k {GROUND} f /Multiply gs {LATER}",
        f"0 0 0 1 k {BARS} f",
    ],
    ids=[
        "at the limit",
        "a tint",
        "enriched by overprint",
        "clipped",
        "enriched later by overprint",
        "enriched later by a blend mode",
        "the bars of a code in one path",
    ],
)
def test_no_thin_solid(tmp_path, content):
    book = Book()
    page(book, content)
    assert blacks(book, tmp_path) == []
