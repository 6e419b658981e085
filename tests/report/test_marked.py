"""The marked copy: marks at their places however a page lies, in standard form, off the plates, the original untouched."""

from __future__ import annotations

import hashlib
import itertools
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pymupdf
import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from PIL import Image
from report.sample import HOSTILE, finding, page, report
from whole import job_for, report_of

from preflight.errors import ToolFault
from preflight.findings import Finding, Report, Waived
from preflight.report.docket import numbered
from preflight.report.marked import mark_copy
from preflight.units import Box

#: A black box on yellow, 30 x 15 mm, 10 mm from the left trim and 5 mm from the top of a page of 100 x 80 mm.
ART = f"0 0.2 0.8 0 k {rectangle(-3, -3, 106, 86)} f 0 0 0 1 k {rectangle(10, 60, 30, 15)} f"


def a_report(*findings: Finding, pages: int = 1) -> Report:
    return replace(report(pages=pages), findings=list(findings), pages=[])


def marked(source: Path, whole: Report, target: Path | None = None) -> pymupdf.Document:
    target = target or source.with_name("marked.pdf")
    mark_copy(source, whole, target)
    return pymupdf.open(target)


def seen(document: pymupdf.Document, number: int = 0, *, marks: bool = True) -> np.ndarray:
    """A page as a viewer shows it, at 10 pixels a millimetre of 1/72 inch units."""
    pixmap = document[number].get_pixmap(dpi=254, annots=marks)
    return np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width, pixmap.n)[..., :3].astype(int)


def changed_box(document: pymupdf.Document, number: int = 0) -> Box:
    """Where the marks are, in pixels."""
    rows, columns = np.nonzero(np.abs(seen(document, number) - seen(document, number, marks=False)).sum(axis=2) > 60)
    return Box(columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)


