"""Damage inside a page: what is lost is told although the engine draws on; what is listed, empty or merely odd stays silent.

Every file is a sound one damaged at one place; its sound twin must have nothing to tell.
"""

from __future__ import annotations

import io
import re
import zlib

import pytest
from artwork import Book, mm
from opened import DEJAVU, damage_of, needs, opened
from pikepdf import Array, Dictionary, Name, String
from PIL import Image
from whole import report_of

from preflight.inventory.damage import page_damage
from preflight.inventory.warnings import classify_warnings

PLACE = f"q {mm(40)} 0 0 {mm(40)} {mm(10)} {mm(10)} cm /P Do Q"
TEXTURE = bytes((x * 7919 + x // 255) % 251 for x in range(120 * 120 * 3))


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.frombytes("RGB", (120, 120), TEXTURE).save(out, "JPEG", quality=90)
    return out.getvalue()


def picture(book: Book, data: bytes, filter_name: str | None, **entries):
    more = {"Filter": Name("/" + filter_name)} if filter_name else {}
    return book.stream(
        data, Type=Name.XObject, Subtype=Name.Image, Width=120, Height=120, BitsPerComponent=8, ColorSpace=Name.DeviceRGB, **more, **entries
    )  # fmt: skip


def with_picture(data: bytes, filter_name: str | None, **entries) -> Book:
    book = Book()
    book.page(PLACE, resources={"P": picture(book, data, filter_name, **entries)})
    return book


def without(book: Book, folder, key: str) -> bytes:
    """The saved file with the object that ``key`` names made unfindable; every offset stays as it is."""
    data = book.save(folder / "whole.pdf").read_bytes()
    changed = re.sub(rf"/{key} (\d+) 0 R".encode(), lambda found: f"/{key} 99 0 R".encode().ljust(len(found[0])), data)
    assert changed != data
    return changed


# --- pictures --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "filter_name"),
    [
        (jpeg()[: len(jpeg()) // 2], "DCTDecode"),
        (jpeg()[:300], "DCTDecode"),
        (b"no picture", "DCTDecode"),
        (zlib.compress(TEXTURE)[:200], "FlateDecode"),
        (b"x\x9c" + b"\xff" * 60, "FlateDecode"),
        (zlib.compress(TEXTURE[:5000]), "FlateDecode"),
        (TEXTURE[:5000], None),
    ],
    ids=[
        "JPEG cut in half",
        "JPEG head only",
        "no JPEG",
        "Flate cut",
        "Flate damaged",
        "rows missing in Flate",
        "rows missing",
    ],
)
def test_a_picture_that_lost_its_data(data, filter_name, tmp_path):
    broken, _ = damage_of(with_picture(data, filter_name), tmp_path)
    assert "data" in broken


@pytest.mark.parametrize(
    ("data", "filter_name"), [(jpeg(), "DCTDecode"), (zlib.compress(TEXTURE), "FlateDecode"), (TEXTURE, None)]
)
def test_a_whole_picture(data, filter_name, tmp_path):
    assert damage_of(with_picture(data, filter_name), tmp_path) == ("", "")


def test_a_byte_changed_inside_compressed_data_is_seen_by_its_checksum(tmp_path):
    """Stored (uncompressed) Flate blocks: every byte decodes, only the checksum knows."""
    data = bytearray(zlib.compress(TEXTURE, 0))
    data[2000] ^= 0x10
    broken, other = damage_of(with_picture(bytes(data), "FlateDecode"), tmp_path)
    assert (broken, "checksum" in other) == ("", True)


def test_whole_data_without_its_checksum_loses_nothing(tmp_path):
    broken, other = damage_of(with_picture(zlib.compress(TEXTURE)[:-4], "FlateDecode"), tmp_path)
    assert (broken, "checksum" in other) == ("", True)


def test_a_thumbnails_end_is_not_the_pictures_end(tmp_path):
    """A cut JPEG whose header holds a whole small JPEG."""
    small = jpeg()
    segment = b"\xff\xe1" + (len(small) + 2).to_bytes(2, "big") + small
    whole = b"\xff\xd8" + segment + jpeg()[2:]
    assert damage_of(with_picture(whole, "DCTDecode"), tmp_path) == ("", "")
    broken, _ = damage_of(with_picture(whole[: -len(small) // 2], "DCTDecode"), tmp_path)
    assert "cut" in broken


def test_the_same_damaged_picture_is_told_on_every_page_that_shows_it(tmp_path):
    book = Book()
    shared = picture(book, zlib.compress(TEXTURE)[:200], "FlateDecode")
    for _ in range(3):
        book.page(PLACE, resources={"P": shared})
    with opened(book, tmp_path) as artwork:
        from preflight.inventory.damage import page_damage

        for number in (1, 2, 3):
            broken, _ = page_damage(artwork, number, [])
            assert "cut" in "; ".join(broken), number


# --- content ---------------------------------------------------------------------------------------------------------


def test_page_content_that_is_cut(tmp_path):
    book = Book()
    body = "".join(f"{x} {x * 7 % 90} m {x * 3 % 200} {x} l S\n" for x in range(400)).encode()
    book.page("")
    whole = zlib.compress(body)
    book.pdf.pages[0].obj.Contents = book.stream(whole, Filter=Name.FlateDecode)
    assert damage_of(book, tmp_path) == ("", "")
    book.pdf.pages[0].obj.Contents = book.stream(whole[: len(whole) // 2], Filter=Name.FlateDecode)
    broken, _ = damage_of(book, tmp_path)
    assert "page content: its compressed data is cut" in broken


def test_missing_page_content(tmp_path):
    book = Book()
    book.page("0 0 0 1 k 0 0 9 9 re f")
    assert "page content is missing" in damage_of(without(book, tmp_path, "Contents"), tmp_path)[0]


def test_one_of_several_content_streams_missing(tmp_path):
    book = Book()
    book.page("")
    parts = [book.stream(b"0 0 9 9 re f"), book.stream(b"9 9 9 9 re f")]
    book.pdf.pages[0].obj.Contents = Array(parts)
    data = book.save(tmp_path / "whole.pdf").read_bytes()
    found = re.search(rb"/Contents \[ (\d+) 0 R (\d+) 0 R \]", data)
    assert found
    changed = data[: found.start(2)] + b"99"[: len(found[2])] + data[found.end(2) :]
    assert "page content is missing" in damage_of(changed, tmp_path)[0]


def test_a_page_without_content_is_blank_and_sound(tmp_path):
    book = Book()
    book.page("")
    del book.pdf.pages[0].obj.Contents
    assert damage_of(book, tmp_path) == ("", "")


@pytest.mark.parametrize("change", [-5, 40], ids=["too short", "too long"])
def test_a_wrong_stream_length_is_mended(change, tmp_path):
    book = Book()
    book.page(f"0 0 0 1 k 0 0 {mm(2)} {mm(2)} re f")
    data = _uncompressed(book, tmp_path)
    changed = re.sub(rb"/Length (\d\d)\b", lambda found: b"/Length %d" % (int(found[1]) + change), data, count=1)
    assert changed != data
    assert len(changed) == len(data)
    assert damage_of(data, tmp_path) == ("", "")
    assert "length" in damage_of(changed, tmp_path)[1]


def _uncompressed(book: Book, folder) -> bytes:
    path = folder / "plain.pdf"
    book.pdf.save(path, compress_streams=False, deterministic_id=True)
    return path.read_bytes()


def test_syntax_faults_in_the_content_are_mended(tmp_path):
    book = Book()
    book.page("0 0 9 9 re f frobnicate [ 1 2")
    broken, other = damage_of(book, tmp_path)
    assert broken == ""
    assert "frobnicate" in other


# --- things that are named and missing -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("/P Do", "picture or form P is missing"),
        ("/G gs", "ExtGState G is missing"),
        ("BT /F 12 Tf (Fern) Tj ET", "font F is missing"),
        ("/C cs 1 scn 0 0 9 9 re f", "colour space C is missing"),
        ("/Pattern cs /T scn 0 0 9 9 re f", "pattern T is missing"),
        ("/S sh", "blend S is missing"),
    ],
)
def test_a_name_without_a_resource(content, words, tmp_path):
    book = Book()
    book.page(content)
    assert damage_of(book, tmp_path)[0] == words
    inside = Book()
    inside.page("/Form Do", resources={"Form": inside.form(content)})
    assert words in damage_of(inside, tmp_path)[0]


def test_names_listed_with_the_page_serve_the_forms_too(tmp_path):
    """Old files leave the resources of a form to its page; the engine finds them."""
    book = Book()
    form = book.form("/P Do")
    del form.Resources
    book.page("/Form Do", resources={"Form": form, "P": book.image(4, 4)})
    assert damage_of(book, tmp_path) == ("", "")


@pytest.mark.parametrize("key", ["P", "SMask", "ColorSpace"])
def test_a_used_object_that_is_not_in_the_file(key, tmp_path):
    book = Book()
    mask = book.image(30, 30, space=Name.DeviceGray)
    space = book.pdf.make_indirect(book.spot("Moss"))
    image = book.image(30, 30, space=space, SMask=mask)
    book.page(PLACE, resources={"P": image})
    assert damage_of(book, tmp_path) == ("", "")
    assert "is missing" in damage_of(without(book, tmp_path, key), tmp_path)[0]


def test_a_soft_mask_group_that_is_not_in_the_file(tmp_path):
    book = Book()
    group = book.form("0 0 50 50 re f", Group=Dictionary(S=Name.Transparency, CS=Name.DeviceGray))
    state = book.state(SMask=Dictionary(S=Name.Luminosity, G=group))
    book.page("/M gs 0 0 0 1 k 0 0 90 90 re f", resources={"M": state})
    assert damage_of(book, tmp_path) == ("", "")
    assert "ExtGState M" in damage_of(without(book, tmp_path, "G"), tmp_path)[0]


def test_missing_objects_that_make_no_print_are_left_alone(tmp_path):
    book = Book()
    image = book.image(30, 30, Metadata=book.stream(b"<x/>"))
    book.page(
        PLACE, resources={"P": image}, Metadata=book.stream(b"<x/>"), PieceInfo=book.pdf.make_indirect(Dictionary())
    )
    for key in ("Metadata", "PieceInfo"):
        assert damage_of(without(book, tmp_path, key), tmp_path) == ("", ""), key


def test_damaged_things_that_are_listed_and_not_used_are_left_alone(tmp_path):
    book = Book()
    unused = picture(book, jpeg()[:300], "DCTDecode")
    book.page("0 0 0 1 k 0 0 9 9 re f", resources={"P": unused, "Q": book.image(4, 4)})
    assert damage_of(book, tmp_path) == ("", "")
    assert damage_of(without(book, tmp_path, "Q"), tmp_path) == ("", "")


def test_empty_streams_are_no_damage(tmp_path):
    """The engine takes compressed data of no bytes for cut data."""
    book = Book()
    empty = book.stream(b"", Type=Name.XObject, Subtype=Name.Form, BBox=Array([0, 0, 9, 9]), Filter=Name.FlateDecode)
    book.page("/Form Do", resources={"Form": empty})
    assert damage_of(book, tmp_path) == ("", "")


@needs(DEJAVU)
def test_a_broken_font_is_told_as_a_font_only(tmp_path):
    book = Book()
    font = book.embedded_font(DEJAVU)
    font.FontDescriptor.FontFile2 = book.stream(b"no font")
    book.page("BT /F 12 Tf 9 9 Td (Fern) Tj ET", resources={"F": font})
    assert damage_of(book, tmp_path) == ("", "")


@needs(DEJAVU)
def test_a_font_program_that_is_named_and_not_in_the_file_is_damage(tmp_path):
    book = Book()
    font = book.pdf.make_indirect(book.embedded_font(DEJAVU))
    book.page("BT /F 12 Tf 9 9 Td (Fern) Tj ET", resources={"F": font})
    changed = without(book, tmp_path, "FontFile2")
    assert damage_of(changed, tmp_path) == ("font F: its font program is missing", "")
    findings = report_of(tmp_path / "art.pdf").findings
    assert {finding.id for finding in findings} & {"font.not-embedded", "file.unreadable"} == {"file.unreadable"}


def test_a_page_without_its_content_is_not_called_blank(tmp_path):
    """What follows from the loss is no finding of its own."""
    book = Book()
    book.page("0 0 0 1 k 0 0 9 9 re f")
    changed = without(book, tmp_path, "Contents")
    assert damage_of(changed, tmp_path) == ("page content is missing", "")
    ids = [finding.id for finding in report_of(tmp_path / "art.pdf").findings]
    assert "file.unreadable" in ids
    assert "pages.blank" not in ids


def test_a_fault_without_a_word_of_the_engines_is_told(tmp_path):
    book = Book()
    book.page("0 0 0 1 k 0 0 9 9 re f")
    with opened(book, tmp_path) as artwork:
        assert page_damage(artwork, 1, [], faults=1)[1]
        assert page_damage(artwork, 1, ["premature end of file in jpeg"], faults=1)[1] == ()


def test_a_broken_colour_profile_is_left_out(tmp_path):
    book = Book()
    space = Array([Name.ICCBased, book.stream(b"no profile " * 30, N=3)])
    book.page("/C cs 1 0 0 scn 0 0 9 9 re f", resources={"C": space})
    broken, other = damage_of(book, tmp_path)
    assert (broken, "profile" in other) == ("", True)


def test_encrypted_streams_are_looked_at_in_the_clear(tmp_path):
    import pikepdf

    book = with_picture(zlib.compress(TEXTURE), "FlateDecode")
    book.pdf.docinfo[Name.Title] = String("x")
    path = tmp_path / "art.pdf"
    book.pdf.save(path, encryption=pikepdf.Encryption(user="", owner="moss", R=6))
    assert damage_of(path, tmp_path) == ("", "")


# --- the engine's words ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "broken", "other"),
    [
        (["premature end of file in jpeg"], 1, 0),
        (["syntax error: cannot find XObject resource 'Im0'", "encountered syntax errors; page may not be correct"], 1, 0),
        (["PDF stream Length incorrect"], 0, 1),
        (["a wording of tomorrow's engine"], 0, 1),
        (["lcms: not an ICC profile, invalid signature.", "ignoring embedded ICC profile in JPEG"], 0, 0),
        (["FT_Set_Char_Size: hinting", "ignoring transfer function", "not allowed to embed font: Moss"], 0, 0),
        (["non-embedded font using identity encoding: Moss (mapping via TrueType-UCS2)"], 0, 0),
        (["library error: FT_New_Memory_Face(Moss): unknown file format", "ignored error when loading embedded font; attempting to load system font"], 0, 0),
        (["cannot create appearance stream for Screen annotations", "cannot create appearance stream"], 0, 0),
        (["padding truncated image"] * 5, 1, 0),
        ([], 0, 0),
    ],
)  # fmt: skip
def test_words_are_sorted_by_what_they_mean_for_plates(said, broken, other):
    found = classify_warnings(said)
    assert (len(found[0]), len(found[1])) == (broken, other)


def test_a_want_of_memory_is_no_damage():
    with pytest.raises(MemoryError):
        classify_warnings(["malloc of 4000000000 bytes failed", "cannot decode image on page, leaving it blank"])


def test_strangers_names_in_the_words_cannot_do_harm():
    (words,), _ = classify_warnings(["cannot find XObject resource '{0.__class__} \udcff<b>'"])
    words.encode("utf-8")
    assert "{0.__class__}" in words
