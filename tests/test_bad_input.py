"""Whatever comes through the door, through the command as an operator calls it: an answer in time, never a traceback or a pass.

Expected exit statuses are those of the contract: 20 for what the customer has to fix, 30 for what this tool could not do,
2 for wrong usage.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from artwork import Book, mm
from pikepdf import Array, Dictionary, Name
from PIL import Image

PREFLIGHT = [sys.executable, "-m", "preflight"]
#: What a machine under load may need on top of the tool's own limits.
PATIENCE_S = 90.0
UNPRIVILEGED = 65534


@dataclass(frozen=True)
class Answer:
    """What the command said: exit status, report and standard error."""

    status: int
    report: dict[str, Any] | None
    stderr: str
    seconds: float

    @property
    def ids(self) -> set[str]:
        return {finding["id"] for finding in self.report["findings"]}

    @property
    def verdict(self) -> str:
        return self.report["verdict"]

    def pages_of(self, identifier: str) -> list[int | None]:
        return [finding["page"] for finding in self.report["findings"] if finding["id"] == identifier]


def check(*arguments: str | Path, **options: Any) -> Answer:
    """Runs ``preflight check ARGUMENTS --json -``; a traceback or a run without end fails the test."""
    started = time.monotonic()
    command = [*PREFLIGHT, "check", *map(str, arguments), "--json", "-"]
    ended = subprocess.run(command, capture_output=True, timeout=PATIENCE_S, check=False, **options)
    stderr = ended.stderr.decode("utf-8", "replace")
    assert "Traceback" not in stderr
    assert b"Traceback" not in ended.stdout
    report = json.loads(ended.stdout) if ended.stdout.strip() else None
    return Answer(ended.returncode, report, stderr, time.monotonic() - started)


def assert_one_line(answer: Answer, *words: str) -> None:
    """Wrong usage: exit status 2, nothing on standard output, one line that names all of ``words``."""
    assert answer.status == 2
    assert answer.report is None
    lines = [line for line in answer.stderr.splitlines() if line.strip()]
    assert len(lines) == 1, answer.stderr
    for word in words:
        assert word in lines[0]


def _twelve_pages(path: Path, **options: Any) -> bytes:
    """A sound PDF of twelve pages, each with a picture of its own."""
    book = Book()
    for number in range(12):
        picture = book.image(120, 120, data=bytes((x * (number + 3)) % 251 for x in range(120 * 120 * 4)))
        book.page(f"q {mm(20)} 0 0 {mm(20)} {mm(10)} {mm(10)} cm /P Do Q", resources={"P": picture})
    book.pdf.save(path, deterministic_id=True, **options)
    return path.read_bytes()


# --- not artwork ----------------------------------------------------------------------------------------------------------


def test_sound_file_is_answered(tmp_path):
    """The twin of all below: with the same call a sound file has no fault of the file."""
    book = Book()
    book.page(f"0 0 0 1 k {mm(20)} {mm(20)} {mm(30)} {mm(30)} re f")
    answer = check(book.save(tmp_path / "sound.pdf"))
    assert answer.status in (0, 10)
    assert not {name for name in answer.ids if name.startswith("file.")}
    assert answer.report["unchecked"] == []


def test_web_page_named_pdf(tmp_path):
    path = tmp_path / "flyer.pdf"
    path.write_bytes(b"<!DOCTYPE html><html><body><h1>404</h1>The file you asked for is not here.</body></html>")
    answer = check(path)
    assert (answer.status, answer.verdict, answer.ids) == (20, "stop", {"file.unreadable"})
    assert answer.report["pages"] == []


@pytest.mark.parametrize("name", ["empty.pdf", "empty.tif", "empty.jpg", "empty.png"])
def test_file_of_zero_bytes(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"")
    answer = check(path)
    assert (answer.status, answer.ids) == (20, {"file.unreadable"})
    assert answer.report["file"]["bytes"] == 0
    assert answer.report["file"]["pages"] is None


def test_sound_file_under_a_wrong_name(tmp_path):
    """Content counts, not the name."""
    picture = tmp_path / "picture.pdf"
    Image.new("CMYK", (600, 600), (200, 20, 20, 0)).save(picture, "TIFF", dpi=(300, 300))
    answer = check(picture)
    assert answer.report["file"]["kind"] == "tiff"
    assert "file.unreadable" not in answer.ids


def test_directory(tmp_path):
    assert_one_line(check(tmp_path), str(tmp_path))


def test_missing_path(tmp_path):
    assert_one_line(check(tmp_path / "nobody.pdf"), "nobody.pdf")


def test_link_that_leads_nowhere(tmp_path):
    (tmp_path / "link.pdf").symlink_to(tmp_path / "gone.pdf")
    assert_one_line(check(tmp_path / "link.pdf"), "link.pdf")


def test_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.pdf")
    answer = check(tmp_path / "pipe.pdf")
    assert answer.status in (2, 30)
    assert answer.seconds < 30


def test_wrong_usage_is_said_before_anything_runs(tmp_path):
    good = Book()
    good.page()
    answer = check(good.save(tmp_path / "good.pdf"), tmp_path / "nobody.pdf")
    assert_one_line(answer, "nobody.pdf")


#: A user whom nothing belongs to; where its Python cannot be reached by that user, the superuser without its right to read all.
_AS_NOBODY = f"import os, sys; os.setgroups([]); os.setgid({UNPRIVILEGED}); os.setuid({UNPRIVILEGED})"
_WITHOUT_RIGHTS = "import ctypes, os, sys; [ctypes.CDLL(None).prctl(24, right, 0, 0, 0) for right in (1, 2)]"


def _ways_to_drop_rights() -> list[list[str]]:
    if os.getuid() != 0:
        return [[]]
    return [
        [sys.executable, "-c", f"{way}; os.execv(sys.argv[1], sys.argv[1:])"] for way in (_AS_NOBODY, _WITHOUT_RIGHTS)
    ]


def test_no_permission_to_read():
    """The file is not the customer's to fix, so it is unchecked."""
    folder = Path(tempfile.mkdtemp(prefix="preflight-test-"))
    try:
        folder.chmod(0o755)
        book = Book()
        book.page()
        path = book.save(folder / "private.pdf")
        path.chmod(0)
        environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1]), "PYTHONDONTWRITEBYTECODE": "1"}
        for drop in _ways_to_drop_rights():
            probe = [
                *drop,
                sys.executable,
                "-c",
                "import pikepdf, preflight.cli, pymupdf, sys; open(sys.argv[1])",
                str(path),
            ]
            said = subprocess.run(probe, capture_output=True, check=False, cwd=folder, env=environment).stderr
            if said.rstrip().splitlines()[-1].startswith(b"PermissionError") and b"private.pdf" in said:
                break
        else:
            raise AssertionError(f"no way to lose the right to read: {said!r}")
        command = [*drop, *PREFLIGHT, "check", str(path), "--json", "-"]
        ended = subprocess.run(
            command, capture_output=True, check=False, cwd=folder, env=environment, timeout=PATIENCE_S
        )
        assert b"Traceback" not in ended.stderr
        assert ended.returncode == 30
        report = json.loads(ended.stdout)
        assert report["verdict"] == "unchecked"
        assert "file.unreadable" not in {finding["id"] for finding in report["findings"]}
        assert report["unchecked"][0]["why"]
    finally:
        shutil.rmtree(folder)