@pytest.mark.parametrize(
    ("turn", "box"),
    [
        (0, [10.0, 5.0, 40.0, 20.0]),
        (90, [60.0, 10.0, 75.0, 40.0]),
        (180, [60.0, 60.0, 90.0, 75.0]),
        (270, [5.0, 60.0, 20.0, 90.0]),
    ],
)
def test_the_frame_lies_around_the_place_however_the_page_is_turned(
    tmp_path: Path, turn: int, box: list[float]
) -> None:
    """``box`` is the black box as a reader sees it, by turning the page by hand; media reaches 10 mm past the trim."""
    book = Book()
    book.page(ART, Rotate=turn)
    source = book.save(tmp_path / "art.pdf")

    document = marked(source, a_report(finding("resolution.low", box=box)))
    black = seen(document, marks=False).sum(axis=2) < 200
    rows, columns = np.nonzero(black)
    place = Box(columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    assert [edge / 10 - 10 for edge in place] == pytest.approx(box, abs=0.15)

    frame = changed_box(document)
    # Around the place within a millimetre, and a number of 2.5 mm above it.
    assert frame.contains(place)
    assert (frame.x0, frame.x1, frame.y1) == pytest.approx((place.x0, place.x1, place.y1), abs=10)
    assert frame.y0 == pytest.approx(place.y0 - 25, abs=10)
    # The place itself stays free to look at.
    middle = np.s_[int(place.y0) + 12 : int(place.y1) - 12, int(place.x0) + 12 : int(place.x1) - 12]
    assert (seen(document)[middle] == seen(document, marks=False)[middle]).all()


def test_user_unit_and_a_moved_origin_are_reckoned_with(tmp_path: Path) -> None:
    """With UserUnit 2 the page is 200 x 160 mm; its media box starts at (-300, 1000)."""
    book = Book()
    book.page(
        "", UserUnit=2,
        boxes={"MediaBox": [-300, 1000, -300 + mm(120), 1000 + mm(100)],
               "TrimBox": [-300 + mm(10), 1000 + mm(10), -300 + mm(110), 1000 + mm(90)], "BleedBox": None},
    )  # fmt: skip
    source = book.save(tmp_path / "art.pdf")

    document = marked(source, a_report(finding("resolution.low", box=[20.0, 10.0, 80.0, 40.0])))

    frame = changed_box(document)
    scale = seen(document).shape[1] / 240  # pixels to a millimetre of the printed page
    assert [frame.x0 / scale - 20, frame.y1 / scale - 20, frame.x1 / scale - 20] == pytest.approx([20, 40, 80], abs=1)


def test_a_trim_taken_from_the_order_is_found_again(tmp_path: Path) -> None:
    """No trim box: the ordered 100 x 80 mm lie centred in a page of 110 x 90 mm."""
    book = Book()
    book.page(ART, boxes={"TrimBox": None, "BleedBox": None}, margin_mm=5)
    source = book.save(tmp_path / "art.pdf")
    whole = replace(
        a_report(finding("resolution.low", box=[10.0, 5.0, 40.0, 20.0])),
        pages=[replace(page(1), trim_mm=[100.0, 80.0], trim_from="ticket")],
    )

    frame = changed_box(marked(source, whole))

    assert (frame.x0 / 10 - 5, frame.x1 / 10 - 5) == pytest.approx((10, 40), abs=1)


def test_marks_are_standard_annotations_with_notes(tmp_path: Path) -> None:
    book = Book()
    book.page(ART)
    book.page(ART)
    source = book.save(tmp_path / "art.pdf")
    findings = [
        finding("file.active-content", "note", "intake", None, message="It holds JavaScript.", remedy="Nothing to do."),
        finding(
            "resolution.low", page=2, box=[10, 5, 40, 20], measured=71.9, limit=150.0, unit="ppi",
            message="Too few pixels.", remedy="Send a larger one.",
        ),
        finding("tint.too-light", "note", "press", 2, waived=Waived("M. Quill", "2026-11-20", "as ordered")),
    ]  # fmt: skip
    mark_copy(source, a_report(*findings, pages=2), tmp_path / "marked.pdf")

    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        [first] = copy.pages[0].Annots
        square, note = copy.pages[1].Annots
        assert str(first.Subtype) == "/Text"
        assert str(first.Contents).startswith("1. note: It holds JavaScript.\nthe whole file")
        assert str(square.Subtype) == "/Square"
        assert str(square.Contents) == (
            "2. stop: Too few pixels.\npage 2, 10 mm from left trim, 5 mm from top, 71.9 ppi, limit 150 ppi\nSend a larger one."
        )
        assert "Accepted by M. Quill on 2026-11-20: as ordered" in str(note.Contents)
        assert str(square.M) == "D:20261125093000Z"
        for annotation in (first, square, note):
            assert int(annotation.F) == 0
            form = annotation.AP.N
            assert str(form.Subtype) == "/Form"
            assert [float(value) for value in form.BBox] == [float(value) for value in annotation.Rect]


def test_the_numbers_are_those_of_the_report(tmp_path: Path) -> None:
    book = Book()
    for _ in range(16):
        book.page(ART, trim_mm=(148, 210))
    source = book.save(tmp_path / "art.pdf")
    whole = report()

    assert mark_copy(source, whole, tmp_path / "marked.pdf") == len(whole.findings)
    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        said = {
            (number, str(entry.Contents).partition(":")[0])
            for number, sheet in enumerate(copy.pages, 1)
            for entry in sheet.get("/Annots", [])
        }
    for place in numbered(whole):
        state = "accepted" if place.finding.waived else place.finding.severity.value
        assert (place.finding.page or 1, f"{place.number}. {state}") in said


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_numbers_of_one_place_stand_side_by_side(tmp_path: Path, turn: int) -> None:
    book = Book()
    book.page(ART, trim_mm=(100, 80), Rotate=turn)
    here = [
        finding(kind, box=[60.0, 30.0, 79.0, 50.0])
        for kind in ("black.many-inks", "type.small", "line.thin", "tint.too-light")
    ]
    mark_copy(book.save(tmp_path / "art.pdf"), a_report(*here), tmp_path / "marked.pdf")

    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        drawings = [entry.AP.N.read_bytes().decode() for entry in copy.pages[0].Annots]
    grounds = [re.findall(r"rg ([-\d.]+) ([-\d.]+) ([-\d.]+) ([-\d.]+) re f", drawing) for drawing in drawings]
    tags = [Box(x, y, x + w, y + h) for [found] in grounds for x, y, w, h in [map(float, found)]]
    assert len(tags) == 4
    assert all(one.intersect(other).is_empty for one, other in itertools.combinations(tags, 2))


def test_many_places_of_one_finding_are_one_annotation(tmp_path: Path) -> None:
    book = Book()
    book.page("")
    source = book.save(tmp_path / "art.pdf")
    places = [[10.0, 10.0, 15.0, 15.0], [60.0, 50.0, 80.0, 70.0]]

    document = marked(source, a_report(finding("line.hairline", box=[10, 10, 80, 70], details={"boxes_mm": places})))

    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        assert len(copy.pages[0].Annots) == 1
    grey = seen(document).sum(axis=2)
    assert grey[200:260, 195:260].min() < 200
    assert grey[600:810, 695:910].min() < 200
    assert grey[300:560, 300:660].min() == 765  # white between the places


def test_marks_never_reach_the_plates(tmp_path: Path) -> None:
    """The engine's print usage leaves them out, so a copy that is printed by mistake prints as the artwork."""
    book = Book()
    book.page(ART)
    source = book.save(tmp_path / "art.pdf")
    target = tmp_path / "marked.pdf"
    mark_copy(source, a_report(finding("resolution.low", box=[10, 5, 40, 20]), finding("trim.turned")), target)

    assert (plates(source) == plates(target)).all()


def plates(path: Path) -> np.ndarray:
    from pymupdf import mupdf

    document = mupdf.pdf_open_document(str(path))
    sheet = mupdf.pdf_load_page(document, 0)
    pixmap = mupdf.pdf_new_pixmap_from_page_with_separations_and_usage(
        sheet, mupdf.FzMatrix(), mupdf.fz_device_cmyk(), mupdf.fz_new_separations(1), 0, "Print", mupdf.FZ_MEDIA_BOX
    )
    return np.array(mupdf.fz_pixmap_samples_memoryview(pixmap))


def test_another_viewer_draws_the_marks_too(tmp_path: Path) -> None:
    tool = shutil.which("pdftoppm")
    if tool is None:
        pytest.skip("pdftoppm is not installed")
    book = Book()
    book.page(ART, Rotate=90)
    source = book.save(tmp_path / "art.pdf")
    mark_copy(source, a_report(finding("resolution.low", box=[10, 50, 40, 70])), tmp_path / "marked.pdf")
    pictures = []
    for path in (source, tmp_path / "marked.pdf"):
        subprocess.run([tool, "-r", "254", "-singlefile", path, path.with_suffix("")], check=True)
        pixmap = pymupdf.Pixmap(str(path.with_suffix(".ppm")))
        pictures.append(np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width, 3).astype(int))
    rows, columns = np.nonzero(np.abs(pictures[0] - pictures[1]).sum(axis=2) > 60)

    assert (columns.min() / 10 - 10, columns.max() / 10 - 10) == pytest.approx((10, 40), abs=1)
    assert (rows.min() / 10 - 10, rows.max() / 10 - 10) == pytest.approx((47.5, 70), abs=1)


