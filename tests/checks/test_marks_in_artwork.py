"""Crop and register marks drawn the ways programs draw them, and bleeding artwork that has lines there."""

from __future__ import annotations

import pytest
from artwork import Book, _linear, mm, rectangle
from pikepdf import Array, Name
from whole import found_in

WIDTH, HEIGHT = 100.0, 80.0


def crop_lines(gap: float, length: float = 5.0, x0=0.0, y0=0.0, x1=WIDTH, y1=HEIGHT) -> list[str]:
    """The eight crop marks of a rectangle, as paths in points."""
    lines = []
    for x, out in ((x0, -1), (x1, 1)):
        for y, over in ((y0, -1), (y1, 1)):
            far = gap + length
            lines.append(f"{mm(x + out * gap)} {mm(y)} m {mm(x + out * far)} {mm(y)} l ")
            lines.append(f"{mm(x)} {mm(y + over * gap)} m {mm(x)} {mm(y + over * far)} l ")
    return lines


def each_for_itself(book, gap):
    book.page("0 0 0 1 K 0.25 w " + "".join(f"{line} S " for line in crop_lines(gap)))


def in_one_path(book, gap):
    book.page("0 0 0 1 K 0.25 w " + "".join(crop_lines(gap)) + "S")


def in_all(book, gap):
    space = Array([Name.Separation, Name.All, Name.DeviceCMYK, _linear([0.0] * 4, [1.0] * 4)])
    book.page("/A CS 1 SCN 0.3 w " + "".join(f"{line} S " for line in crop_lines(gap)), resources={"A": space})


def in_a_form_under_a_scale(book, gap):
    inner = book.form("0 G 2.5 w " + "".join(f"{line} S " for line in _ten_times(crop_lines(gap))))
    book.page("q 0.1 0 0 0.1 0 0 cm /Marks Do Q", resources={"Marks": inner})


def as_thin_bars(book, gap):
    bars = []
    for x, left in ((-gap - 5, 0), (WIDTH + gap, 1)):
        bars += [rectangle(x, y - 0.04, 5, 0.08) for y in (0, HEIGHT)]
        bars += [rectangle(left * WIDTH - 0.04, y, 0.08, 5) for y in (-gap - 5, HEIGHT + gap)]
    book.page("0 0 0 1 k " + "".join(f"{bar} f " for bar in bars))


def on_a_turned_page(book, gap):
    each_for_itself(book, gap)
    book.pdf.pages[0].obj.Rotate = 90


def _ten_times(lines):
    return [" ".join(f"{float(word) * 10}" if word[-1].isdigit() else word for word in line.split()) for line in lines]


DISGUISES = [each_for_itself, in_one_path, in_all, in_a_form_under_a_scale, as_thin_bars, on_a_turned_page]


@pytest.mark.parametrize("draw", DISGUISES)
def test_marks_two_millimetres_from_the_trim_are_found(draw, tmp_path) -> None:
    book = Book()
    draw(book, 2.0)
    (finding,) = found_in(book, tmp_path, "marks")
    assert finding.measured == pytest.approx(2.0, abs=0.1)
    assert (finding.severity, finding.limit, finding.page) == ("ask", 3.0, 1)


@pytest.mark.parametrize("draw", DISGUISES)
def test_the_same_marks_outside_the_bleed_are_silent(draw, tmp_path) -> None:
    book = Book()
    draw(book, 3.5)
    assert found_in(book, tmp_path, "marks") == []


def placed_page(book):
    """A page with its marks, placed whole into a larger one."""
    lines = crop_lines(3.0, x0=20, y0=15, x1=80, y1=65)
    book.page(f"0 0 0 0.3 k {rectangle(17, 12, 66, 56)} f 0 0 0 1 K 0.25 w " + "".join(f"{line} S " for line in lines))


def test_marks_of_a_page_placed_inside_the_trim_are_found(tmp_path) -> None:
    book = Book()
    placed_page(book)
    (finding,) = found_in(book, tmp_path, "marks")
    assert finding.measured == 0.0


def test_marks_on_a_page_that_names_no_trim_are_inside_it(tmp_path) -> None:
    """Without a trim box the whole sheet is taken for the page, marks and all."""
    book = Book()
    each_for_itself(book, 3.5)
    for name in ("/TrimBox", "/BleedBox"):
        del book.pdf.pages[0].obj[name]
    (finding,) = found_in(book, tmp_path, "marks")
    assert (finding.measured, finding.count) == (0.0, 8)


def bleeding_rules(book):
    rules = "".join(f"{mm(-3)} {mm(y)} m {mm(103)} {mm(y)} l S " for y in range(5, 80, 5))
    book.page("0 0 0 1 K 0.25 w " + rules)


def table(book):
    levels = "".join(f"{mm(10)} {mm(y)} m {mm(28)} {mm(y)} l S " for y in range(10, 71, 6))
    uprights = "".join(f"{mm(x)} {mm(10)} m {mm(x)} {mm(70)} l S " for x in (10, 19, 28))
    book.page("0 0 0 1 K 0.25 w " + levels + uprights)


def hatching(book):
    cell = book.tiling("0 0 0 1 K 0.3 w 0 5 m 10 5 l S 5 0 m 5 10 l S", cell=(12, 12))
    book.page(f"/Pattern cs /P scn {rectangle(-3, -3, 106, 86)} f", resources={"P": cell})


def frame_on_the_trim(book):
    book.page(f"0 0 0 1 K 0.25 w {rectangle(0, 0, WIDTH, HEIGHT)} S")


def hidden_marks(book):
    layer = book.layer("marks", on=False)
    lines = "".join(f"{line} S " for line in crop_lines(2.0))
    book.page(f"/OC /L BDC 0 0 0 1 K 0.25 w {lines} EMC", resources={"L": layer})


def clipped_marks(book):
    lines = "".join(f"{line} S " for line in crop_lines(2.0))
    book.page(f"q {rectangle(0, 0, WIDTH, HEIGHT)} W n 0 0 0 1 K 0.25 w {lines} Q")


def covered_marks(book):
    lines = "".join(f"{line} S " for line in crop_lines(2.0))
    book.page(f"0 0 0 1 K 0.25 w {lines} 0.2 0 0 0 k {rectangle(-9, -9, 118, 98)} f")


@pytest.mark.parametrize(
    "draw", [bleeding_rules, table, hatching, frame_on_the_trim, hidden_marks, clipped_marks, covered_marks]
)
def test_ordinary_lines_and_unseen_marks_are_silent(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert found_in(book, tmp_path, "marks") == []


def test_a_register_mark_in_the_bleed_is_found(tmp_path) -> None:
    book = Book()
    x, y, r = mm(50), mm(-1.6), mm(1.2)
    k = 0.5523 * r
    circle = (
        f"{x + r} {y} m {x + r} {y + k} {x + k} {y + r} {x} {y + r} c {x - k} {y + r} {x - r} {y + k} {x - r} {y} c "
        f"{x - r} {y - k} {x - k} {y - r} {x} {y - r} c {x + k} {y - r} {x + r} {y - k} {x + r} {y} c S"
    )
    cross = f"{x - 2 * r} {y} m {x + 2 * r} {y} l S {x} {y - 2 * r} m {x} {y + 2 * r} l S"
    book.page(f"0 0 0 1 K 0.25 w {circle} {cross}")
    (finding,) = found_in(book, tmp_path, "marks")
    assert finding.details["what"] == "register marks"
