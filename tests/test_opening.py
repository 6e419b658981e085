"""Opening whatever a customer sends: what it is, whether it can be opened, and what had to be repaired.

Truth: files made or damaged here on purpose; ISO 32000-2 Table 22 for permissions; qpdf's own command for what counts as damaged.
"""

from __future__ import annotations

import hashlib
import os
import re
import zipfile
from pathlib import Path

import pikepdf
import pytest
from artwork import Book, mm
from opened import needs, opened, qpdf_status
from pikepdf import Array, Dictionary, Name
from pymupdf import mupdf
from whole import job_for

from preflight.errors import ToolFault
from preflight.inventory.opening import open_artwork
from preflight.inventory.recognising import recognise

HEADER = b"%PDF-1.4\n1 0 obj <</Type/Catalog/Pages 2 0 R>> endobj\n"
PAGE = b"3 0 obj <</Type/Page/Parent 2 0 R/MediaBox[0 0 99 99]>> endobj\n"
TRAILER = b"trailer <</Root 1 0 R/Size 9>>\n"


def book(pages: int = 2) -> Book:
    it = Book()
    for number in range(pages):
        it.page(f"0 0 0 1 k {mm(10 + number)} {mm(10)} {mm(20)} {mm(20)} re f")
    return it


def saved(folder: Path, **options: object) -> bytes:
    path = folder / "sound.pdf"
    book().pdf.save(path, deterministic_id=True, **options)
    return path.read_bytes()


# --- what it is ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"%PDF-1.3\n", "pdf"), (b"\r\n%PDF-1.7", "pdf"), (b"\x00" * 1000 + b"%PDF-1.4", "pdf"), (b"II*\x00....", "tiff"), (b"MM\x00*", "tiff"),
        (b"II+\x00\x08\x00", "tiff"), (b"\xff\xd8\xff\xe0", "jpeg"), (b"\x89PNG\r\n\x1a\n", "png"), (b"8BPS\x00\x01", "psd"),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 ", "webp"),
    ],
)  # fmt: skip
def test_kinds_by_their_first_bytes(head, kind):
    assert recognise(head).kind == kind


@pytest.mark.parametrize(
    ("head", "words", "of_the_trade"),
    [
        (b"%!PS-Adobe-3.0 EPSF-3.0", "EPS", True), (b"\xc5\xd0\xd3\xc6\x1e\x00", "EPS", True), (b"8BPS\x00\x02", "PSB", True),
        (b"<!DOCTYPE html><p>%PDF-1.4", "HTML", False), (b"\xef\xbb\xbf  <HTML>", "HTML", False), (b"PK\x03\x04 %PDF-1.4", "zip", False),
        (b"Dear printer, here is the flyer.\r\n", "text", False), (b"{\\rtf1", "RTF", False), (b"\x07\x01\xfe\xff", "no kind", False),
        (b"GIF89a", "GIF", False), (b"<?xml version='1.0'?><svg>", "SVG", False),
    ],
)  # fmt: skip
def test_what_is_no_artwork_here_and_whose_limit_that_is(head, words, of_the_trade):
    found = recognise(head)
    assert (found.kind, found.of_the_trade) == ("unknown", of_the_trade)
    assert words in found.words


def test_a_header_past_the_first_1024_bytes_is_none():
    assert recognise((b"\x00" * 1024 + b"%PDF-1.4")[:1024]).kind == "unknown"


@pytest.mark.parametrize("name", ["flyer.pdf", "flyer.tif", "flyer"])
def test_an_empty_file_is_unreadable_whatever_its_name(name, tmp_path):
    with opened(b"", tmp_path, name) as artwork:
        facts = artwork.facts
    assert facts.unreadable and "empty" in facts.unreadable
    assert (facts.kind, facts.bytes, facts.pages) == ("unknown", 0, None)


