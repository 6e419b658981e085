"""Whether a file that says it is PDF/X keeps what it promises.

What it looks at
    Only files that say they are PDF/X-1a (2001, 2003), PDF/X-3 (2002, 2003), PDF/X-4 or PDF/X-6: encryption, scripts and actions, annotations and
    form fields, layers, attachments, transparency and blend spaces, transfer curves, halftones, PostScript, OPI, external
    content, compression, file structure, preseparated pages, trapped state, title, dates, identifier, metadata, version, output intent and its
    profile, page boxes, fonts, colours, profiles, bits of pictures. No claim, nothing said.
Why it matters on press
    A claim lets the work pass without a second look: colours that are not for the press, a missing font or a stand-in picture then come
    out on the plates.
How it is measured
    Each requirement of the part is held against what the pages use and the file holds; a broken one is one finding, with its clause and
    all places. Boxes within 0.05 mm; nothing else is measured in figures. A header alone that names another 1.x version breaks
    nothing. Not examined: rules for the default configuration of layers; rendering intents; alternate images; viewer preferences; the finer
    rules of fonts (widths, encodings, subsets); the number of colorants and the attributes of DeviceN; one recipe for one spot
    colour (told by `colour.spot-recipes-differ`); black generation and undercolour removal; document, version and rendition identifiers in
    the metadata; the reference to a profile outside the file; CMYK given through the very profile of the printing condition; actions of bookmarks and links that only go to a place. PDF/X-1, X-2
    and X-5 are not held against.
What to ask the customer for
    The file exported anew with the PDF/X setting of the program, or word that it may be used as it is.
Source
    ISO 15930-1:2001, -3:2002, -4:2003, -6:2003, -7:2010, -9:2020: the texts are sold, so requirements are from memory and clauses are named by
    subject; page boxes as in the application notes on PDF/X (read), transparency, layers and colours of PDF/X-4 from the scope
    of part 7 (read); keys from ISO 32000-2 (Tables 22, 31, 57, 87, 127, 145, 167, 401).
"""

from __future__ import annotations

from collections.abc import Iterator

from preflight.checking import Answer, Check, Kind, NoLimits
from preflight.findings import Found, NotJudged, Stage, Unchecked
from preflight.inventory.model import DocumentFacts, Inventory, Page
from preflight.pdfx import NOT_EXAMINED, Requirement, requirements_of
from preflight.pdfx_claimed import Break, Claimed, pages_of
from preflight.pdfx_parts import Part, is_other_part, part_of
from preflight.ticket import Job
from preflight.units import Box

NAME = "standard"
PAGE_FACTS = ("boxes", "paint", "fonts", "claim")
#: How many breaks are named in a message, and kept in the details.
MOST_NAMED = 4
MOST_PLACES = 50


def check_page(page: Page, document: DocumentFacts, job: Job, limits: NoLimits) -> Iterator[Answer]:
    """Says what of a page could not be held against the claim; what it shows is judged with the whole file."""
    if document.claim.claim is None or document.kind != "pdf":
        return
    for fact in PAGE_FACTS:
        if fact in page.unknown:
            yield Unchecked(NAME, page.number, page.unknown[fact])
    for font in page.fonts:
        if font.used_visibly and font.embedded is None:
            yield Unchecked(NAME, page.number, f"whether the font {font.name} is embedded could not be told")


def check_file(inventory: Inventory, job: Job, limits: NoLimits) -> Iterator[Answer]:
    """Holds the file against each requirement of the part that it claims."""
    document = inventory.document
    claim = document.claim
    if claim.claim is None or document.kind != "pdf":
        return
    part = part_of(claim)
    if part is None:
        if is_other_part(claim):
            yield NotJudged(NAME, f"the file says it is {claim.claim}: that part of PDF/X is not held against")
        else:
            yield _unknown_claim(claim.claim)
        return
    file = Claimed(inventory, part)
    for requirement in requirements_of(part):
        missing = [why for fact in requirement.needs if (why := document.unknown.get(fact) or claim.details.get(fact))]
        if missing:
            yield Unchecked(NAME, None, f"{part.name}, {requirement.key}: {missing[0]}")
            continue
        found = list(requirement.broken_by(file))
        if found:
            yield _broken(requirement, part, found)
    yield NotJudged(NAME, f"of {part.name} these are not examined: {'; '.join(NOT_EXAMINED)}")


def _broken(requirement: Requirement, part: Part, found: list[Break]) -> Found:
    pages = pages_of(found)
    first = pages[0] if pages else None
    clause = requirement.clause_of(part)
    return Found(
        kind="claim-broken",
        page=first,
        box_mm=_around(found, first),
        subject=requirement.key,
        groups=False,
        count=len(found),
        values={"claim": part.name, "clause": clause, "asks": requirement.asks, "found": _list(found)},
        details={
            "requirement": requirement.key,
            "claim": part.name,
            "clause": clause,
            "looked_at": requirement.looked_at,
            "places": [_place(each) for each in found[:MOST_PLACES]],
        }
        | ({"pages": pages} if pages else {}),
    )


def _unknown_claim(claim: str) -> Found:
    return Found(
        kind="claim-broken",
        page=None,
        subject="identification",
        values={
            "claim": claim,
            "clause": "ISO 15930, identification of the file",
            "asks": "the version is one that a part of PDF/X has",
            "found": f"the version {claim}",
        },
        details={"requirement": "identification", "claim": claim, "clause": "ISO 15930, identification of the file"},
    )


def _around(found: list[Break], page: int | None) -> Box | None:
    """The box around what lies on the first page concerned."""
    boxes = [each.box_mm for each in found if each.page == page and each.box_mm is not None]
    if page is None or not boxes:
        return None
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole


def _place(each: Break) -> dict[str, object]:
    place: dict[str, object] = {"what": each.words}
    if each.page is not None:
        place["page"] = each.page
    if each.object_number is not None:
        place["object"] = each.object_number
    if each.box_mm is not None:
        place["box_mm"] = each.box_mm.rounded()
    return place


def _list(found: list[Break]) -> str:
    """What was found, each thing once with its pages."""
    pages: dict[str, list[int]] = {}
    for each in found:
        pages.setdefault(each.words, []).extend([each.page] if each.page is not None else [])
    named = [words + _on_pages(sorted(set(numbers))) for words, numbers in pages.items()]
    more = len(named) - MOST_NAMED
    return "; ".join(named[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")


def _on_pages(pages: list[int]) -> str:
    if not pages:
        return ""
    shown = ", ".join(str(page) for page in pages[:5]) + (" and more" if len(pages) > 5 else "")
    return f" on page {shown}" if len(pages) == 1 else f" on pages {shown}"


CHECK = Check(
    name=NAME,
    limits=NoLimits,
    needs=frozenset({"claim"}),
    on_page=check_page,
    on_file=check_file,
    kinds={
        "claim-broken": Kind(
            Stage.INTAKE,
            "The file says it is {claim} and breaks it: {asks} ({clause}). Found: {found}.",
            "This file says that it keeps to a print standard (PDF/X), but not everything in it does. Please export the PDF again with "
            "your program's PDF/X setting, or tell us that we may use it as it is.",
        ),
    },
)
