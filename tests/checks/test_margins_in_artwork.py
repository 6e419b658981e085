"""Margins, gutter, frames and creep found in PDFs; distances are those the artwork was made with (trim 100 x 80 mm)."""

from __future__ import annotations

import math

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from whole import found_in

from preflight.findings import Finding

#: The letter I of this font is one upright bar, from the base line to 700 thousandths of the size, 900 thousandths wide.
BAR = "1000 0 0 0 1000 1000 d1 0 0 900 700 re f"
SIZE = 10.0
HEIGHT_MM = 0.7 * SIZE * 25.4 / 72
LENGTH_MM = 2.9 * SIZE * 25.4 / 72


def bars(book: Book):
    return book.type3_font({"I": BAR})


def words(x_mm: float, y_mm: float, *, size: float = SIZE, colour: str = "0 0 0 1 k") -> str:
    return f"{colour} BT /F {size} Tf {mm(x_mm)} {mm(y_mm)} Td (III) Tj ET\n"


def margins(book: Book, folder, **order) -> list[Finding]:
    return found_in(book, folder, "margins", **order)


def told(findings: list[Finding]) -> list[str]:
    return [f"{finding.id.partition('.')[2]} {finding.details['edge']}" for finding in findings]


# --- near the trim ---------------------------------------------------------------------------------------------------


def test_the_ink_of_the_text_counts_not_the_room_the_font_takes(tmp_path):
    book = Book()
    book.page(words(30, 80 - 3.1 - HEIGHT_MM), resources={"F": bars(book)})  # 3.1 mm of paper above the letters
    book.page(words(30, 80 - 2.5 - HEIGHT_MM), resources={"F": bars(book)})
    (finding,) = margins(book, tmp_path)
    assert finding.page == 2
    assert finding.measured == pytest.approx(2.5, abs=0.03)
    assert finding.details["edge"] == "top"
    assert finding.box_mm == pytest.approx([30, 2.5, 30 + LENGTH_MM, 2.5 + HEIGHT_MM], abs=0.1)


def as_form(book: Book, content: str) -> tuple[str, dict]:
    return "/X Do", {"X": book.form(content, resources={"F": bars(book)})}


def as_group(book: Book, content: str) -> tuple[str, dict]:
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)
    return "/X Do", {"X": book.form(content, resources={"F": bars(book)}, Group=group)}


def as_pattern(book: Book, content: str) -> tuple[str, dict]:
    pad = mm(10)
    cell = book.tiling(
        content, cell=(mm(200), mm(200)), resources={"F": bars(book)}, Matrix=Array([1, 0, 0, 1, pad, pad])
    )
    return f"/Pattern cs /P scn {rectangle(0, 0, 100, 80)} f", {"P": cell}


def scaled(book: Book, content: str) -> tuple[str, dict]:
    return f"q 0.5 0 0 0.5 0 0 cm {words(4, 60, size=2 * SIZE)} Q", {"F": bars(book)}


@pytest.mark.parametrize("disguise", [as_form, as_group, as_pattern, scaled])
def test_text_2_mm_from_the_left_trim_in_disguise(tmp_path, disguise):
    book = Book()
    content, resources = disguise(book, words(2, 30))
    book.page(content, resources=resources)
    (finding,) = margins(book, tmp_path)
    assert (finding.id, finding.severity) == ("margins.near-trim", "ask")
    assert finding.measured == pytest.approx(2.0, abs=0.03)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_edges_turn_with_the_page(tmp_path, turn):
    book = Book()
    book.page(words(2, 30), resources={"F": bars(book)}, Rotate=turn)
    (finding,) = margins(book, tmp_path)
    assert finding.details["edge"] == {0: "left", 90: "top", 180: "right", 270: "bottom"}[turn]
    assert finding.measured == pytest.approx(2.0, abs=0.03)


def test_a_logo_of_pieces_near_the_bottom(tmp_path):
    book = Book()
    book.page(
        f"1 0 0 0 k {rectangle(40, 1.5, 6, 5)} f 0 1 0 0 k {rectangle(46, 1.5, 6, 5)} f 0 0 1 0 k {rectangle(52, 3, 4, 4)} f"
    )
    (finding,) = margins(book, tmp_path)
    assert told([finding]) == ["near-trim bottom"]
    assert finding.measured == pytest.approx(1.5, abs=0.01)
    assert finding.box_mm == pytest.approx([40, 73, 56, 78.5], abs=0.05)


