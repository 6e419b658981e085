"""The file itself: every kind found in real artwork with its severity, and its harmless twin silent. Ids and severities: contract."""

from __future__ import annotations

import io
import re

import pikepdf
import pytest
from artwork import Book, mm, rectangle
from by_hand import document_of, file_answers, ids, job_of, judged, page_answers, page_of
from pikepdf import Array, Dictionary, Name, String
from PIL import Image
from whole import report_of

from preflight.findings import Found
from preflight.inventory.model import ActiveItem, Annotation, ForeignSetting
from preflight.units import Box

GROUND = f"0.2 0.1 0.3 0 k {rectangle(20, 20, 30, 30)} f"


def told(book: Book | bytes, folder) -> list[str]:
    """The findings of this check on a file, ids with severities."""
    path = folder / "art.pdf"
    path.write_bytes(book) if isinstance(book, bytes) else book.save(path)
    return [f"{found.id} {found.severity}" for found in report_of(path).findings if found.id.startswith("file.")]


def sound(pages: int = 1) -> Book:
    book = Book()
    for _ in range(pages):
        book.page(GROUND)
    return book


def bytes_of(book: Book, **options) -> bytes:
    out = io.BytesIO()
    book.pdf.save(out, **options)
    return out.getvalue()


def judge_file(**facts):
    job = job_of()
    return judged("file", file_answers("file", [], job, document_of(**facts)), job)


# --- real artwork ----------------------------------------------------------------------------------------------------


def test_a_sound_file_is_silent(tmp_path):
    assert told(sound(), tmp_path) == []


@pytest.mark.parametrize(
    "data",
    [b"", b"<html>", b"Dear printer", b"%PDF-1.4 but nothing more", b"PK\x03\x04", b"II*\x00", b"\x89PNG\r\n\x1a\n"],
    ids=["empty", "web page", "text", "header only", "archive", "TIFF header only", "PNG header only"],
)
def test_unreadable(data, tmp_path):
    assert told(data, tmp_path) == ["file.unreadable stop"]


def test_locked_and_restricted(tmp_path):
    for encryption, expected in (
        (pikepdf.Encryption(user="fern", owner="moss"), ["file.locked stop"]),
        (pikepdf.Encryption(user="", owner="moss", allow=pikepdf.Permissions(print_lowres=False, print_highres=False)), ["file.restricted note"]),
        (pikepdf.Encryption(user="", owner="moss", allow=pikepdf.Permissions(print_highres=False)), ["file.restricted note"]),
        (pikepdf.Encryption(user="", owner="moss", allow=pikepdf.Permissions(modify_other=False, extract=False)), []),
    ):  # fmt: skip
        assert told(bytes_of(sound(), encryption=encryption), tmp_path) == expected


def test_repaired_and_merely_odd(tmp_path):
    data = bytes_of(sound())
    assert told(data[: data.rfind(b"startxref")], tmp_path) == ["file.repaired ask"]
    assert told(b"X-Mailer: moss\r\n\r\n" + data, tmp_path) == ["file.repaired note"]
    assert told(data[: data.rfind(b"%%EOF")], tmp_path) == ["file.repaired note"]


def test_a_wrong_stream_length_is_told_on_the_page_that_uses_the_stream(tmp_path):
    book = sound(2)
    path = tmp_path / "plain.pdf"
    book.pdf.save(path, compress_streams=False)
    data = path.read_bytes()
    place = data.rfind(b"/Length ")
    changed = data[:place] + re.sub(rb"/Length \d", b"/Length 1", data[place:], count=1)
    (tmp_path / "art.pdf").write_bytes(changed)
    findings = [found for found in report_of(tmp_path / "art.pdf").findings if found.id == "file.repaired"]
    assert [found.page for found in findings] == [2]
    assert "length" in findings[0].message


