"""Page boxes and the trim that follows: ISO 32000-2 Table 31, worked examples by arithmetic, and poppler's ``pdfinfo -box``."""

from __future__ import annotations

import re

import pikepdf
import pytest
from artwork import Book, mm
from opened import geometry_of, needs, opened, output_of
from pikepdf import Array, Dictionary, Name
from pymupdf import mupdf

from preflight.inventory.boxes import BoxesUncertain, ordered_box_mm, read_boxes
from preflight.units import Box


def one_page(boxes: dict | None = None, **entries) -> Book:
    book = Book()
    book.page("", trim_mm=None, bleed_mm=None, boxes=boxes or {}, **entries)
    return book


def geometry(book: Book, folder, **order):
    with opened(book, folder, **order) as artwork:
        return geometry_of(artwork)


# --- worked examples -------------------------------------------------------------------------------------------------


def test_a4_with_three_millimetres_of_bleed(tmp_path):
    """8.504 pt = 3.000 mm; 595.276 x 841.890 pt = 210 x 297 mm (ISO 216)."""
    whole = [0, 0, 612.283, 858.898]
    found = geometry(
        one_page({"MediaBox": whole, "BleedBox": whole, "TrimBox": [8.504, 8.504, 603.780, 850.394]}), tmp_path
    )
    assert found.trim_mm == pytest.approx((210.0, 297.0), abs=0.001)
    assert found.bleed_mm == pytest.approx((3.0, 3.0, 3.0, 3.0), abs=0.001)
    assert found.trim_from == "trim-box"


def test_without_a_trim_box_the_crop_box_is_taken(tmp_path):
    found = geometry(one_page({"MediaBox": [0, 0, 400, 500], "CropBox": [10, 10, 200, 300]}), tmp_path)
    assert found.trim_from == "crop-box"
    assert found.frame.trim == Box(10, 10, 200, 300)
    assert found.trim_mm == pytest.approx((190 * 25.4 / 72, 290 * 25.4 / 72))


def test_a_crop_box_is_inherited_and_a_trim_box_is_not(tmp_path):
    book = one_page({"MediaBox": [0, 0, 400, 500]})
    book.pdf.Root.Pages.CropBox = Array([10, 10, 200, 300])
    book.pdf.Root.Pages.TrimBox = Array([20, 20, 100, 100])
    book.pdf.Root.Pages.BleedBox = Array([15, 15, 105, 105])
    book.pdf.Root.Pages.ArtBox = Array([15, 15, 105, 105])
    with opened(book, tmp_path) as artwork:
        boxes = read_boxes(artwork, 1)
        assert geometry_of(artwork).frame.trim == Box(10, 10, 200, 300)
    assert (boxes.trim, boxes.bleed, boxes.art) == (None, None, None)
    assert boxes.crop == Box(10, 10, 200, 300)


def test_media_box_and_rotation_are_inherited(tmp_path):
    book = one_page()
    del book.pdf.pages[0].obj.MediaBox
    book.pdf.Root.Pages.MediaBox = Array([0, 0, 300, 200])
    book.pdf.Root.Pages.Rotate = 90
    with opened(book, tmp_path) as artwork:
        boxes = read_boxes(artwork, 1)
    assert (boxes.media, boxes.rotation) == (Box(0, 0, 300, 200), 90)


def test_user_unit_scales_every_length(tmp_path):
    """360 units of 2/72 inch are 10 inches, 254 mm."""
    found = geometry(one_page({"MediaBox": [0, 0, 360, 360], "TrimBox": [36, 36, 324, 324]}, UserUnit=2), tmp_path)
    assert found.trim_mm == pytest.approx((203.2, 203.2))
    assert found.bleed_mm == pytest.approx((25.4,) * 4)
    assert geometry(one_page({"MediaBox": [0, 0, 360, 360]}, UserUnit=2), tmp_path).trim_mm == pytest.approx((254, 254))


# --- corners, turns, cuts --------------------------------------------------------------------------------------------


def test_corners_come_in_any_order(tmp_path):
    with opened(one_page({"MediaBox": [400, 0, 0, 500], "TrimBox": [300, 400, 100, 100]}), tmp_path) as artwork:
        boxes = read_boxes(artwork, 1)
    assert (boxes.media, boxes.trim) == (Box(0, 0, 400, 500), Box(100, 100, 300, 400))


