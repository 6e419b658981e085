"""Whether the file can be opened, can be trusted, and brings along things that no artwork should.

What it looks at
    What the file is (by content, not by name); passwords and print permissions; what had to be repaired; data that is missing or
    damaged on a page; scripts and automatic actions; attachments; notes and form fields that would print; pages that are single plates;
    transfer curves, halftones and other print settings of its own.
Why it matters on press
    A damaged file may lose a picture or a page without a word. A note nobody wanted prints, a transfer curve changes every tone on the
    plates, a low-resolution stand-in prints where the fine picture should have come in.
How it is measured
    Two independent readers open the file. What either had to mend, what a page uses and does not find, and data that cannot be
    unpacked (checksums compared) is told; nothing is measured in figures, so there is no tolerance. Left alone: odd names,
    bytes before the header and a missing end mark alone (a note at most), an owner's password that does not keep anybody from printing, links
    and bookmarks, notes that are hidden, not for print, empty or outside the bleed, curves that change nothing.
What to ask the customer for
    The file exported anew, without password, notes, form fields or attachments; if it was damaged on the way, sent again.
Source
    ISO 32000-2: Table 22 (bits 3 and 12), Table 57 (transfer curves, halftones), Table 167 (flags of annotations), 12.6 (actions),
    8.8.2, 14.11.4 and 14.11.7 of ISO 32000-1 (PostScript, preseparated pages, OPI); that such files wait for a person is common
    practice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from preflight.checking import Answer, Check, Kind, NoLimits
from preflight.findings import Found, Stage
from preflight.inventory.model import Annotation, DocumentFacts, Inventory, Page
from preflight.ticket import Job

#: Never mark a sheet.
NO_MARK = ("Link", "Popup")
#: Only change how RGB is turned into CMYK, and only in old workflows.
MILD_SETTINGS = ("black generation", "undercolour removal")
#: How many things are named in a message; all are in the details.
MOST_NAMED = 5


def check_file(inventory: Inventory, job: Job, limits: NoLimits) -> Iterator[Answer]:
    """Judges what was told on opening the file and reading it as a whole."""
    document = inventory.document
    if document.unreadable:
        yield Found("unreadable", None, values={"why": document.unreadable}, details={"what": [document.unreadable]})
        return
    if document.locked:
        yield Found("locked", None)
        return
    for page in document.missing_pages:
        why = f"page {page} is named in the file but not in it"
        yield Found("unreadable", page, values={"why": why}, subject="missing page", details={"what": [why]})
    yield from _restricted(document)
    if document.repairs:
        yield _told("repaired", None, document.repairs)
    if document.oddities:
        yield _told("repaired", None, document.oddities, mild=True)
    yield from _active(document)
    for name in document.attachments:
        yield Found("attachment", None, values={"name": name}, subject=name)
    if document.preseparated_pages:
        first, *_ = pages = list(document.preseparated_pages)
        yield Found("preseparated", first, values={"pages": _pages(pages)}, details={"pages": pages}, count=len(pages))
    yield from _foreign(document)


def check_page(page: Page, document: DocumentFacts, job: Job, limits: NoLimits) -> Iterator[Answer]:
    """Judges what a page has lost, what was mended on it, and what would print along with it."""
    if page.broken:
        yield _told("unreadable", page.number, page.broken)
    mended = (*page.warnings, *(page.boxes.faults if page.boxes else ()))
    if mended:
        yield _told("repaired", page.number, mended)
    for annotation in page.annotations:
        if _would_print(annotation, page):
            yield _annotation(annotation, page)


def _told(kind: str, page: int | None, what: Iterable[str], *, mild: bool = False) -> Found:
    words = list(what)
    return Found(kind, page, values={"why": _list(words)}, details={"what": words}, mild=mild)


def _restricted(document: DocumentFacts) -> Iterator[Found]:
    if document.may_print is False:
        yield Found("restricted", None, values={"what": "Printing"}, details={"bit": 3})
    elif document.may_print_high is False:
        yield Found("restricted", None, values={"what": "Printing in high quality"}, details={"bit": 12})


def _active(document: DocumentFacts) -> Iterator[Found]:
    for what in dict.fromkeys(item.what for item in document.active):
        items = [item for item in document.active if item.what == what]
        pages = sorted({item.page for item in items if item.page is not None})
        places = list(dict.fromkeys(item.where for item in items))
        yield Found(
            "active-content",
            pages[0] if pages else None,
            values={"what": what, "where": _list(places)},
            subject=what,
            details={"where": places} | ({"pages": pages} if pages else {}),
            count=len(items),
        )


def _foreign(document: DocumentFacts) -> Iterator[Found]:
    for what in dict.fromkeys(setting.what for setting in document.foreign_settings):
        pages = sorted({s.page for s in document.foreign_settings if s.what == what and s.page is not None})
        yield Found(
            "foreign-print-settings",
            pages[0] if pages else None,
            values={"what": what, "pages": _pages(pages) or "the file"},
            subject=what,
            mild=what in MILD_SETTINGS,
            details={"pages": pages} if pages else {},
            count=max(1, len(pages)),
        )


def _would_print(annotation: Annotation, page: Page) -> bool:
    if not annotation.prints or annotation.hidden or annotation.subtype in NO_MARK:
        return False
    return page.zone_mm is None or annotation.box_mm.intersect(page.zone_mm).area > 0.0


def _annotation(annotation: Annotation, page: Page) -> Found:
    what = "form field" if annotation.subtype == "Widget" else f"annotation ({annotation.subtype})"
    plates = "whether the plates include it could not be told"
    if annotation.on_plates is not None:
        plates = "the plates include it" if annotation.on_plates else "the plates leave it out, other readers may not"
    return Found(
        "annotation",
        page.number,
        box_mm=annotation.box_mm,
        values={"what": what, "plates": plates},
        subject=annotation.subtype,
        details={"on_plates": annotation.on_plates},
    )


def _list(words: list[str]) -> str:
    named = "; ".join(words[:MOST_NAMED])
    return named if len(words) <= MOST_NAMED else f"{named}; and {len(words) - MOST_NAMED} more"


def _pages(pages: list[int]) -> str:
    if not pages:
        return ""
    if len(pages) == 1:
        return f"page {pages[0]}"
    named = ", ".join(str(page) for page in pages[:MOST_NAMED])
    return f"pages {named}" + (f" and {len(pages) - MOST_NAMED} more" if len(pages) > MOST_NAMED else "")


CHECK = Check(
    name="file",
    limits=NoLimits,
    needs=frozenset({"document", "actions", "damage", "annotations"}),
    on_page=check_page,
    on_file=check_file,
    mild_kinds=frozenset({"repaired", "foreign-print-settings"}),
    kinds={
        "unreadable": Kind(
            Stage.INTAKE,
            "Cannot be read: {why}.",
            "Something in this file is missing or damaged, or it is not a kind of file we can print from. Please export it again as "
            "a print PDF, look through it, and send it once more.",
        ),
        "locked": Kind(
            Stage.INTAKE,
            "The file needs a password to open.",
            "This file is locked with a password. Please save it without one and send it again.",
        ),
        "restricted": Kind(
            Stage.INTAKE,
            "{what} is not permitted by the file's security settings.",
            "This file is protected against printing. Please save it without protection, or tell us that we may print it.",
        ),
        "repaired": Kind(
            Stage.INTAKE,
            "Had to be repaired to be read: {why}.",
            "This file was damaged and could only be read after a repair. Please check our proof with care, or export the file "
            "again and send it once more.",
        ),
        "active-content": Kind(
            Stage.INTAKE,
            "Active content, {what}: {where}.",
            "This file contains a script or an automatic action. It does not print; nothing needs to be done.",
        ),
        "attachment": Kind(
            Stage.INTAKE,
            "A file is attached: {name}.",
            "Another file is attached to this one. It is not printed; if it belongs to the job, please send it separately.",
        ),
        "annotation": Kind(
            Stage.PLATES,
            "A printing {what} lies on the page: {plates}.",
            "A note, stamp or form field lies on this page and would be printed with it. Please remove it, or tell us that it "
            "should be printed.",
        ),
        "preseparated": Kind(
            Stage.INTAKE,
            "Pages are single plates of a page (preseparated): {pages}.",
            "Each page of this file holds only one colour of the print. Please export the file in full colour (composite), with "
            "one page for each page of the job.",
        ),
        "foreign-print-settings": Kind(
            Stage.PLATES,
            "The file brings print settings of its own on {pages}: {what}.",
            "This file carries settings that would change how it prints on our machines. Please export it again as a print PDF "
            "with such settings left out.",
        ),
    },
)
