"""Boxes, sizes and page counts read from PDFs: worked examples with UserUnit, Rotate, inheritance and any origin."""

from __future__ import annotations

import pytest
from artwork import Book, mm
from pikepdf import Array
from whole import found_in, job_for, report_of

A4, A5, A6 = (210.0, 297.0), (148.0, 210.0), (105.0, 148.0)  # ISO 216


def kinds(findings):
    return sorted(f"{finding.id.partition('.')[2]} {finding.severity.value}" for finding in findings)


def boxes_pt(**boxes):
    return {name: list(values) for name, values in boxes.items()}


def test_an_a4_page_by_its_boxes_in_points(tmp_path) -> None:
    """Worked example: TrimBox [8.504 8.504 603.780 850.394] in a BleedBox of 612.283 x 858.898 is 210 x 297 mm with 3 mm bleed."""
    book = Book()
    boxes = boxes_pt(
        MediaBox=[0, 0, 612.283, 858.898], TrimBox=[8.504, 8.504, 603.780, 850.394], BleedBox=[0, 0, 612.283, 858.898]
    )
    book.page(boxes=boxes)
    report = report_of(book.save(tmp_path / "a4.pdf"), job_for(trim_mm=A4))
    assert report.pages[0].trim_mm == pytest.approx([210.0, 297.0], abs=0.01)
    assert report.pages[0].bleed_mm == pytest.approx([3.0, 3.0, 3.0, 3.0], abs=0.01)
    assert [finding for finding in report.findings if finding.id.startswith("trim.")] == []


@pytest.mark.parametrize("size", [A4, A5, A6, (99.0, 210.0)], ids=["A4", "A5", "A6", "DL"])
def test_the_ordered_size_is_silent(size, tmp_path) -> None:
    book = Book()
    book.page(trim_mm=size)
    assert found_in(book, tmp_path, "trim", trim_mm=size) == []


@pytest.mark.parametrize("origin", [(0, 0), (-300, 120), (5000, -7000)])
def test_the_origin_of_the_media_box_does_not_matter(origin, tmp_path) -> None:
    book = Book()
    page = book.page(trim_mm=A5)
    for name in ("MediaBox", "TrimBox", "BleedBox"):
        box = [float(value) for value in page.obj[f"/{name}"]]
        page.obj[f"/{name}"] = Array([value + origin[index % 2] for index, value in enumerate(box)])
    assert found_in(book, tmp_path, "trim", trim_mm=A5) == []


def test_a_rotated_page_is_judged_as_a_reader_sees_it(tmp_path) -> None:
    book = Book()
    book.page(trim_mm=A5[::-1], Rotate=90)
    assert found_in(book, tmp_path, "trim", trim_mm=A5) == []


# --- a wrong size in every disguise ---


def wrong_by_the_trim_box(book):
    book.page(trim_mm=A6)


def wrong_after_rotation(book):
    book.page(trim_mm=A6[::-1], Rotate=270)


def wrong_after_the_user_unit(book):
    book.page(trim_mm=A5, UserUnit=0.7095)  # 148 x 210 becomes 105 x 149


def wrong_by_the_art_box(book):
    page = book.page(trim_mm=A6)
    page.obj.ArtBox = page.obj.TrimBox
    del page.obj["/TrimBox"]


def wrong_by_the_crop_box(book):
    book.page(
        trim_mm=None, bleed_mm=None, boxes=boxes_pt(MediaBox=[0, 0, 600, 800], CropBox=[9, 9, 9 + mm(105), 9 + mm(148)])
    )