def test_a_web_page_named_pdf_is_not_opened_as_one(tmp_path):
    with opened(b"<!doctype html><html><body>%PDF-1.7 download</body></html>", tmp_path) as artwork:
        assert artwork.facts.kind == "unknown"
        assert "web page" in (artwork.facts.unreadable or "")
        assert artwork.pdf is None
        assert artwork.document is None


def test_an_archive_of_a_pdf_is_no_pdf(tmp_path):
    with zipfile.ZipFile(tmp_path / "art.pdf", "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("flyer.pdf", saved(tmp_path))
    with opened(tmp_path / "art.pdf", tmp_path) as artwork:
        assert "zip" in (artwork.facts.unreadable or "")


def test_eps_is_this_tools_limit_not_the_customers_fault(tmp_path):
    with opened(b"%!PS-Adobe-3.0 EPSF-3.0\n%%EOF", tmp_path, "logo.eps") as artwork:
        assert artwork.facts.unreadable is None
        assert (artwork.facts.not_supported or "").startswith("kind not supported")


def test_bytes_and_digest_are_those_of_the_file(tmp_path):
    data = saved(tmp_path) + b"%" + b"x" * 3_000_000 + b"\n%%EOF\n"  # more than one piece of reading
    with opened(data, tmp_path) as artwork:
        assert artwork.facts.sha256 == hashlib.sha256(data).hexdigest()
        assert artwork.facts.bytes == len(data)


def test_a_file_that_cannot_be_read_from_disk_is_the_machines_fault(tmp_path):
    with pytest.raises(ToolFault, match=r"gone\.pdf"):
        open_artwork(tmp_path / "gone.pdf", job=job_for())


@pytest.mark.parametrize("more", [b"", b"%" + b"x" * 3_000_000 + b"\n%%EOF\n", b"\n% no end marker" + b"x" * 3_000])
def test_a_known_file_is_not_read_through_again_and_is_the_same(more, tmp_path, monkeypatch):
    with opened(saved(tmp_path) + more, tmp_path) as artwork:
        known, oddities = artwork.facts, dict(artwork.repairs.oddities)

    def never(path):
        raise AssertionError(f"{path} was read through again")

    monkeypatch.setattr("preflight.inventory.opening._first_look", never)
    with open_artwork(tmp_path / "art.pdf", job=job_for(), known=known) as again:
        assert again.facts == known
        assert dict(again.repairs.oddities) == oddities


def test_a_file_that_changed_while_it_was_read_is_not_judged(tmp_path):
    with opened(saved(tmp_path), tmp_path) as artwork:
        known = artwork.facts
    with (tmp_path / "art.pdf").open("ab") as file:
        file.write(b"\n")
    with pytest.raises(ToolFault, match="changed while it was read"):
        open_artwork(tmp_path / "art.pdf", job=job_for(), known=known)


@pytest.mark.parametrize("raw", [b"fern\xff\xfe.pdf", b"a\nb\x1b[31m<i>.pdf", "Blüte 🌿.pdf".encode()])
def test_any_bytes_may_be_a_name(raw, tmp_path):
    path = Path(os.fsdecode(os.path.join(os.fsencode(tmp_path), raw)))
    with opened(saved(tmp_path), tmp_path, path.name) as artwork:
        assert artwork.facts.pages == 2
        artwork.facts.name.encode("utf-8")  # any report can hold it
        assert artwork.mupdf_page(1) is not None


# --- passwords -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("revision", [2, 3, 4, 6])
def test_a_password_to_open_locks_the_file(revision, tmp_path):
    options = {"aes": False, "metadata": False} if revision < 4 else {"aes": True}
    book().pdf.save(
        tmp_path / "art.pdf", encryption=pikepdf.Encryption(user="fern", owner="moss", R=revision, **options)
    )
    with opened(tmp_path / "art.pdf", tmp_path) as artwork:
        facts = artwork.facts
    assert (facts.locked, facts.encrypted, facts.unreadable, facts.pages) == (True, True, None, None)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(True, True, (True, True)), (True, False, (True, False)), (False, False, (False, False))],
    ids=["all allowed", "bit 12 off", "bits 3 and 12 off"],
)
def test_an_owners_password_restricts_printing_by_bits_3_and_12(low, high, expected, tmp_path):
    allow = pikepdf.Permissions(print_lowres=low, print_highres=high, modify_other=False, extract=False)
    book().pdf.save(tmp_path / "art.pdf", encryption=pikepdf.Encryption(user="", owner="moss", R=4, allow=allow))
    with opened(tmp_path / "art.pdf", tmp_path) as artwork:
        facts = artwork.facts
    assert (facts.encrypted, facts.locked, facts.pages) == (True, False, 2)
    assert (facts.may_print, facts.may_print_high) == expected