@pytest.mark.parametrize(
    ("turn", "bleed"),
    [(0, (1, 4, 3, 2)), (90, (2, 1, 4, 3)), (180, (3, 2, 1, 4)), (270, (4, 3, 2, 1)), (-90, (4, 3, 2, 1)), (450, (2, 1, 4, 3))],
)  # fmt: skip
def test_bleed_turns_with_the_page(turn, bleed, tmp_path):
    """Unturned: 1 mm left, 2 bottom, 3 right, 4 top; a clockwise quarter brings the bottom to the left."""
    box = [0, 0, mm(104), mm(86)]
    trim = [mm(1), mm(2), mm(101), mm(82)]
    found = geometry(one_page({"MediaBox": box, "TrimBox": trim}, Rotate=turn), tmp_path)
    assert found.bleed_mm == pytest.approx(bleed, abs=0.001)
    assert found.trim_mm == pytest.approx((80, 100) if turn % 180 else (100, 80), abs=0.001)


def test_boxes_are_cut_to_the_media_box(tmp_path):
    found = geometry(
        one_page({"MediaBox": [0, 0, mm(100), mm(80)], "TrimBox": [mm(-5), mm(5), mm(95), mm(75)], "BleedBox": [mm(-8), mm(2), mm(98), mm(90)]}),
        tmp_path,
    )  # fmt: skip
    assert found.trim_mm == pytest.approx((95, 70), abs=0.001)
    assert found.bleed_mm == pytest.approx((0, 5, 3, 3), abs=0.001)


def test_a_bleed_box_inside_the_trim_offers_nothing(tmp_path):
    found = geometry(
        one_page({"MediaBox": [0, 0, 300, 300], "TrimBox": [50, 50, 250, 250], "BleedBox": [60, 60, 240, 240]}),
        tmp_path,
    )
    assert found.bleed_mm == (0, 0, 0, 0)


def test_without_a_bleed_box_the_media_box_is_on_offer(tmp_path):
    found = geometry(
        one_page({"MediaBox": [0, 0, mm(110), mm(90)], "TrimBox": [mm(5), mm(5), mm(105), mm(85)]}), tmp_path
    )
    assert found.bleed_mm == pytest.approx((5, 5, 5, 5), abs=0.001)


def test_the_zone_is_the_ordered_bleed_whatever_the_bleed_box_says(tmp_path):
    book = Book()
    book.page("", trim_mm=(100, 80), bleed_mm=1.0, margin_mm=4.0)
    assert geometry(book, tmp_path).zone_mm == pytest.approx(Box(-3, -3, 103, 83), abs=0.001)
    # 5 mm are ordered, the media box ends after 4
    assert geometry(book, tmp_path, bleed_mm=5.0).zone_mm == pytest.approx(Box(-4, -4, 104, 84), abs=0.001)


def test_an_art_box_stands_in(tmp_path):
    found = geometry(one_page({"MediaBox": [0, 0, 300, 300], "ArtBox": [50, 50, 250, 200]}), tmp_path)
    assert (found.trim_from, found.frame.trim) == ("art-box", Box(50, 50, 250, 200))


# --- the order stands in ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("page", "ordered", "expected"),
    [
        ((106, 86), (100, 80), (100, 80)),
        ((106, 86), (80, 100), (100, 80)),
        ((120, 100), (100, 80), (100, 80)),
        ((121, 101), (100, 80), (100, 80)),  # 10.5 mm: within half a millimetre
        ((122, 102), (100, 80), None),
        ((101, 81), (100, 80), (100, 80)),  # 0.5 mm: within half a millimetre of 1
        ((106, 87), (100, 80), (100, 80)),  # 3 and 3.5 mm
        ((106, 88), (100, 80), None),  # 3 and 4 mm
        ((100.4, 79.7), (100, 80), (100.4, 79.7)),  # the page is the ordered size
        ((98, 78), (100, 80), None),
        ((210, 297), (100, 80), None),
    ],
)
def test_the_ordered_size_in_the_middle_of_the_page(page, ordered, expected):
    found = ordered_box_mm(page, ordered)
    assert found == (None if expected is None else pytest.approx(expected))


@pytest.mark.parametrize(("turn", "unit"), [(0, 1), (90, 1), (0, 2), (270, 2)])
def test_the_order_is_centred_after_rotation_and_user_unit(turn, unit, tmp_path):
    size = [10, 20, 10 + mm(106) / unit, 20 + mm(86) / unit]
    found = geometry(one_page({"MediaBox": size}, Rotate=turn, UserUnit=unit), tmp_path, trim_mm=(100.0, 80.0))
    assert found.trim_from == "ticket"
    assert found.trim_mm == pytest.approx((80, 100) if turn % 180 else (100, 80), abs=0.001)
    assert found.bleed_mm == pytest.approx((3, 3, 3, 3), abs=0.001)


def test_a_trim_box_wins_over_the_order(tmp_path):
    found = geometry(
        one_page({"MediaBox": [0, 0, mm(106), mm(86)], "TrimBox": [0, 0, mm(90), mm(70)]}), tmp_path, trim_mm=(100, 80)
    )
    assert (found.trim_from, found.trim_mm) == ("trim-box", pytest.approx((90, 70), abs=0.001))