SILENT = {
    "a full-bleed picture": lambda book: (
        f"q {mm(106)} 0 0 {mm(86)} {mm(-3)} {mm(-3)} cm /Im Do Q",
        {"Im": book.image(40, 30)},
    ),
    "a rule that bleeds": lambda _: (f"0 0 0 1 K 2 w {mm(-3)} {mm(40)} m {mm(12)} {mm(40)} l S", {}),
    "crop marks": lambda _: (f"0 0 0 1 K 0.25 w {mm(-8)} 0 m {mm(-4)} 0 l S 0 {mm(-8)} m 0 {mm(-4)} l S", {}),
    "text clipped away": lambda book: (f"q {rectangle(40, 40, 5, 5)} W n {words(1, 30)} Q", {"F": bars(book)}),
    "invisible text": lambda book: (f"3 Tr {words(1, 30)} 0 Tr", {"F": book.base_font()}),
    "text of no strength": lambda book: (
        f"/G gs {words(1, 30)}",
        {"F": bars(book), "G": book.state(ca=0, CA=0)},
    ),
    "coloured glyphs of no strength": lambda book: (
        f"/G gs {words(1, 30)}",
        {"F": book.type3_font({"I": "1000 0 d0 0 0 900 700 re f"}), "G": book.state(ca=0, CA=0)},
    ),
    "text that is covered": lambda book: (
        f"{words(1, 30)} 0.5 0 0 0 k {rectangle(-3, -3, 106, 86)} f",
        {"F": bars(book)},
    ),
    "white text on paper": lambda book: (words(1, 30, colour="0 0 0 0 k"), {"F": bars(book)}),
    "text far enough in": lambda book: (words(3.05, 30), {"F": bars(book)}),
    "a background in tiles": lambda _: (
        "0.3 0 0 0 k "
        + " ".join(f"{rectangle(-3 + 10 * i, -3 + 10 * j, 10, 10)} f" for i in range(11) for j in range(9)),
        {},
    ),
}


@pytest.mark.parametrize("name", SILENT)
def test_left_alone(tmp_path, name):
    book = Book()
    content, resources = SILENT[name](book)
    book.page(content, resources=resources)
    assert margins(book, tmp_path) == []


def test_a_layer_that_does_not_print_is_left_alone(tmp_path):
    book = Book()
    book.page(f"/OC /L BDC {words(1, 30)} EMC", resources={"F": bars(book), "L": book.layer("Notes", on=False)})
    assert margins(book, tmp_path) == []


def test_white_text_out_of_a_picture_is_text(tmp_path):
    book = Book()
    picture = f"q {mm(106)} 0 0 {mm(86)} {mm(-3)} {mm(-3)} cm /Im Do Q"
    data = bytes([180, 60, 40, 20]) * 40 * 30
    resources = {"F": bars(book), "Im": book.image(40, 30, data=data)}
    book.page(f"{picture} {words(2, 30, colour='0 0 0 0 k')}", resources=resources)
    assert told(margins(book, tmp_path)) == ["near-trim left"]


# --- spine and face --------------------------------------------------------------------------------------------------


def test_text_in_the_gutter_by_page(tmp_path):
    book = Book()
    for number in range(1, 5):
        # 6 mm from the spine: left on odd pages, right on even ones.
        x = 6.0 if number % 2 else 100 - 6.0 - LENGTH_MM
        book.page(words(x, 30), resources={"F": bars(book)})
    found = margins(book, tmp_path, binding="perfect")
    assert [(finding.page, finding.id) for finding in found] == [(number, "margins.gutter") for number in range(1, 5)]
    assert [finding.measured for finding in found] == pytest.approx([6.0] * 4, abs=0.05)
    assert margins(book, tmp_path, binding="saddle-stitch") == []


def test_creep_of_a_booklet(tmp_path):
    book = Book()
    end = LENGTH_MM
    for number in range(1, 65):
        x = 100 - 4.0 - end if number % 2 else 4.0
        near = number in (1, 2, 31, 32)
        book.page(words(x if near else 40, 30), resources={"F": bars(book)})
    found = found_in(book, tmp_path, "binding", binding="saddle-stitch", caliper_mm=0.1)
    assert [(finding.page, finding.severity) for finding in found] == [(31, "ask"), (32, "ask")]
    assert [finding.measured for finding in found] == pytest.approx([2.4, 2.4], abs=0.05)  # 4 mm less 64 / 4 x 0.1 mm
    assert found[0].details["total_push_out_mm"] == pytest.approx(1.6)