def test_without_encryption_nothing_is_said_of_permissions(tmp_path):
    with opened(book(), tmp_path) as artwork:
        assert (artwork.facts.encrypted, artwork.facts.may_print, artwork.facts.may_print_high) == (False, None, None)


# --- damage and repair -----------------------------------------------------------------------------------------------


def test_a_sound_file_has_neither_repairs_nor_oddities(tmp_path):
    for options in ({}, {"linearize": True}, {"object_stream_mode": pikepdf.ObjectStreamMode.generate}):
        with opened(saved(tmp_path, **options), tmp_path) as artwork:
            facts = artwork.facts
            assert (facts.repairs, facts.oddities, facts.unknown, facts.unreadable) == ((), (), {}, None)
            assert facts.pages == 2


@pytest.mark.parametrize("part", [0.1, 0.3, 0.5, 0.7, 0.9, 0.97])
@pytest.mark.parametrize("form", ["plain", "linearized", "object streams"])
def test_a_cut_file_never_passes_as_sound(part, form, tmp_path):
    options = {
        "plain": {},
        "linearized": {"linearize": True},
        "object streams": {"object_stream_mode": pikepdf.ObjectStreamMode.generate},
    }[form]
    data = saved(tmp_path, **options)
    with opened(data[: int(len(data) * part)], tmp_path) as artwork:
        facts = artwork.facts
    assert facts.unreadable or facts.repairs
    if facts.unreadable:
        assert facts.pages is None


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda data: data[: data.rfind(b"startxref")], "rebuilt"),
        (lambda data: re.sub(rb"startxref\n\d+", b"startxref\n7", data), "rebuilt"),
        (lambda data: data + b"\0" * 3000, "rebuilt"),
        (lambda data: data[: data.rfind(b"xref") - 30], "cut"),
    ],
    ids=["no startxref", "startxref wrong", "zeros after the end", "end cut off"],
)
def test_what_was_repaired_is_said(damage, words, tmp_path):
    with opened(damage(saved(tmp_path)), tmp_path) as artwork:
        assert artwork.facts.pages == 2
        assert words in "; ".join(artwork.facts.repairs)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda data: b"X-Mailer: moss\r\n\r\n" + data, "bytes before the PDF header"),
        (lambda data: data[: data.rfind(b"%%EOF")], "no end marker"),
    ],
    ids=["bytes before the header", "no end marker"],
)
def test_harmless_oddities_are_no_repairs(change, words, tmp_path):
    with opened(change(saved(tmp_path)), tmp_path) as artwork:
        assert artwork.facts.repairs == ()
        assert words in "; ".join(artwork.facts.oddities)
        assert artwork.facts.pages == 2


def test_places_counted_from_before_the_header_are_an_oddity(tmp_path):
    """Bytes before the header, and the table's places counted with them: readers rebuild, nothing is damaged."""
    data, before = saved(tmp_path), b"%" + b"x" * 40 + b"\n"
    moved = re.sub(rb"startxref\n(\d+)", lambda found: b"startxref\n%d" % (int(found[1]) + len(before)), before + data)
    with opened(moved, tmp_path) as artwork:
        assert artwork.facts.repairs == ()
        assert len(artwork.facts.oddities) == 2