# --- nonsense --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("value", [[0, 0, 0, 0], [10, 10, 10, 90], [1, 2, 3], ["a", 0, 9, 9], [], [0, 0, 1e12, 5]])
def test_a_box_that_is_no_rectangle_is_left_out_and_told(value, tmp_path):
    book = one_page({"MediaBox": [0, 0, 300, 300]})
    book.pdf.pages[0].obj.TrimBox = Array([Name("/" + item) if isinstance(item, str) else item for item in value])
    with opened(book, tmp_path) as artwork:
        boxes = read_boxes(artwork, 1)
        assert geometry_of(artwork).trim_from == "crop-box"
    assert boxes.trim is None
    assert any("TrimBox" in fault for fault in boxes.faults)


def test_a_page_without_a_size_is_taken_as_readers_take_it_and_told(tmp_path):
    book = one_page()
    del book.pdf.pages[0].obj.MediaBox
    with opened(book, tmp_path) as artwork:
        boxes = read_boxes(artwork, 1)
    assert boxes.media == Box(0, 0, 612, 792)
    assert any("media box" in fault for fault in boxes.faults)


def test_odd_turns_and_units_are_settled_and_told(tmp_path):
    with opened(one_page({"MediaBox": [0, 0, 300, 200]}, Rotate=100, UserUnit=-3), tmp_path) as artwork:
        boxes = read_boxes(artwork, 1)
    assert (boxes.rotation, boxes.user_unit, len(boxes.faults)) == (90, 1.0, 2)


@pytest.mark.parametrize("unit", [0, -3, 0.0])
def test_a_unit_without_a_size_is_not_drawn_at(unit, tmp_path):
    """The engine would divide by it: the whole page would stay unchecked."""
    with opened(one_page({"MediaBox": [0, 0, 300, 200]}, UserUnit=unit), tmp_path) as artwork:
        drawn = mupdf.pdf_bound_page(artwork.mupdf_page(1), mupdf.FZ_MEDIA_BOX)
    assert (drawn.x1 - drawn.x0, drawn.y1 - drawn.y0) == (300, 200)


def test_two_sizes_of_one_page_are_uncertain(tmp_path):
    """The tree and the page's own Parent entry lead to different media boxes: readers see different pages."""
    book = one_page()
    page = book.pdf.pages[0].obj
    del page.MediaBox
    book.pdf.Root.Pages.MediaBox = Array([0, 0, 300, 200])
    page.Parent = book.pdf.make_indirect(
        Dictionary(Type=Name.Pages, Kids=Array([]), Count=0, MediaBox=Array([0, 0, 500, 500]))
    )
    with opened(book, tmp_path) as artwork, pytest.raises(BoxesUncertain):
        read_boxes(artwork, 1)


def test_a_missing_page_is_uncertain(tmp_path):
    with opened(one_page(), tmp_path) as artwork:
        artwork.pages[0] = type(artwork.pages[0])(None)
        with pytest.raises(BoxesUncertain):
            read_boxes(artwork, 1)


# --- against poppler -------------------------------------------------------------------------------------------------


@needs("pdfinfo")
def test_boxes_agree_with_poppler(tmp_path):
    book = Book()
    book.page("", Rotate=90)
    book.page("", boxes={"MediaBox": [-20, -30, 400, 500], "CropBox": [390, 490, 0, 0], "TrimBox": [50, 60, 200, 300]})
    book.page("", trim_mm=None, bleed_mm=None, boxes={"CropBox": [5, 5, 100, 100]})
    path = book.save(tmp_path / "art.pdf")
    printed = output_of("pdfinfo", "-box", "-f", "1", "-l", "3", path)
    poppler = {
        (int(page), kind): Box(*(float(number) for number in numbers.split()))
        for page, kind, numbers in re.findall(r"Page\s+(\d+) (\w+)Box:\s+([-\d. ]+)", printed)
    }
    assert len(poppler) == 15
    with opened(path, tmp_path) as artwork:
        for number in (1, 2, 3):
            boxes = read_boxes(artwork, number)
            crop = boxes.crop or boxes.media
            ours = {
                "Media": boxes.media,
                "Crop": crop,
                "Bleed": boxes.bleed or crop,
                "Trim": boxes.trim or crop,
                "Art": boxes.art or crop,
            }
            for kind, box in ours.items():
                assert box == pytest.approx(poppler[number, kind], abs=0.01), (number, kind)


def test_the_file_is_not_touched(tmp_path):
    path = one_page().save(tmp_path / "art.pdf")
    before = path.read_bytes()
    with opened(path, tmp_path) as artwork:
        geometry_of(artwork)
        artwork.mupdf_page(1)
    assert path.read_bytes() == before
    assert pikepdf.open(path).pages[0].obj.get("/CropBox") is None