def test_damage_on_a_page(tmp_path):
    out = io.BytesIO()
    Image.effect_noise((200, 200), 60).save(out, "JPEG")
    for data, expected in ((out.getvalue(), []), (out.getvalue()[:9000], ["file.unreadable stop"])):
        book = Book()
        image = book.stream(
            data, Type=Name.XObject, Subtype=Name.Image, Width=200, Height=200, BitsPerComponent=8, ColorSpace=Name.DeviceGray, Filter=Name.DCTDecode
        )  # fmt: skip
        book.page(f"q {mm(30)} 0 0 {mm(30)} {mm(20)} {mm(20)} cm /P Do Q", resources={"P": image})
        assert told(book, tmp_path) == expected


def test_a_missing_object_in_use(tmp_path):
    book = Book()
    book.page(f"q {mm(30)} 0 0 {mm(30)} {mm(20)} {mm(20)} cm /Pic Do Q", resources={"Pic": book.image(400, 400)})
    data = bytes_of(book)
    assert told(data, tmp_path) == []
    changed = re.sub(rb"/Pic (\d+) 0 R", lambda found: b"/Pic 99 0 R".ljust(len(found[0])), data)
    assert "file.unreadable stop" in told(changed, tmp_path)


def test_a_page_that_is_not_there(tmp_path):
    """The third page's object cannot be found; the others are answered."""
    data = bytes_of(sound(3))
    kids = re.search(rb"/Kids \[ (\d+) 0 R (\d+) 0 R (\d+) 0 R \]", data)
    assert kids
    changed = data[: kids.start(3)] + b"9" * len(kids[3]) + data[kids.end(3) :]
    (tmp_path / "art.pdf").write_bytes(changed)
    report = report_of(tmp_path / "art.pdf")
    assert [(found.page, found.severity) for found in report.findings if found.id == "file.unreadable"] == [(3, "stop")]
    assert report.verdict == "stop"


def test_active_content(tmp_path):
    book = sound()
    book.pdf.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=String("1"))
    assert told(book, tmp_path) == ["file.active-content note"]
    book.pdf.Root.OpenAction = Array([book.pdf.pages[0].obj, Name.Fit])
    assert told(book, tmp_path) == []


def test_attachments(tmp_path):
    book = sound()
    book.pdf.attachments["list.csv"] = b"1"
    book.pdf.attachments["plan.pdf"] = b"2"
    assert told(book, tmp_path) == ["file.attachment note"] * 2


@pytest.mark.parametrize(
    ("flags", "rect", "subtype", "expected"),
    [
        (4, (30, 30, 50, 40), "Stamp", ["file.annotation ask"]),
        (4, (30, 30, 50, 40), "Widget", ["file.annotation ask"]),
        (4, (-2, 30, -1, 40), "Stamp", ["file.annotation ask"]),  # in the bleed
        (4, (-9, 30, -5, 40), "Stamp", []),  # outside the bleed
        (0, (30, 30, 50, 40), "Stamp", []),
        (6, (30, 30, 50, 40), "Stamp", []),
        (4, (30, 30, 50, 40), "Link", []),
    ],
)
def test_annotations(flags, rect, subtype, expected, tmp_path):
    book = sound()
    stamp = book.form("0 0 0 1 k 0 0 9 9 re f", BBox=Array([0, 0, 9, 9]))
    corners = [mm(10 + value) for value in rect]
    note = Dictionary(
        Type=Name.Annot, Subtype=Name("/" + subtype), F=flags, Rect=Array(corners), AP=Dictionary(N=stamp)
    )
    if subtype == "Widget":
        note.FT, note.T = Name.Tx, String("name")
    book.pdf.pages[0].obj.Annots = Array([book.pdf.make_indirect(note)])
    if subtype == "Widget":
        book.pdf.Root.AcroForm = Dictionary(Fields=book.pdf.pages[0].obj.Annots)
    assert told(book, tmp_path) == expected


def test_preseparated(tmp_path):
    book = sound(4)
    for page, ink in zip(book.pdf.pages, ("Cyan", "Magenta", "Yellow", "Black"), strict=True):
        page.obj.SeparationInfo = Dictionary(Pages=Array([]), DeviceColorant=Name("/" + ink))
    assert told(book, tmp_path) == ["file.preseparated stop"]


