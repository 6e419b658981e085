"""Notes, stamps and form fields that would print: flags of ISO 32000-2 Table 167, and whether the plates include them."""

from __future__ import annotations

import pytest
from artwork import Book, mm
from opened import geometry_of, opened
from pikepdf import Array, Dictionary, Name, String
from whole import report_of

from preflight.inventory.annotations import read_annotations

PRINT, HIDDEN, NO_VIEW = 4, 2, 32
#: 20 x 10 mm, lower left corner 10 mm from the trim's.
RECT = [mm(20), mm(20), mm(40), mm(30)]


def annotated(
    subtype: str = "Stamp", flags: int = PRINT, *, content: str | None = "0 0 0 1 k 0 0 9 9 re f", **entries
) -> Book:
    book = Book()
    page = book.page("")
    note = Dictionary(Type=Name.Annot, Subtype=Name("/" + subtype), F=flags, Rect=Array(RECT), **entries)
    if content is not None:
        note.AP = Dictionary(N=book.form(content, BBox=Array([0, 0, 9, 9])))
    page.obj.Annots = Array([book.pdf.make_indirect(note)])
    if subtype == "Widget":
        book.pdf.Root.AcroForm = Dictionary(Fields=Array([page.obj.Annots[0]]))
    return book


def found_in(book: Book, folder):
    with opened(book, folder) as artwork:
        return read_annotations(artwork, 1, geometry_of(artwork).frame)


@pytest.mark.parametrize("subtype", ["Stamp", "FreeText", "Square", "Widget", "Text", "PrinterMark", "FileAttachment"])
def test_what_is_flagged_to_print_is_told_with_its_place(subtype, tmp_path):
    (note,) = found_in(annotated(subtype, FT=Name.Tx, T=String("name")), tmp_path)
    assert (note.subtype, note.prints, note.hidden, note.on_plates) == (subtype, True, False, True)
    if subtype != "Text":  # the engine gives these a size of its own
        assert note.box_mm == pytest.approx((10, 60, 30, 70), abs=0.01)


@pytest.mark.parametrize(
    "book",
    [
        annotated(flags=0),
        annotated(flags=PRINT | HIDDEN),
        annotated("Link"),
        annotated("Popup"),
        annotated(content=""),
        annotated("Widget", content="", FT=Name.Tx, T=String("name")),
        annotated("Widget", content=None, FT=Name.Sig, T=String("sign here")),
    ],
    ids=["not for print", "hidden", "link", "popup", "paints nothing", "empty field", "unsigned field"],
)
def test_what_leaves_no_mark_is_left_alone(book, tmp_path):
    assert found_in(book, tmp_path) == ()


def test_an_unsigned_field_leaves_the_plates_bare(tmp_path):
    """The engine would make up a sticker; one with an appearance of its own prints."""
    for content, blank in ((None, True), ("1 0 0 rg 0 0 9 9 re f", False)):
        book = annotated("Widget", content=content, FT=Name.Sig, T=String("sign here"))
        found = {finding.id for finding in report_of(book.save(tmp_path / "art.pdf")).findings}
        assert ("pages.blank" in found) is blank
        assert ("file.annotation" in found) is not blank
        assert not blank or not {one for one in found if one.startswith(("font", "type", "colour.rgb"))}


def test_what_only_prints_is_told(tmp_path):
    """NoView: not on the screen, but on the plates."""
    (note,) = found_in(annotated(flags=PRINT | NO_VIEW), tmp_path)
    assert note.on_plates is True


def test_an_appearance_that_the_engine_makes_up_is_told(tmp_path):
    (note,) = found_in(annotated("Square", content=None, C=Array([1, 0, 0])), tmp_path)
    assert note.on_plates is True


def test_a_filled_field_that_readers_are_asked_to_redraw(tmp_path):
    book = annotated("Widget", content="", FT=Name.Tx, T=String("name"), V=String("Fern"), DA=String("/Helv 9 Tf 0 g"))
    book.pdf.Root.AcroForm.NeedAppearances = True
    assert len(found_in(book, tmp_path)) == 1