def test_the_original_is_untouched_and_its_pages_stay_as_they_are(tmp_path: Path) -> None:
    book = Book()
    book.page(ART)
    link = Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=Array([0, 0, 10, 10]))
    book.pdf.pages[0].Annots = Array([book.pdf.make_indirect(link)])
    source = book.save(tmp_path / "art.pdf")
    before = hashlib.sha256(source.read_bytes()).hexdigest()

    mark_copy(source, a_report(finding("resolution.low", box=[10, 5, 40, 20])), tmp_path / "marked.pdf")

    assert hashlib.sha256(source.read_bytes()).hexdigest() == before
    with pikepdf.open(source) as original, pikepdf.open(tmp_path / "marked.pdf") as copy:
        assert copy.pages[0].Contents.read_bytes() == original.pages[0].Contents.read_bytes()
        assert [str(entry.Subtype) for entry in copy.pages[0].Annots] == ["/Link", "/Square"]
        for box in ("/MediaBox", "/TrimBox", "/BleedBox"):
            assert list(copy.pages[0][box]) == list(original.pages[0][box])


def test_a_locked_down_file_stays_so(tmp_path: Path) -> None:
    book = Book()
    book.page(ART)
    source = tmp_path / "art.pdf"
    permissions = pikepdf.Permissions(print_highres=False)
    book.pdf.save(source, encryption=pikepdf.Encryption(owner="secret", user="", allow=permissions))

    mark_copy(source, a_report(finding("resolution.low", box=[10, 5, 40, 20])), tmp_path / "marked.pdf")

    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        assert copy.is_encrypted
        assert not copy.allow.print_highres