@needs("qpdf")
def test_clean_and_repaired_agree_with_qpdf(tmp_path):
    data = saved(tmp_path)
    samples = {
        "sound": data,
        "linearized": saved(tmp_path, linearize=True),
        "no startxref": data[: data.rfind(b"startxref")],
        "cut": data[: int(len(data) * 0.8)],
        "bytes before": b"junk\n" + data,
    }
    for name, sample in samples.items():
        with opened(sample, tmp_path) as artwork:
            told = bool(artwork.facts.repairs or artwork.facts.unreadable)
        assert told == (qpdf_status(tmp_path / "art.pdf") != 0), name


def test_beyond_repair_is_said_in_one_sentence(tmp_path):
    with opened(b"%PDF-1.7\n" + bytes(range(256)) * 20, tmp_path) as artwork:
        assert (artwork.facts.unreadable or "").startswith("damaged beyond repair")


# --- the list of pages -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tree", "words"),
    [
        (b"2 0 obj <</Type/Pages/Count 1/Kids[2 0 R]>> endobj\n", "circle"),
        (b"2 0 obj <</Type/Pages/Count 2/Kids[3 0 R 4 0 R]>> endobj\n4 0 obj <</Type/Pages/Count 1/Kids[2 0 R]>> endobj\n", "circle"),
        (b"2 0 obj <</Type/Pages/Count 2147483647/Kids[3 0 R]>> endobj\n", "drawn"),
        (b"2 0 obj <</Type/Pages/Count 0/Kids[]>> endobj\n", ""),
    ],
    ids=["root in itself", "child holds its parent", "two thousand million pages", "no pages"],
)  # fmt: skip
def test_page_trees_without_end_or_beginning(tree, words, tmp_path):
    with opened(HEADER + tree + PAGE + TRAILER, tmp_path) as artwork:
        assert words in (artwork.facts.unreadable or "not told")
        assert artwork.facts.pages is None


def test_zero_pages_in_a_sound_file(tmp_path):
    pdf = pikepdf.Pdf.new()
    pdf.save(tmp_path / "art.pdf")
    with opened(tmp_path / "art.pdf", tmp_path) as artwork:
        assert artwork.facts.unreadable == "the file has no pages"


def _raw(objects: dict[int, bytes]) -> bytes:
    """A sound file written by hand, so that nothing tidies it up."""
    data = b"%PDF-1.4\n"
    places = {}
    for number, body in objects.items():
        places[number] = len(data)
        data += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start, size = len(data), max(objects) + 1
    data += b"xref\n0 %d\n0000000000 65535 f \n" % size
    for number in range(1, size):
        data += b"%010d 00000 n \n" % places[number] if number in places else b"0000000000 65535 f \n"
    return data + b"trailer <</Root 1 0 R/Size %d>>\nstartxref\n%d\n%%%%EOF\n" % (size, start)


def _tree(kids: bytes, count: int, **more: bytes) -> bytes:
    page = b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 99 99]/Resources<<>>>>"
    objects = {
        1: b"<</Type/Catalog/Pages 2 0 R>>",
        2: b"<</Type/Pages/Count %d/Kids[%s]>>" % (count, kids),
        3: page,
        4: page,
    }
    return _raw(objects | {int(number.removeprefix("o")): body for number, body in more.items()})


def test_a_page_that_is_named_and_not_there_counts_and_is_told(tmp_path):
    with opened(_tree(b"3 0 R 8 0 R 4 0 R", 3), tmp_path) as artwork:
        assert artwork.facts.pages == 3
        assert artwork.facts.missing_pages == (2,)


def test_a_wrong_count_makes_the_number_of_pages_unknown(tmp_path):
    """Two pages in the list, one stated: the engines count differently, so nobody knows."""
    with opened(_tree(b"3 0 R 4 0 R", 1), tmp_path) as artwork:
        assert artwork.facts.pages is None
        assert artwork.facts.unreadable is None
        assert "number of pages" in artwork.facts.unknown["document"]


