"""Claims of PDF/X, kept and broken, in files made in code; and files of an independent producer.

What each part asks for is stated in ``preflight/pdfx.py``. A case names the parts that a thing breaks; in every other part the same
thing must stay silent.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pikepdf
import pytest
from artwork import Book, rectangle
from claim_cases import ALSO, CASES, annotation, info, intent, of_class, packed, page_of, rgb_space, without_id, xmp
from claims import ART, EARLY, PARTS, X1A_2001, X3_2002, X4, X6, ClaimedBook, broken_in, report_on, requirements
from opened import CMYK_PROFILE, DEJAVU, RGB_PROFILE, needs
from pikepdf import Array, Dictionary, Name, String

pytestmark = needs(CMYK_PROFILE)


class Written(Book):
    """A file that is already there."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.path = path

    def save(self, path: Path) -> Path:
        return self.path


@pytest.mark.parametrize("part", PARTS)
def test_a_claim_that_is_kept(tmp_path, part):
    report = report_on(ClaimedBook(part).with_page().with_page(), tmp_path)
    assert [finding for finding in report.findings if finding.id.startswith("standard")] == []
    assert [answer for answer in report.unchecked if answer.check == "standard"] == []
    (not_judged,) = [answer.why for answer in report.not_judged if answer.check == "standard"]
    assert part in not_judged


@pytest.mark.parametrize("part", [X1A_2001, X3_2002, X4, X6])
@pytest.mark.parametrize("name", CASES)
def test_what_breaks_a_claim_and_what_does_not(tmp_path, name, part):
    change, requirement, broken_parts = CASES[name]
    book = ClaimedBook(part).with_page()
    change(book)
    told = set(requirements(broken_in(book, tmp_path)))
    assert (requirement in told) == (part in broken_parts), told
    assert told - {requirement} <= ALSO.get(name, set())


@pytest.mark.parametrize(
    ("change", "requirement"),
    [
        pytest.param(xmp(dc__title=None), ["title"], id="no title"),
        pytest.param(xmp(xmp__CreateDate=None), ["dates"], id="no date of making"),
        pytest.param(xmp(xmp__ModifyDate=None), ["dates"], id="no date of change"),
        pytest.param(xmp(pdfxid__GTS_PDFXVersion="PDF/X-4:2010"), ["identification"], id="a version no part has"),
        pytest.param(
            xmp(pdfxid__GTS_PDFXVersion=None, pdfx__GTS_PDFXVersion="PDF/X-4"), ["identification"], id="another namespace"
        ),
        pytest.param(xmp(dc__title="Autumn"), ["metadata-agree"], id="another title"),
        pytest.param(xmp(xmp__CreateDate="2026-03-01T11:00:00Z"), ["metadata-agree"], id="another hour"),
        pytest.param(xmp(xmp__CreateDate="2026-03-01T12:00:00+02:00"), [], id="the same moment elsewhere"),
    ],
)  # fmt: skip
def test_metadata_of_x4(tmp_path, change, requirement):
    book = ClaimedBook(X4).with_page()
    change(book)
    assert requirements(broken_in(book, tmp_path)) == requirement


def test_nobody_says_whether_it_is_trapped(tmp_path):
    book = ClaimedBook(X4).with_page()
    info("Trapped", None)(book)
    xmp(pdf__Trapped=None)(book)
    assert requirements(broken_in(book, tmp_path)) == ["trapped"]


def test_an_x4_claim_in_the_document_information_alone(tmp_path):
    book = ClaimedBook(X4).with_page()
    xmp(pdfxid__GTS_PDFXVersion=None)(book)
    info("GTS_PDFXVersion", String("PDF/X-4"))(book)
    assert requirements(broken_in(book, tmp_path)) == ["identification"]


@pytest.mark.parametrize(
    ("version", "conformance", "requirement"),
    [
        ("PDF/X-1:2001", "PDF/X-1a:2001", []),
        ("PDF/X-1:2001", None, ["identification"]),
        ("PDF/X-1a:2001", "PDF/X-1a:2001", ["identification"]),
        ("PDF/X-99", None, ["identification"]),
    ],
)
def test_how_x1a_of_2001_names_itself(tmp_path, version, conformance, requirement):
    book = ClaimedBook(X1A_2001).with_page()
    info("GTS_PDFXVersion", String(version))(book)
    info("GTS_PDFXConformance", String(conformance) if conformance else None)(book)
    assert requirements(broken_in(book, tmp_path)) == requirement


@pytest.mark.parametrize("version", ["PDF/X-5g", "PDF/X-2:2003"])
def test_parts_that_nothing_is_held_against(tmp_path, version):
    book = ClaimedBook(X3_2002).with_page()
    info("GTS_PDFXVersion", String(version))(book)
    book.pdf.Root.OutputIntents = Array([])
    report = report_on(book, tmp_path)
    assert not [finding for finding in report.findings if finding.id.startswith("standard")]
    assert [answer.why for answer in report.not_judged if answer.check == "standard"] == [
        f"the file says it is {version}: that part of PDF/X is not held against"
    ]