# --- damaged ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "options",
    [
        {"object_stream_mode": pikepdf.ObjectStreamMode.disable},
        {"object_stream_mode": pikepdf.ObjectStreamMode.generate},
        {"linearize": True},
    ],
    ids=["plain", "object streams", "linearised"],
)
@pytest.mark.parametrize("part", [0.02, 0.3, 0.8, 0.999])
def test_cut_pdf(tmp_path, options, part):
    whole = _twelve_pages(tmp_path / "whole.pdf", **options)
    path = tmp_path / "cut.pdf"
    path.write_bytes(whole[: int(len(whole) * part)])
    answer = check(path)
    assert answer.ids & {"file.unreadable", "file.repaired"} or answer.verdict == "unchecked"
    assert answer.status in (10, 20, 30)


def test_zero_filled_tail(tmp_path):
    """An upload that was given its full length before its content."""
    book_bytes = _twelve_pages(tmp_path / "whole.pdf")
    path = tmp_path / "tail.pdf"
    half = len(book_bytes) // 2
    path.write_bytes(book_bytes[:half] + bytes(len(book_bytes) - half))
    answer = check(path)
    assert answer.ids & {"file.unreadable", "file.repaired"}
    assert answer.status in (10, 20)


def _spoilt_page(tmp_path: Path, spoil: Any) -> Path:
    """Two pages: the first has a picture and a text, which ``spoil`` gets hold of; the second is sound."""
    book = Book()
    data = bytes((x * 31 + y * y * 7 + (x * y) % 13) % 256 for y in range(300) for x in range(300 * 3))
    image = Image.frombytes("RGB", (300, 300), data)
    packed = tmp_path / "picture.jpg"
    image.save(packed, "JPEG", quality=90)
    picture = book.stream(
        packed.read_bytes(),
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=300,
        Height=300,
        BitsPerComponent=8,
        ColorSpace=Name.DeviceRGB,
        Filter=Name.DCTDecode,
    )
    content = f"q {mm(30)} 0 0 {mm(30)} {mm(10)} {mm(10)} cm /P Do Q 0 0 0 1 k {mm(60)} {mm(20)} {mm(9)} {mm(9)} re f"
    page = book.page(content, resources={"P": picture})
    book.page(f"0 0 0 1 k {mm(60)} {mm(20)} {mm(9)} {mm(9)} re f")
    spoil(book.pdf, page.obj, picture)
    path = tmp_path / "spoilt.pdf"
    book.pdf.save(path, static_id=True, object_stream_mode=pikepdf.ObjectStreamMode.disable, compress_streams=False)
    return path