def test_a_list_of_pages_that_multiplies_itself_is_refused_at_once(tmp_path):
    """Ten levels that name the next one ten times each: 10^10 pages from a few hundred bytes."""
    nodes = {
        f"o{level}": b"<</Type/Pages/Count 9/Kids[%s]>>" % b" ".join([b"%d 0 R" % (level + 1)] * 10)
        for level in range(5, 15)
    }
    with opened(_tree(b"5 0 R", 9, **nodes, o15=b"<</Type/Page/MediaBox[0 0 9 9]>>"), tmp_path) as artwork:
        assert artwork.facts.unreadable


def test_deep_but_sound_trees_are_followed(tmp_path):
    nodes = {
        f"o{level}": b"<</Type/Pages/Count 1/Parent %d 0 R/Kids[%d 0 R]>>" % (level - 1, level + 1)
        for level in range(6, 30)
    }
    nodes["o5"] = b"<</Type/Pages/Count 1/Parent 2 0 R/Kids[6 0 R]>>"
    nodes["o30"] = b"<</Type/Page/Parent 29 0 R/MediaBox[0 0 9 9]/Resources<<>>>>"
    with opened(_tree(b"5 0 R 3 0 R", 2, **nodes), tmp_path) as artwork:
        assert artwork.facts.pages == 2


# --- what is set in memory -------------------------------------------------------------------------------------------


def _ink(artwork, number=1):
    """Whether anything marks the plates of a page, as printed."""
    page = artwork.mupdf_page(number)
    pixels = mupdf.pdf_new_pixmap_from_page_with_separations_and_usage(
        page, mupdf.FzMatrix(), mupdf.fz_device_cmyk(), mupdf.fz_new_separations(1), 0, "Print", mupdf.FZ_MEDIA_BOX
    )
    return any(mupdf.ll_fz_pixmap_samples_memoryview(pixels.m_internal))


def test_content_outside_the_crop_box_is_drawn_and_the_file_keeps_its_crop_box(tmp_path):
    it = Book()
    it.page(f"0 0 0 1 k {mm(-8)} {mm(-8)} {mm(4)} {mm(4)} re f", boxes={"CropBox": [mm(10), mm(10), mm(110), mm(90)]})
    path = it.save(tmp_path / "art.pdf")
    before = path.read_bytes()
    with opened(path, tmp_path) as artwork:
        assert _ink(artwork)
    assert path.read_bytes() == before


def test_an_inherited_media_box_serves_as_well(tmp_path):
    it = Book()
    it.page(f"0 0 0 1 k {mm(-8)} {mm(-8)} {mm(4)} {mm(4)} re f")
    page = it.pdf.pages[0].obj
    it.pdf.Root.Pages.MediaBox = page.MediaBox
    it.pdf.Root.Pages.CropBox = Array([200, 200, 210, 210])
    del page.MediaBox
    with opened(it, tmp_path) as artwork:
        assert _ink(artwork)


@pytest.mark.parametrize("on", [True, False])
@pytest.mark.parametrize("usage", [None, "ON", "OFF"])
@pytest.mark.parametrize("applied", [True, False])
def test_a_layers_print_state_is_that_of_the_default_configuration(on, usage, applied, tmp_path):
    """ISO 32000-2, 8.11.4.4: usage counts only where the configuration applies it (AS); the engine alone goes by usage."""
    it = Book()
    layer = it.layer("Text", on=on)
    if usage:
        layer.Usage = Dictionary(Print=Dictionary(PrintState=Name("/" + usage)))
    if applied:
        it.pdf.Root.OCProperties.D.AS = Array(
            [Dictionary(Event=Name.Print, Category=Array([Name.Print]), OCGs=Array([layer]))]
        )
    it.page("/OC /L BDC 0 0 0 1 k 0 0 50 50 re f EMC", resources={"L": layer})
    printed = (usage == "ON") if usage and applied else on
    with opened(it, tmp_path) as artwork:
        (fact,) = artwork.facts.layers
        assert (fact.shown, fact.printed) == (on, printed)
        assert _ink(artwork) == printed