def test_no_claim_nothing_said(tmp_path):
    book = Book()
    book.page(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f")
    annotation("Link", (20, 20, 40, 30))(book)
    report = report_on(book, tmp_path)
    assert not [answer for answer in (*report.findings, *report.unchecked) if "standard" in str(answer)]
    assert "standard" not in [answer.check for answer in report.not_judged]


@pytest.mark.parametrize("part", [X1A_2001, X4])
def test_the_file_identifier(tmp_path, part):
    path = ClaimedBook(part).with_page().save(tmp_path / "art.pdf")
    without_id(path)
    assert requirements(broken_in(Written(path), tmp_path)) == ["file-identifier"]


@pytest.mark.parametrize(("part", "broken"), [(part, part in EARLY) for part in PARTS])
def test_objects_packed_into_streams(tmp_path, part, broken):
    book = ClaimedBook(part).with_page()
    book.saving = {"object_stream_mode": pikepdf.ObjectStreamMode.generate}
    book.version = max(book.version, "1.5")
    assert requirements(broken_in(book, tmp_path)) == (["object-streams"] if broken else [])


@pytest.mark.parametrize(
    ("part", "version", "broken"),
    [(X4, "2.0", True), (X6, "1.7", True), (X4, "1.7", False), (X1A_2001, "1.4", False), (X3_2002, "1.6", False)],
)
def test_a_header_of_another_generation(tmp_path, part, version, broken):
    book = ClaimedBook(part).with_page()
    book.version = version
    assert requirements(broken_in(book, tmp_path)) == (["pdf-version"] if broken else [])


@pytest.mark.parametrize("filter_name", ["JPXDecode", "JBIG2Decode"])
@pytest.mark.parametrize("part", [X1A_2001, X3_2002, X4])
def test_compression_of_later_versions(tmp_path, filter_name, part):
    book = ClaimedBook(part).with_page()
    packed(filter_name)(book)
    report = report_on(book, tmp_path)
    told = [finding for finding in report.findings if finding.id == "standard.claim-broken"]
    assert requirements(told) == (["compression"] if part != X4 else [])
    assert all(filter_name in finding.message for finding in told)


@needs(DEJAVU)
@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("embedded", [True, False])
def test_fonts(tmp_path, part, embedded):
    book = ClaimedBook(part)
    font = book.embedded_font(DEJAVU) if embedded else book.base_font()
    book.with_page(f"{ART} BT /F 12 Tf 60 150 Td (Fern) Tj ET", resources={"F": font})
    told = broken_in(book, tmp_path)
    assert requirements(told) == ([] if embedded else ["fonts"])
    assert embedded or ("Helvetica" in told[0].message and told[0].page == 1)


def test_a_font_that_is_invisible_or_only_listed(tmp_path):
    book = ClaimedBook(X4)
    book.with_page(
        f"{ART} BT 3 Tr /F 12 Tf 60 150 Td (Fern) Tj ET",
        resources={"F": book.base_font(), "G": book.base_font("Courier")},
    )
    assert broken_in(book, tmp_path) == []


def test_profile_needed_where_colours_are_converted(tmp_path):
    """PDF/X-3: a registered condition is enough for inks, not for colours that must be converted."""
    book = ClaimedBook(X3_2002)
    book.with_page(f"/S cs 1 0 0 scn {rectangle(10, 10, 40, 30)} f", resources={"S": rgb_space(book)})
    intent("DestOutputProfile", None)(book)
    assert requirements(broken_in(book, tmp_path)) == ["intent-profile"]


def test_a_condition_that_nobody_knows(tmp_path):
    book = ClaimedBook(X1A_2001).with_page()
    for key, value in {
        "DestOutputProfile": None,
        "OutputConditionIdentifier": String("our press"),
        "RegistryName": None,
    }.items():
        intent(key, value)(book)
    assert requirements(broken_in(book, tmp_path)) == ["printing-condition"]


def test_an_rgb_condition(tmp_path):
    """RGB numbers for an RGB device are at home; CMYK numbers are not."""
    book = ClaimedBook(X4).with_page(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f")
    data = bytearray(RGB_PROFILE.read_bytes())
    of_class(b"prtr")(data)
    book.intent.DestOutputProfile = book.stream(bytes(data), compress=True, N=3)
    assert broken_in(book, tmp_path) == []
    book.with_page(ART)
    (finding,) = broken_in(book, tmp_path)
    assert (finding.details["requirement"], finding.page) == ("device-colours", 2)


@pytest.mark.parametrize("part", ["PDF/X-4p", "PDF/X-6p"])
def test_a_profile_outside_the_file(tmp_path, part):
    book = ClaimedBook(X4 if "4" in part else X6).with_page()
    xmp(pdfxid__GTS_PDFXVersion=part)(book)
    intent("DestOutputProfile", None)(book)
    assert requirements(broken_in(book, tmp_path)) == ["printing-condition"]
    intent("DestOutputProfileRef", Dictionary(ProfileName="SWOP"))(book)
    assert broken_in(book, tmp_path) == []


# --- how it is told ----------------------------------------------------------------------------------------------------


def test_one_finding_a_requirement_with_all_pages_and_places(tmp_path):
    book = ClaimedBook(X4).with_page()
    for _ in range(3):
        book.with_page(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f")
        annotation("Link", (20, 20, 40, 30))(book)
    found = {finding.details["requirement"]: finding for finding in broken_in(book, tmp_path)}
    assert set(found) == {"device-colours", "annotations"}
    colours = found["device-colours"]
    assert (colours.severity, colours.stage, colours.page, colours.count) == ("ask", "intake", 2, 3)
    assert colours.details["pages"] == [2, 3, 4]
    # 10 mm from the left, 40 mm from the top, 40 x 30 mm.
    assert colours.box_mm == pytest.approx([10, 40, 50, 70], abs=0.1)
    assert "ISO 15930-7:2010" in colours.message
    assert "device RGB" in colours.message
    assert "pages 2, 3, 4" in colours.message
    link = found["annotations"]
    assert link.box_mm == pytest.approx([20, 50, 40, 60], abs=0.1)
    assert len(link.details["places"]) == 3
    assert len({finding.key for finding in found.values()}) == 2


@pytest.mark.parametrize("turn", [0, 90, 270])
def test_annotations_on_a_turned_page(tmp_path, turn):
    """The trim is 100 x 80 mm; a quarter turn clockwise brings the bottom left corner to the top left."""
    book = ClaimedBook(X4).with_page(Rotate=turn)
    annotation("Link", (20, 20, 40, 30))(book)
    (finding,) = broken_in(book, tmp_path)
    expected = {0: [20, 50, 40, 60], 90: [20, 20, 30, 40], 270: [50, 60, 60, 80]}[turn]
    assert finding.box_mm == pytest.approx(expected, abs=0.1)


def test_names_of_any_bytes(tmp_path):
    book = ClaimedBook(X1A_2001)
    book.with_page(f"{ART} q 50 0 0 50 30 30 cm /P Do Q", resources={"P": book.image(4, 4, space=Name.DeviceRGB)})
    page_of(book).Resources.ExtGState = pikepdf.Object.parse(b"<< /Moss#FF << /Type /ExtGState /ca 0.5 >> >>")
    page_of(book).Contents = Array([page_of(book).Contents, book.stream(b"/Moss\xff gs " + ART.encode())])
    found = broken_in(book, tmp_path)
    assert requirements(found) == ["ink-colours", "transparency"]
    assert "Moss\\xff" in found[1].message + found[0].message


def test_metadata_that_cannot_be_read_is_not_a_kept_promise(tmp_path):
    book = ClaimedBook(X4).with_page()
    path = book.save(tmp_path / "whole.pdf")
    data = path.read_bytes()
    assert data.count(b"</x:xmpmeta>") == 1
    path.write_bytes(data.replace(b"</x:xmpmeta>", b"</x:xmpmetal"))
    report = report_on(Written(path), tmp_path)
    assert [answer.page for answer in report.unchecked if answer.check == "standard"]
    assert report.verdict == "unchecked"


# --- an independent producer -------------------------------------------------------------------------------------------


@needs("gs")
@pytest.mark.parametrize(
    ("content", "broken"),
    [
        pytest.param(ART, [], id="inks"),
        pytest.param(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f", [], id="RGB, which it converts"),
        pytest.param(f"/G gs {ART}", [], id="opacity, which it flattens"),
    ],
)
def test_what_ghostscript_makes_as_x3_keeps_its_claim(tmp_path, content, broken):
    book = Book()
    book.page(content, resources={"G": book.state(ca=0.5)})
    source = book.save(tmp_path / "source.pdf")
    icc = tmp_path / "press.icc"
    icc.write_bytes(CMYK_PROFILE.read_bytes())
    prefix = tmp_path / "prefix.ps"
    prefix.write_text(
        f"""%!
[ /GTS_PDFXVersion (PDF/X-3:2002) /Title (Fern) /Trapped /False /DOCINFO pdfmark
[/_objdef {{profile}} /type /stream /OBJ pdfmark
[{{profile}} << /N 4 >> /PUT pdfmark
[{{profile}} ({icc}) (r) file /PUT pdfmark
[/_objdef {{intent}} /type /dict /OBJ pdfmark
[{{intent}} << /Type /OutputIntent /S /GTS_PDFX /Info (none) /OutputConditionIdentifier (CGATS TR001)
  /RegistryName (http://www.color.org) /DestOutputProfile {{profile}} >> /PUT pdfmark
[{{Catalog}} << /OutputIntents [ {{intent}} ] >> /PUT pdfmark
"""
    )
    made = tmp_path / "art.pdf"
    subprocess.run(
        ["gs", "-q", "-dPDFX", "-dBATCH", "-dNOPAUSE", f"--permit-file-read={tmp_path}/", "-sColorConversionStrategy=CMYK",
         "-sDEVICE=pdfwrite", f"-sOutputFile={made}", prefix, source],
        check=True, capture_output=True,
    )  # fmt: skip
    report = report_on(Written(made), tmp_path)
    assert [answer for answer in report.not_judged if "PDF/X-3:2002" in answer.why]
    assert requirements([finding for finding in report.findings if finding.id.startswith("standard")]) == broken