def test_unspoilt_twin_is_not_unreadable(tmp_path):
    answer = check(_spoilt_page(tmp_path, lambda pdf, page, picture: None))
    assert not answer.ids & {"file.unreadable", "file.repaired"}
    assert answer.report["unchecked"] == []


@pytest.mark.parametrize("part", [0.05, 0.5, 0.9])
def test_picture_cut_inside_the_pdf(tmp_path, part):
    def spoil(pdf, page, picture):
        data = picture.read_raw_bytes()
        picture.write(data[: int(len(data) * part)], filter=Name.DCTDecode)

    answer = check(_spoilt_page(tmp_path, spoil))
    assert answer.ids & {"file.unreadable", "file.repaired"} or answer.verdict == "unchecked"
    assert answer.verdict in ("stop", "ask", "unchecked")
    told = answer.pages_of("file.unreadable") + answer.pages_of("file.repaired")
    assert 2 not in told


def test_packed_picture_cut_inside_the_pdf(tmp_path):
    def spoil(pdf, page, picture):
        packed = zlib.compress(bytes(x % 253 for x in range(300 * 300 * 3)))
        picture.write(packed[: len(packed) // 3], filter=Name.FlateDecode)

    answer = check(_spoilt_page(tmp_path, spoil))
    assert answer.ids & {"file.unreadable", "file.repaired"}


def test_content_stream_cut(tmp_path):
    def spoil(pdf, page, picture):
        operators = b"0.1 w 0 0 m 9 9 l S " * 4000
        packed = zlib.compress(page.Contents.read_bytes() + operators)
        stream = pikepdf.Stream(pdf, packed[: len(packed) * 2 // 3])
        stream.Filter = Name.FlateDecode
        page.Contents = pdf.make_indirect(stream)

    answer = check(_spoilt_page(tmp_path, spoil))
    assert answer.ids & {"file.unreadable", "file.repaired"}


def _reference_to_nothing(path: Path, name: bytes) -> Path:
    """Lets the resource ``name`` point at an object that the file does not hold."""
    data = path.read_bytes()
    found = re.search(rb"/" + name + rb" (\d+) 0 R", data)
    path.write_bytes(data[: found.start(1)] + b"9" * len(found[1]) + data[found.end(1) :])
    return path


def test_used_object_missing(tmp_path):
    """A picture that is drawn but is not in the file (ISO 32000-2, 7.3.10: a reference to nothing is null)."""
    path = _spoilt_page(tmp_path, lambda pdf, page, picture: None)
    answer = check(_reference_to_nothing(path, b"P"))
    assert answer.pages_of("file.unreadable") == [1]
    assert answer.status == 20


def test_missing_object_that_is_not_used(tmp_path):
    """Twin: what is not drawn is not missed."""

    def spoil(pdf, page, picture):
        page.Resources.XObject.Unused = picture

    path = _spoilt_page(tmp_path, spoil)
    assert not check(_reference_to_nothing(path, b"Unused")).ids & {"file.unreadable", "file.repaired"}


def test_wrong_stream_length(tmp_path):
    def spoil(pdf, page, picture):
        pass

    path = _spoilt_page(tmp_path, spoil)
    data = path.read_bytes()
    place = data.index(b"/Length ", data.index(b"/DCTDecode") - 200) + len(b"/Length ")
    digits = data[place : data.index(b"\n", place)].split(b" ")[0].split(b"/")[0]
    path.write_bytes(data[:place] + b"7".rjust(len(digits), b"0") + data[place + len(digits) :])
    assert check(path).ids & {"file.unreadable", "file.repaired"}


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
def test_image_file_cut(tmp_path, kind):
    data = bytes((x * 31 + y * 17 + x * y) % 256 for y in range(400) for x in range(400))
    whole = tmp_path / "whole"
    Image.frombytes("L", (400, 400), data).save(whole, kind)
    path = tmp_path / f"cut.{kind.lower()}"
    path.write_bytes(whole.read_bytes()[: whole.stat().st_size * 4 // 10])
    answer = check(path)
    assert answer.ids & {"file.unreadable", "file.repaired"} or answer.verdict == "unchecked"


# --- built to last ----------------------------------------------------------------------------------------------------------


def test_cyclic_page_tree(tmp_path):
    book = Book()
    book.page(f"0 0 0 1 k {mm(20)} {mm(20)} {mm(30)} {mm(30)} re f")
    tree = book.pdf.Root.Pages
    path = tmp_path / "circle.pdf"
    branch = book.pdf.make_indirect(Dictionary(Type=Name.Pages, Count=1, Parent=tree, Kids=Array([])))
    branch.Kids.append(tree)
    tree.Kids.append(branch)
    tree.Count = 2
    book.pdf.save(path, static_id=True)
    answer = check(path, "--time-limit", "20")
    assert answer.verdict in ("stop", "unchecked", "ask")
    assert answer.status != 0
    assert answer.seconds < 40


def test_page_of_200_000_objects(tmp_path):
    book = Book()
    rows = [f"{x % 280} {x // 800} 0.9 0.9 re f" for x in range(200_000)]
    book.page("0 0 0 1 k\n" + "\n".join(rows))
    answer = check(book.save(tmp_path / "many.pdf"), "--time-limit", "15")
    assert answer.seconds < 45
    if answer.status == 30:
        assert "time limit" in answer.report["unchecked"][0]["why"]
    else:
        assert answer.report["pages"][0]["plates"]


def _one_colour_png(path: Path, side: int) -> Path:
    """A black grey-scale PNG of ``side`` pixels, written without ever holding it.

    After a full flush a block of deflate stands on its own and may be repeated; the check sum of so many zeros is arithmetic.
    """

    def chunk(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    rows = 100
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = packer.compress(bytes(rows * (side + 1))) + packer.flush(zlib.Z_FULL_FLUSH)
    length = side * (side + 1)
    adler = ((length % 65521) << 16) | 1
    head = side.to_bytes(4, "big") * 2 + b"\x08\x00\x00\x00\x00"
    data = b"\x78\xda" + block * (side // rows) + b"\x03\x00" + adler.to_bytes(4, "big")
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b""))
    return path


def test_one_colour_png_writer_is_right(tmp_path):
    with Image.open(_one_colour_png(tmp_path / "small.png", 300)) as image:
        image.load()
        assert image.size == (300, 300)
        assert image.getextrema() == (0, 0)


def test_enormous_png_of_one_colour(tmp_path):
    """3.6 thousand million pixels in under 5 MB: refused with words, before anything is unpacked."""
    path = _one_colour_png(tmp_path / "wall.png", 60_000)
    assert path.stat().st_size < 5_000_000
    answer = check(path, "--memory-limit", "1500", "--time-limit", "60")
    assert answer.status in (20, 30)
    assert answer.seconds < 70
    if answer.status == 30:
        assert answer.report["unchecked"][0]["why"]


def test_packed_bomb(tmp_path):
    """Half a gigabyte of operators in half a megabyte."""
    packer = zlib.compressobj(9)
    block = b"0 0 m 9 9 l S\n" * 70_000
    packed = b"".join([*(packer.compress(block) for _ in range(500)), packer.flush()])
    book = Book()
    page = book.page()
    stream = pikepdf.Stream(book.pdf, packed)
    stream.Filter = Name.FlateDecode
    page.obj.Contents = book.pdf.make_indirect(stream)
    answer = check(book.save(tmp_path / "bomb.pdf"), "--time-limit", "8", "--memory-limit", "700")
    assert answer.seconds < 45
    assert answer.status in (10, 20, 30)


# --- names ------------------------------------------------------------------------------------------------------------------

NASTY = "<b onclick=x>&amp;\x1b[31m\r\nBcc: all\u202e\x07"


def _nasty_book() -> Book:
    book = Book()
    layer = book.layer(NASTY)
    font = book.base_font("Evil" + NASTY.replace("\r\n", ""))
    spot = book.spot(NASTY)
    book.page(
        f"/OC /L BDC /S cs 1 scn {mm(-3)} {mm(-3)} {mm(60)} {mm(40)} re f EMC 0 0 0 1 k "
        f"BT /F 12 Tf {mm(20)} {mm(60)} Td (Hello) Tj ET",
        resources={"L": layer, "F": font, "S": spot},
    )
    return book


def test_names_with_control_characters_and_markup(tmp_path):
    name = NASTY.replace("/", "_") + ".pdf"
    _nasty_book().save(tmp_path / "plain.pdf")
    path = tmp_path / name
    (tmp_path / "plain.pdf").rename(path)
    ended = subprocess.run(
        [*PREFLIGHT, "check", str(path), "--html", str(tmp_path / "page.html"), "--out", str(tmp_path / "out")],
        capture_output=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert ended.returncode in (0, 10, 20), ended.stderr[-500:]
    said = (ended.stdout + ended.stderr).decode("utf-8")
    assert "Traceback" not in said
    assert "\x1b" not in said
    assert "\x07" not in said
    assert "\u202e" not in said
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "<b onclick" not in page
    assert "\x1b" not in page
    reports = list((tmp_path / "out").glob("*/report.json"))
    assert len(reports) == 1
    assert reports[0].parent.name.isprintable()
    report = json.loads(reports[0].read_text(encoding="utf-8"))
    assert "font.not-embedded" in {finding["id"] for finding in report["findings"]}


def test_names_that_are_no_text(tmp_path):
    """Bytes that are not UTF-8, in the file's name and in an ink's."""
    book = Book()
    ink = Array(
        [
            Name.Separation,
            pikepdf.Object.parse(b"/Gr#fcn#ff#c0"),
            Name.DeviceCMYK,
            Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[1, 0, 1, 0], N=1),
        ]
    )
    book.page(f"/S cs 1 scn {mm(20)} {mm(20)} {mm(40)} {mm(30)} re f", resources={"S": ink})
    book.save(tmp_path / "plain.pdf")
    path = os.fsencode(tmp_path) + b"/\xff\xfe name.pdf"
    os.rename(tmp_path / "plain.pdf", path)
    command = [*PREFLIGHT, "check", path, "--json", "-", "--out", str(tmp_path / "out")]
    ended = subprocess.run(command, capture_output=True, timeout=PATIENCE_S, check=False)
    assert b"Traceback" not in ended.stderr
    assert ended.returncode in (0, 10, 20), ended.stderr[-500:]
    report = json.loads(ended.stdout.decode("utf-8"))
    assert [plate["kind"] for plate in report["pages"][0]["plates"]].count("spot") == 1
    assert len(list((tmp_path / "out").glob("*/report.json"))) == 1


# --- the shop's own mistakes ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('extends = "standard"\n[resolution]\nlow_bellow_ppi = 100\n', ("low_bellow_ppi", "low_below_ppi")),
        ('extends = "standard"\n[resolutoin]\nlow_below_ppi = 100\n', ("resolutoin", "resolution")),
        ('extends = "standard"\n[resolution]\nlow_below_ppi = "much"\n', ("low_below_ppi",)),
        ('extends = "standard"\n[resolution.severity]\nlowish = "stop"\n', ("lowish", "low")),
        ('extends = "standard"\n[resolution.severity]\nlow = "halt"\n', ("halt",)),
        ('extends = "nowhere"\n', ("nowhere",)),
        ('extends = "standard\n', ("rules.toml",)),
        ("\x00\x01", ("rules.toml",)),
    ],
    ids=["key", "table", "type", "kind", "severity", "parent", "not TOML", "bytes"],
)
def test_bad_rules(tmp_path, text, words):
    book = Book()
    book.page()
    path = tmp_path / "rules.toml"
    path.write_text(text)
    assert_one_line(check(book.save(tmp_path / "a.pdf"), "--rules", path), "rules.toml", *words)


def test_unknown_rules_name(tmp_path):
    book = Book()
    book.page()
    assert_one_line(
        check(book.save(tmp_path / "a.pdf"), "--rules", "sheetfed-coted"), "sheetfed-coted", "sheetfed-coated"
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("trim = [148, 210]\n", ("trim", "trim_mm")),
        ('trim_mm = "A5"\n', ("trim_mm",)),
        ("trim_mm = [148]\n", ("trim_mm",)),
        ("pages = -4\n", ("pages",)),
        ('binding = "stapled"\n', ("binding", "saddle-stitch")),
        ('[[waive]]\nid = "bleed.missing"\n', ("waive",)),
        ("pages = 16 16\n", ("ticket.toml",)),
    ],
    ids=["key", "type", "length", "negative", "choice", "waiver", "not TOML"],
)
def test_bad_ticket(tmp_path, text, words):
    book = Book()
    book.page()
    path = tmp_path / "ticket.toml"
    path.write_text(text)
    assert_one_line(check(book.save(tmp_path / "a.pdf"), "--ticket", path), "ticket.toml", *words)


def test_missing_ticket(tmp_path):
    book = Book()
    book.page()
    assert_one_line(check(book.save(tmp_path / "a.pdf"), "--ticket", tmp_path / "none.toml"), "none.toml")


# --- the child that does not come back ---------------------------------------------------------------------------------------


def _endless(path: Path, pages: int = 1, endless_page: int = 1) -> Path:
    """A page of forms that draw each other ten times, ten deep: ten thousand million rectangles."""
    book = Book()
    form = book.form(f"0 0 0 1 k 0 0 {mm(40)} {mm(40)} re f")
    for _ in range(10):
        form = book.form("/F Do " * 10, resources={"F": form})
    for number in range(1, pages + 1):
        if number == endless_page:
            book.page("/F Do", resources={"F": form})
        else:
            book.page(f"0 0 0 1 k {mm(20)} {mm(20)} {mm(30)} {mm(30)} re f")
    return book.save(path)


def test_hang_ends_at_the_time_limit(tmp_path):
    answer = check(_endless(tmp_path / "endless.pdf"), "--time-limit", "4")
    assert answer.status == 30
    assert answer.verdict == "unchecked"
    assert answer.seconds < 4 + 6
    assert "time limit" in answer.report["unchecked"][0]["why"]


def test_what_was_done_before_the_hang_is_kept(tmp_path):
    path = _endless(tmp_path / "endless.pdf", pages=3, endless_page=2)
    answer = check(path, "--time-limit", "6", "--jobs", "1")
    assert answer.status == 30
    assert 1 in {page["number"] for page in answer.report["pages"]}
    assert {row["page"] for row in answer.report["unchecked"]} >= {2}
    assert answer.report["file"]["pages"] == 3


def test_tiny_memory_limit(tmp_path):
    """A picture of 100 million pixels does not fit; the file itself is sound, so it is not the customer's fault."""
    side = 10_000
    packer = zlib.compressobj(1)
    packed = b"".join([*(packer.compress(bytes(side * 4) * 100) for _ in range(side // 100)), packer.flush()])
    book = Book()
    picture = book.stream(
        packed,
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=side,
        Height=side,
        BitsPerComponent=8,
        ColorSpace=Name.DeviceCMYK,
        Filter=Name.FlateDecode,
    )
    book.page(f"q {mm(90)} 0 0 {mm(70)} {mm(5)} {mm(5)} cm /P Do Q", resources={"P": picture})
    answer = check(book.save(tmp_path / "large.pdf"), "--memory-limit", "60", "--time-limit", "40")
    assert answer.status in (20, 30)
    assert answer.verdict != "go"
    if answer.status == 30:
        assert "memory" in answer.report["unchecked"][0]["why"]


def _children(parent: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError, IndexError, ValueError):
                if int((entry / "stat").read_text().rpartition(")")[2].split()[1]) == parent:
                    found.append(int(entry.name))
    return found


def _worker_of(command: int, within_s: float = 55.0) -> int:
    """The process that draws: a grandchild of the command, busy for a while already."""
    deadline = time.monotonic() + within_s
    while time.monotonic() < deadline:
        for child in _children(command):
            for grandchild in _children(child):
                spent = (Path("/proc") / str(grandchild) / "stat").read_text().rpartition(")")[2].split()[11]
                if int(spent) > 50:  # half a second of work: it is drawing the page
                    return grandchild
        time.sleep(0.05)
    raise AssertionError("no child process was seen at work")


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_killed_child(tmp_path):
    """As the system does when memory runs out: the run goes on and says so."""
    path = _endless(tmp_path / "endless.pdf", pages=3, endless_page=2)
    command = [*PREFLIGHT, "check", str(path), "--json", "-", "--time-limit", "60", "--jobs", "1"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        os.kill(_worker_of(process.pid), signal.SIGKILL)
        stdout, stderr = process.communicate(timeout=PATIENCE_S)
    assert b"Traceback" not in stderr
    assert process.returncode == 30
    report = json.loads(stdout)
    assert report["verdict"] == "unchecked"
    assert [row["page"] for row in report["unchecked"]] == [2]
    assert "SIGKILL" in report["unchecked"][0]["why"]
    # A fresh child took the rest.
    assert [page["number"] for page in report["pages"]] == [1, 3]


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_crashed_child(tmp_path):
    path = _endless(tmp_path / "endless.pdf")
    command = [*PREFLIGHT, "check", str(path), "--json", "-", "--time-limit", "60"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        os.kill(_worker_of(process.pid), signal.SIGSEGV)
        stdout, stderr = process.communicate(timeout=PATIENCE_S)
    assert b"Traceback" not in stderr
    assert process.returncode == 30
    assert "SIGSEGV" in json.loads(stdout)["unchecked"][0]["why"]


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_interrupted_run_leaves_nothing(tmp_path):
    """Ctrl-C: exit status 130, no process and no temporary file left."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    path = _endless(tmp_path / "endless.pdf")
    command = [*PREFLIGHT, "check", str(path), "--out", str(tmp_path / "out"), "--time-limit", "60"]
    environment = {**os.environ, "TMPDIR": str(temporary)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment, start_new_session=True
    ) as process:
        worker = _worker_of(process.pid)
        os.killpg(process.pid, signal.SIGINT)
        _, stderr = process.communicate(timeout=30)
    assert process.returncode == 130
    assert b"Traceback" not in stderr
    deadline = time.monotonic() + 5
    while Path(f"/proc/{worker}").exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not Path(f"/proc/{worker}").exists()
    assert list(temporary.iterdir()) == []