def test_a_note_on_a_layer_that_is_off(tmp_path):
    for on, expected in ((True, 1), (False, 0)):
        book = annotated()
        book.pdf.pages[0].obj.Annots[0].OC = book.layer("Notes", on=on)
        assert len(found_in(book, tmp_path)) == expected


def test_the_state_of_a_check_box_decides(tmp_path):
    for state, expected in (("Yes", 1), ("Off", 0)):
        book = annotated("Widget", content=None, FT=Name.Btn, T=String("ok"), AS=Name("/" + state))
        mark, nothing = (book.form(content, BBox=Array([0, 0, 9, 9])) for content in ("0 0 9 9 re f", ""))
        book.pdf.pages[0].obj.Annots[0].AP = Dictionary(N=Dictionary(Yes=mark, Off=nothing))
        assert len(found_in(book, tmp_path)) == expected


def test_flags_are_left_as_they_were_for_drawing(tmp_path):
    """Looking at a hidden note must not put it on the plates."""
    from pymupdf import mupdf

    with opened(annotated(flags=PRINT | NO_VIEW), tmp_path) as artwork:
        page = artwork.mupdf_page(1)
        read_annotations(artwork, 1, geometry_of(artwork).frame)
        note = mupdf.pdf_annot_obj(mupdf.pdf_first_annot(page))
        assert mupdf.pdf_dict_get_int(note, mupdf.pdf_new_name("F")) == PRINT | NO_VIEW


@pytest.mark.parametrize(
    ("mark", "expected"),
    [
        ("0 0 9 9 re f", [("Stamp", True), ("Widget", True)]),
        ("", [("Widget", True)]),
    ],
)
def test_notes_written_into_the_list_itself(mark, expected, tmp_path):
    """Without an object number of their own, beside one that has one: each is still asked of the engine."""
    book = annotated("Widget", FT=Name.Tx, T=String("name"))
    appearance = book.form(mark, BBox=Array([0, 0, 9, 9]))
    stamp = Dictionary(Type=Name.Annot, Subtype=Name.Stamp, F=PRINT, Rect=Array(RECT), AP=Dictionary(N=appearance))
    link = Dictionary(Type=Name.Annot, Subtype=Name.Link, F=PRINT, Rect=Array(RECT))
    annotations = book.pdf.pages[0].obj.Annots
    annotations.insert(0, link)
    annotations.insert(1, stamp)
    assert [(note.subtype, note.on_plates) for note in found_in(book, tmp_path)] == expected


def test_a_note_written_into_the_list_that_the_engine_draws_an_appearance_for(tmp_path):
    book = annotated("FreeText", content=None, DA=String("/Helv 12 Tf 0 g"), Contents=String("Fern"))
    note = dict(book.pdf.pages[0].obj.Annots[0].items())
    book.pdf.pages[0].obj.Annots = Array([Dictionary(note)])
    (found,) = found_in(book, tmp_path)
    assert found.on_plates is True


@pytest.mark.parametrize("rect", [[], [1, 2, 3], [Name.A] * 4])
def test_rectangles_that_make_no_sense(rect, tmp_path):
    book = annotated()
    book.pdf.pages[0].obj.Annots[0].Rect = Array(rect)
    assert found_in(book, tmp_path) == ()


@pytest.mark.parametrize("flags", [0, PRINT])
@pytest.mark.parametrize("subtype", ["Movie", "Screen", "3D", "RichMedia", "Watermark", "TrapNet", "Widget"])
def test_one_that_has_nothing_to_show_is_no_damage(subtype, flags, tmp_path):
    """Films, sounds and empty fields need no appearance, and the engine knows none to make up."""
    book = annotated(subtype, flags, content=None)
    assert found_in(book, tmp_path) == ()
    report = report_of(book.save(tmp_path / "art.pdf"))
    assert [finding.id for finding in report.findings if finding.id.startswith("file.")] == []


def test_a_page_without_annotations(tmp_path):
    book = Book()
    book.page("")
    assert found_in(book, tmp_path) == ()
    book.pdf.pages[0].obj.Annots = Array([String("nonsense"), 5, Dictionary()])
    assert found_in(book, tmp_path) == ()