@pytest.mark.parametrize("target", ["art.pdf", "link.pdf"])
def test_the_artwork_is_never_written_over(tmp_path: Path, target: str) -> None:
    book = Book()
    book.page(ART)
    source = book.save(tmp_path / "art.pdf")
    (tmp_path / "link.pdf").symlink_to(source)
    before = source.read_bytes()

    with pytest.raises(ToolFault, match="never written to"):
        mark_copy(source, a_report(), tmp_path / target)

    assert source.read_bytes() == before


@pytest.mark.parametrize("data", [b"", b"<html>", b"%PDF-1.7 cut"])
def test_what_is_no_pdf_has_no_marked_copy(tmp_path: Path, data: bytes) -> None:
    source = tmp_path / "art.pdf"
    source.write_bytes(data)

    with pytest.raises(ToolFault, match="no pages to mark"):
        mark_copy(source, a_report(), tmp_path / "marked.pdf")

    assert not (tmp_path / "marked.pdf").exists()


@pytest.mark.parametrize("kind", ["TIFF", "JPEG", "PNG"])
def test_a_picture_is_marked_on_a_page_of_its_ordered_size(tmp_path: Path, kind: str) -> None:
    source = tmp_path / f"art.{kind.lower()}"
    pixels = np.full((800, 1000, 3), 230, np.uint8)
    pixels[50:200, 100:400] = 20  # 30 x 15 mm at 10 pixels a millimetre, 10 mm from the left and 5 mm from the top
    Image.fromarray(pixels).save(source, kind)
    before = source.read_bytes()
    job = job_for(printed_size_mm=(100.0, 80.0))
    whole = report_of(source, job)
    here = replace(whole, findings=[finding("resolution.soft", "ask", box=[10.0, 5.0, 40.0, 20.0])])

    assert mark_copy(source, here, tmp_path / "marked.pdf", job) == 1
    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        [mark] = copy.pages[0].Annots
        size_mm = [float(side) / 72 * 25.4 for side in copy.pages[0].trimbox]
    assert size_mm == pytest.approx([0, 0, 100, 80], abs=0.1)
    frame = [float(side) / 72 * 25.4 for side in mark.Rect]
    # The frame lies around the place; y runs up in a PDF, and the number stands above it.
    assert frame[0] == pytest.approx(10.0, abs=0.6)
    assert frame[2] == pytest.approx(40.0, abs=0.6)
    assert frame[1] == pytest.approx(80 - 20.0, abs=0.6)
    assert source.read_bytes() == before


def test_strangers_text_and_places_off_the_page_are_no_fault(tmp_path: Path) -> None:
    book = Book()
    book.page(ART)
    source = book.save(tmp_path / "art.pdf")
    boxes: list[list[float]] = [
        [-900, -900, -800, -800],
        [900, 900, 950, 950],
        [50, 40, 50, 40],
        [-900, -900, 900, 900],
    ]
    findings = [finding("resolution.low", box=box, message=HOSTILE, remedy=HOSTILE, key=HOSTILE) for box in boxes]
    elsewhere = [finding("resolution.low", page=99, box=[1, 1, 2, 2])]

    document = marked(source, a_report(*findings, *elsewhere))

    assert changed_box(document).width > 0
    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        media = Box(*(float(value) for value in copy.pages[0].MediaBox))
        assert len(copy.pages[0].Annots) == 4
        for annotation in copy.pages[0].Annots:
            place = Box(*(float(value) for value in annotation.Rect)).intersect(media)
            assert place.width > 5
            assert place.height > 5
            assert "\x1b" not in str(annotation.Contents)
