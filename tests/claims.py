"""Makes files in code that claim a part of PDF/X and keep to it; tests then break them one by one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from artwork import Book, rectangle
from opened import CMYK_PROFILE
from pikepdf import Array, Dictionary, Name, StreamDecodeLevel, String
from whole import job_for, report_of

from preflight.findings import Finding, Report

X1A_2001, X1A_2003, X3_2002, X3_2003, X4, X6 = PARTS = (
    "PDF/X-1a:2001", "PDF/X-1a:2003", "PDF/X-3:2002", "PDF/X-3:2003", "PDF/X-4", "PDF/X-6",
)  # fmt: skip
X1A = (X1A_2001, X1A_2003)
X3 = (X3_2002, X3_2003)
EARLY = (*X1A, *X3)
LATE = (X4, X6)
PDF_VERSION = {X1A_2001: "1.3", X1A_2003: "1.4", X3_2002: "1.3", X3_2003: "1.4", X4: "1.6", X6: "2.0"}
#: A fill in black alone, 40 x 30 mm, 10 mm from the left edge of the trim and 40 mm from its top.
ART = f"0 0 0 1 k {rectangle(10, 10, 40, 30)} f"
TITLE = "Spring at Fernhollow"


class ClaimedBook(Book):
    """A book that claims a part; ``xmp`` and ``version`` are written when it is saved."""

    def __init__(self, part: str) -> None:
        super().__init__()
        self.part = part
        self.version = PDF_VERSION[part]
        self.saving: dict[str, Any] = {}
        self.xmp: dict[str, str] = {}
        info = self.pdf.docinfo
        info[Name.Title] = String(TITLE)
        info[Name.CreationDate] = String("D:20260301100000Z")
        info[Name.ModDate] = String("D:20260302100000Z")
        info[Name.Trapped] = Name("/False")
        if part in LATE:
            self.xmp = {
                "pdfxid:GTS_PDFXVersion": part, "dc:title": TITLE, "pdf:Trapped": "False",
                "xmp:CreateDate": "2026-03-01T10:00:00Z", "xmp:ModifyDate": "2026-03-02T10:00:00Z",
            }  # fmt: skip
        else:
            info[Name.GTS_PDFXVersion] = String("PDF/X-1:2001" if part == X1A_2001 else part)
            if part == X1A_2001:
                info[Name.GTS_PDFXConformance] = String(part)
        self.intent = self.pdf.make_indirect(
            Dictionary(
                Type=Name.OutputIntent,
                S=Name.GTS_PDFX,
                OutputConditionIdentifier="CGATS TR 001",
                RegistryName="http://www.color.org",
                Info="SWOP",
                DestOutputProfile=self.stream(CMYK_PROFILE.read_bytes(), compress=True, N=4),
            )
        )
        self.pdf.Root.OutputIntents = Array([self.intent])

    def with_page(self, content: str = ART, **entries: Any) -> ClaimedBook:
        """Adds a page (100 x 80 mm, 3 mm bleed, 10 mm of margin)."""
        self.page(content, **entries)
        return self

    def save(self, path: Path) -> Path:
        if self.xmp:
            self.pdf.Root.Metadata = self.stream(packet(self.xmp), Type=Name.Metadata, Subtype=Name.XML)
        # Streams are written as they are: packed anew they would lose the very filter that a test is about.
        as_it_is = {"deterministic_id": True, "stream_decode_level": StreamDecodeLevel.none, "compress_streams": False}
        self.pdf.save(path, force_version=self.version, **(as_it_is | self.saving))
        return path


def packet(values: dict[str, str]) -> bytes:
    """An XMP packet with these properties as attributes; a title as a list of alternatives."""
    title = values.get("dc:title")
    plain = "".join(f' {name}="{value}"' for name, value in values.items() if name != "dc:title")
    inner = f'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>' if title else ""
    return f"""<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""
xmlns:pdfxid="http://www.npes.org/pdfx/ns/id/" xmlns:pdfx="http://ns.adobe.com/pdfx/1.3/"
xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
xmlns:dc="http://purl.org/dc/elements/1.1/"{plain}>{inner}</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>""".encode()


def report_on(book: Book, folder: Path) -> Report:
    return report_of(book.save(folder / "art.pdf"), job_for())


def broken_in(book: Book, folder: Path) -> list[Finding]:
    """What is broken of the claim; nothing of it may be left unanswered."""
    report = report_on(book, folder)
    assert not [answer for answer in report.unchecked if answer.check in ("standard", "all", "file")], report.unchecked
    return [finding for finding in report.findings if finding.id == "standard.claim-broken"]


def requirements(findings: list[Finding]) -> list[str]:
    return sorted(finding.details["requirement"] for finding in findings)