@pytest.mark.parametrize(
    "draw",
    [
        wrong_by_the_trim_box,
        wrong_after_rotation,
        wrong_after_the_user_unit,
        wrong_by_the_art_box,
        wrong_by_the_crop_box,
    ],
)
def test_a_wrong_size_is_found_in_every_disguise(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    (finding,) = (each for each in found_in(book, tmp_path, "trim", trim_mm=A5) if each.id == "trim.wrong-size")
    assert finding.measured == pytest.approx(148.0, abs=1.1)
    assert finding.limit == 210.0


def test_a_spread_lying_on_its_side_in_the_file_is_a_spread(tmp_path) -> None:
    book = Book()
    book.page(trim_mm=(210.0, 296.0), Rotate=90)
    assert kinds(found_in(book, tmp_path, "trim", trim_mm=A5)) == ["spread ask"]


def crossed_bleed(book):
    page = book.page(bleed_mm=None)
    page.obj.BleedBox = Array([float(value) + 2 for value in page.obj.TrimBox])


def crossed_media(book):
    book.page(margin_mm=0, bleed_mm=None).obj.MediaBox = Array([20, 0, 300, 300])


def crossed_on_a_turned_page(book):
    crossed_bleed(book)
    book.pdf.pages[0].obj.Rotate = 90


@pytest.mark.parametrize("draw", [crossed_bleed, crossed_media, crossed_on_a_turned_page])
def test_boxes_that_contradict_each_other(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    findings = [finding for finding in found_in(book, tmp_path, "trim") if finding.id == "trim.boxes-crossed"]
    assert [finding.severity.value for finding in findings] == ["ask"]


def turned_by_rotate(book):
    book.page(trim_mm=A5)
    book.page(trim_mm=A5, Rotate=90)


def turned_by_boxes(book):
    book.page(trim_mm=A5)
    book.page(trim_mm=A5[::-1])


def turned_in_a_larger_unit(book):
    book.page(trim_mm=A5)
    book.page(trim_mm=(105.0, 74.0), UserUnit=2)


@pytest.mark.parametrize("draw", [turned_by_rotate, turned_by_boxes, turned_in_a_larger_unit])
def test_landscape_among_portrait(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    (finding,) = (each for each in found_in(book, tmp_path, "trim") if each.id != "trim.scaled")
    assert (finding.id, finding.page, finding.severity) == ("trim.turned", 2, "ask")


def test_pages_of_two_sizes(tmp_path) -> None:
    book = Book()
    for size in (A5, A5, A6):
        book.page(trim_mm=size)
    (finding,) = found_in(book, tmp_path, "trim")
    assert (finding.id, finding.page, finding.measured, finding.limit) == ("trim.mixed-sizes", 3, 148.0, 210.0)


@pytest.mark.parametrize("pages", [3, 5])
def test_another_count_than_ordered(pages, tmp_path) -> None:
    book = Book()
    for _ in range(pages):
        book.page("0 0 0 1 k 20 20 100 100 re f")
    (finding,) = found_in(book, tmp_path, "pages", pages=4)
    assert (finding.id, finding.measured, finding.limit) == ("pages.wrong-count", pages, 4.0)


def test_rotate_is_inherited_and_may_turn_a_page(tmp_path) -> None:
    book = Book()
    book.page(trim_mm=A5)
    book.pdf.Root.Pages.Rotate = 270
    assert kinds(found_in(book, tmp_path, "trim", trim_mm=A5)) == ["turned ask"]


def test_a_user_unit_is_resolved_first(tmp_path) -> None:
    """Worked example: MediaBox [0 0 360 360] with UserUnit 2 is 10 x 10 inches, 720 pt."""
    book = Book()
    book.page(trim_mm=None, bleed_mm=None, boxes=boxes_pt(MediaBox=[0, 0, 360, 360]), UserUnit=2)
    report = report_of(book.save(tmp_path / "unit.pdf"), job_for(trim_mm=(254.0, 254.0)))
    assert report.pages[0].trim_mm == pytest.approx([254.0, 254.0])
    found = [finding for finding in report.findings if finding.id.startswith("trim.")]
    assert kinds(found) == ["scaled note", "undefined note"]
    assert [finding.measured for finding in found if finding.id == "trim.scaled"] == [2.0]


def test_without_a_trim_box_the_crop_box_counts(tmp_path) -> None:
    """Worked example: CropBox [10 10 200 300] in a larger media box (ISO 32000-2, Table 31)."""
    book = Book()
    book.page(trim_mm=None, bleed_mm=None, boxes=boxes_pt(MediaBox=[0, 0, 400, 400], CropBox=[10, 10, 200, 300]))
    report = report_of(book.save(tmp_path / "crop.pdf"))
    assert report.pages[0].trim_mm == pytest.approx([190 / mm(1), 290 / mm(1)], abs=0.01)
    (finding,) = (each for each in report.findings if each.id == "trim.undefined")
    assert (finding.severity, finding.details["taken"]) == ("ask", "crop-box")


def test_a_crop_box_is_inherited_and_a_trim_box_is_not(tmp_path) -> None:
    """Worked example: CropBox and TrimBox on the page tree only (Table 31: TrimBox is not inheritable)."""
    book = Book()
    book.page(trim_mm=None, bleed_mm=None, boxes=boxes_pt(MediaBox=[0, 0, 400, 400]))
    book.pdf.Root.Pages.CropBox = Array([0, 0, 200, 300])
    book.pdf.Root.Pages.TrimBox = Array([20, 20, 100, 100])
    report = report_of(book.save(tmp_path / "tree.pdf"))
    assert report.pages[0].trim_mm == pytest.approx([200 / mm(1), 300 / mm(1)], abs=0.01)
    assert "trim.undefined" in [finding.id for finding in report.findings]


@pytest.mark.parametrize("margin", [0.0, 3.0, 5.0, 10.0])
def test_a_page_of_the_ordered_size_with_even_margins_is_a_note(margin, tmp_path) -> None:
    book = Book()
    book.page(trim_mm=None, bleed_mm=None, boxes=boxes_pt(MediaBox=[0, 0, mm(148 + 2 * margin), mm(210 + 2 * margin)]))
    assert kinds(found_in(book, tmp_path, "trim", trim_mm=A5)) == ["undefined note"]


@pytest.mark.parametrize("sides", [(154.0, 220.0), (180.0, 242.0)], ids=["uneven", "too wide"])
def test_a_page_of_another_size_without_a_trim_box_asks(sides, tmp_path) -> None:
    book = Book()
    book.page(trim_mm=None, bleed_mm=None, boxes=boxes_pt(MediaBox=[0, 0, *map(mm, sides)]))
    assert kinds(found_in(book, tmp_path, "trim", trim_mm=A5)) == ["undefined ask", "wrong-size stop"]


def test_boxes_given_by_any_two_corners_are_the_same_boxes(tmp_path) -> None:
    book = Book()
    page = book.page(trim_mm=A5)
    x0, y0, x1, y1 = (float(value) for value in page.obj.TrimBox)
    page.obj.TrimBox = Array([x1, y0, x0, y1])
    assert found_in(book, tmp_path, "trim", trim_mm=A5) == []


def test_spreads_silence_size_and_page_count(tmp_path) -> None:
    book = Book()
    for _ in range(8):
        book.page("0 0 0 1 k 0 0 100 100 re f", trim_mm=(296.0, 210.0))
    report = report_of(book.save(tmp_path / "spreads.pdf"), job_for(trim_mm=A5, pages=16, binding="saddle-stitch"))
    found = [finding for finding in report.findings if finding.id.startswith(("trim.", "pages."))]
    assert kinds(found) == ["spread ask"]
    assert found[0].details["pages"] == list(range(1, 9))


def test_thirty_pages_to_be_stitched(tmp_path) -> None:
    """Worked example: 30 pages, saddle stitch: needs 32, two blanks."""
    book = Book()
    for _ in range(30):
        book.page("0 0 0 1 k 20 20 100 100 re f", trim_mm=A6)
    (finding,) = found_in(book, tmp_path, "pages", pages=30, binding="saddle-stitch")
    assert (finding.id, finding.measured, finding.limit) == ("pages.binding-multiple", 30.0, 32.0)
    assert finding.details["blanks"] == 2


def blank(book):
    book.page("")


def white_on_white(book):
    book.page("1 1 1 rg 20 20 100 100 re f 0 0 0 0 k 50 50 20 20 re f")


def all_hidden(book):
    layer = book.layer("draft", on=False)
    book.page("/OC /L BDC 0 0 0 1 k 20 20 100 100 re f EMC", resources={"L": layer})


def only_marks_outside(book):
    book.page(f"0 0 0 1 k {mm(-9)} 0 10 10 re f")


def only_invisible_text(book):
    book.page("BT /F 20 Tf 3 Tr 100 100 Td (fern) Tj ET", resources={"F": book.base_font()})


@pytest.mark.parametrize("draw", [blank, white_on_white, all_hidden, only_marks_outside, only_invisible_text])
def test_a_page_with_nothing_visible_inside_the_trim(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    (finding,) = found_in(book, tmp_path, "pages")
    assert (finding.id, finding.severity, finding.page) == ("pages.blank", "ask", 1)


def one_dot(book):
    book.page("0 0 0 1 k 100 100 2 2 re f")


def a_light_tint(book):
    book.page("0.03 0 0 0 k 20 20 100 100 re f")


def only_a_spot(book):
    book.page("/S cs 1 scn 20 20 100 100 re f", resources={"S": book.spot("Fern Green")})


@pytest.mark.parametrize("draw", [one_dot, a_light_tint, only_a_spot])
def test_a_page_with_little_on_it_is_not_blank(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert found_in(book, tmp_path, "pages") == []


def test_a_blank_page_the_ticket_lists_is_silent(tmp_path) -> None:
    book = Book()
    one_dot(book)
    blank(book)
    assert found_in(book, tmp_path, "pages", blank_pages=(2,), pages=2) == []