def test_foreign_print_settings(tmp_path):
    curve = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0]), C1=Array([1]), N=2)
    for entries, expected in (
        ({"TR": curve}, ["file.foreign-print-settings ask"]),
        ({"BG": curve, "UCR": curve}, ["file.foreign-print-settings note"] * 2),
        ({"TR": Name.Identity, "TR2": Name.Default}, []),
    ):
        book = Book()
        book.page(f"/G gs {GROUND}", resources={"G": book.state(**entries)})
        assert told(book, tmp_path) == expected


def test_a_kind_of_the_trade_is_not_checked_rather_than_stopped(tmp_path):
    path = tmp_path / "logo.eps"
    path.write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n%%EOF\n")
    report = report_of(path)
    assert (report.verdict, report.findings) == ("unchecked", [])
    assert any("kind not supported" in item.why for item in report.unchecked)


# --- facts written by hand -------------------------------------------------------------------------------------------


def test_facts_of_the_whole_file_stand_once_with_their_pages():
    settings = tuple(ForeignSetting("own halftone", page) for page in (3, 5, 9))
    (finding,) = judge_file(pages=9, foreign_settings=settings)
    assert (finding.page, finding.count, finding.details["pages"]) == (3, 3, [3, 5, 9])
    items = (ActiveItem("JavaScript", "on opening the file"), ActiveItem("JavaScript", "in a form field", 4))
    (finding,) = judge_file(pages=9, active=items)
    assert (finding.page, finding.count) == (4, 2)
    assert finding.details["where"] == ["on opening the file", "in a form field"]


def test_what_cannot_be_opened_is_one_finding():
    assert ids(judge_file(pages=None, unreadable="the file is empty", repairs=("x",))) == ["file.unreadable stop"]
    assert ids(judge_file(pages=None, locked=True, encrypted=True)) == ["file.locked stop"]


def test_messages_name_what_was_found_and_remedies_speak_no_jargon():
    (finding,) = judge_file(repairs=tuple(f"fault {number}" for number in range(8)))
    assert "fault 0" in finding.message
    assert "and 3 more" in finding.message
    assert len(finding.details["what"]) == 8
    for word in ("xref", "object", "stream", "xobject", "qpdf", "mupdf"):
        assert word not in finding.remedy.lower()


@pytest.mark.parametrize(
    ("on_plates", "words"), [(True, "the plates include it"), (False, "leave it out"), (None, "could not be told")]
)
def test_annotations_say_whether_the_plates_include_them(on_plates, words):
    note = Annotation("Stamp", Box(10, 10, 20, 20), prints=True, hidden=False, on_plates=on_plates)
    job = job_of()
    (finding,) = judged("file", page_answers("file", page_of(annotations=(note,)), job), job)
    assert words in finding.message
    assert finding.box_mm == [10, 10, 20, 20]


def test_a_page_tells_broken_and_mended_things_apart():
    job = job_of()
    page = page_of(broken=("font F is missing", "picture P: its JPEG data is cut"), warnings=("a syntax fault",))
    answers = page_answers("file", page, job)
    assert all(isinstance(answer, Found) for answer in answers)
    assert ids(judged("file", answers, job)) == ["file.unreadable stop", "file.repaired ask"]


def test_boxes_that_make_no_sense_are_told_with_what_was_taken(tmp_path):
    """A trim box without an area, a turn that is none, no page size: ISO 32000-2, Table 31 and 7.9.5."""
    book = sound(3)
    book.pdf.pages[0].obj.TrimBox = Array([10, 10, 10, 300])
    book.pdf.pages[1].obj.Rotate = 45
    book.pdf.pages[2].obj.UserUnit = 0
    report = report_of(book.save(tmp_path / "art.pdf"))
    repaired = [finding for finding in report.findings if finding.id == "file.repaired"]
    assert [(finding.page, finding.severity) for finding in repaired] == [(1, "ask"), (2, "ask"), (3, "ask")]
    assert [
        word for word, finding in zip(("TrimBox", "45", "UserUnit"), repaired, strict=True) if word in finding.message
    ] == [
        "TrimBox",
        "45",
        "UserUnit",
    ]


def test_strangers_names_cannot_do_harm():
    (finding,) = judge_file(attachments=("{0} %s </b>\x1b[2J\x00.exe",))
    assert "{0} %s </b>" in finding.message