def test_creep_that_hurts_nothing(tmp_path):
    book = Book()
    for _ in range(64):
        book.page(words(40, 30), resources={"F": bars(book)})
    (finding,) = found_in(book, tmp_path, "binding", binding="saddle-stitch", caliper_mm=0.1)
    assert (finding.severity, finding.page, finding.measured) == ("note", None, 1.6)


# --- frames ----------------------------------------------------------------------------------------------------------

INSET = 4.0
LINES = [(4, 4, 96, 4), (4, 76, 96, 76), (4, 4, 4, 76), (96, 4, 96, 76)]


def rounded_frame() -> str:
    """A frame with corners of 5 mm radius."""
    x0, y0, x1, y1, r = INSET, INSET, 100 - INSET, 80 - INSET, 5.0
    k = r * (1 - 4 / 3 * (math.sqrt(2) - 1))

    def at(*points: float) -> str:
        return " ".join(f"{mm(point)}" for point in points)

    return (
        f"{at(x0 + r, y0)} m {at(x1 - r, y0)} l {at(x1 - k, y0, x1, y0 + k, x1, y0 + r)} c {at(x1, y1 - r)} l "
        f"{at(x1, y1 - k, x1 - k, y1, x1 - r, y1)} c {at(x0 + r, y1)} l {at(x0 + k, y1, x0, y1 - k, x0, y1 - r)} c "
        f"{at(x0, y0 + r)} l {at(x0, y0 + k, x0 + k, y0, x0 + r, y0)} c h S"
    )


FRAMES = {
    "one stroked rectangle": f"1 w {rectangle(4, 4, 92, 72)} S",
    "a closed line": f"1 w {mm(4)} {mm(4)} m {mm(96)} {mm(4)} l {mm(96)} {mm(76)} l {mm(4)} {mm(76)} l h S",
    "round corners": f"1 w {rounded_frame()}",
    "four lines": "1 w " + " ".join(f"{mm(a)} {mm(b)} m {mm(c)} {mm(d)} l S" for a, b, c, d in LINES),
    "four lines in one path": "1 w " + " ".join(f"{mm(a)} {mm(b)} m {mm(c)} {mm(d)} l" for a, b, c, d in LINES) + " S",
    "four bars": " ".join(
        f"{rectangle(min(a, c), min(b, d), max(0.5, abs(c - a)), max(0.5, abs(d - b)))} f" for a, b, c, d in LINES
    ),
    "a ring": f"{rectangle(4, 4, 92, 72)} {rectangle(4.5, 4.5, 91, 71)} f*",
    "one area on another": f"{rectangle(4, 4, 92, 72)} f 0 0 0 0 k {rectangle(4.5, 4.5, 91, 71)} f",
    "a rim that bleeds": f"{rectangle(-3, -3, 106, 86)} f 0 0 0 0 k {rectangle(2.5, 2.5, 95, 75)} f",
    "dashes": f"1 w [6 3] 0 d {rectangle(4, 4, 92, 72)} S",
    "scaled": f"q 0.1 0 0 0.1 0 0 cm 10 w {rectangle(40, 40, 920, 720)} S Q",
}


@pytest.mark.parametrize("name", FRAMES)
def test_a_thin_frame_however_it_is_drawn(tmp_path, name):
    book = Book()
    book.page(f"0 0 0 1 k 0 0 0 1 K {FRAMES[name]}")
    found = margins(book, tmp_path)
    assert [finding.id for finding in found] == ["margins.frame"], name
    assert found[0].measured == pytest.approx(2.5 if "bleeds" in name else 4.0, abs=0.55)
    assert found[0].limit == 5.0


NO_FRAMES = {
    "rules above and below": " ".join(f"{mm(a)} {mm(b)} m {mm(c)} {mm(d)} l S" for a, b, c, d in LINES[:2]),
    "rules on three sides": " ".join(f"{mm(a)} {mm(b)} m {mm(c)} {mm(d)} l S" for a, b, c, d in LINES[:3]),
    "farther in": f"{rectangle(6, 6, 88, 68)} S",
    "in the middle": f"{rectangle(30, 30, 40, 20)} S",
    "a die line": f"/Spot CS 1 SCN {rectangle(0, 0, 100, 80)} S",
    "a diagonal cross": f"{mm(4)} {mm(4)} m {mm(96)} {mm(76)} l {mm(4)} {mm(76)} m {mm(96)} {mm(4)} l S",
}


@pytest.mark.parametrize("name", NO_FRAMES)
def test_no_frame(tmp_path, name):
    book = Book()
    book.page(f"0 0 0 1 K 1 w {NO_FRAMES[name]}", resources={"Spot": book.spot("Die line")})
    assert margins(book, tmp_path) == []
