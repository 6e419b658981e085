"""Whether every font that shows brings its letters along, and whether these are good enough for plates.

What it looks at
    Fonts that set something visible: fill or stroke with ink inside the bleed area, in the page itself, in forms, patterns and printing
    annotations. Their font programs; bitmaps in Type 3 glyphs; signs that the font does not hold.
Why it matters on press
    Without its program a font is replaced by another one: other shapes, other line breaks, missing signs. Bitmap letters made for a
    screen or an office printer have ragged edges on a plate.
How it is measured
    A font is embedded when a font program hangs on its descriptor (for composite fonts on the descendant's); Type 3 fonts are their own.
    Bitmap glyphs: pixels over printed length, the worst axis, tolerance 0.5 ppi. Left alone: fonts that are listed and not used,
    invisible text (as under scans), fonts that set spaces only, Type 3 fonts drawn as outlines, text turned into outlines.
What to ask the customer for
    The PDF exported with all fonts embedded, or the text turned into outlines.
Source
    ISO 32000-2, 9.9 and Table 120; all fonts embedded, the base 14 included, is asked by PDF/X (ISO 15930, all parts) and by
    printers' public pages; 600 ppi is the least for line art on printers' public pages.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage, Unchecked
from preflight.inventory.model import DocumentFacts, FontFact, Page
from preflight.ticket import Job
from preflight.units import is_below


@dataclass(frozen=True)
class FontLimits:
    """The least resolution of letters made of pixels, in ppi at the printed size."""

    bitmap_low_below_ppi: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: FontLimits) -> Iterator[Answer]:
    """Judges each font that shows on the page."""
    for font in page.fonts:
        if font.used_visibly is not False:
            yield from _judged(font, page, limits)


def _judged(font: FontFact, page: Page, limits: FontLimits) -> Iterator[Answer]:
    if font.used_visibly is None:
        yield Unchecked("font", page.number, f"whether the font {font.name} shows could not be told")
        return
    if font.embedded is None:
        name = font.name or "without a name"
        yield Unchecked("font", page.number, f"whether the font {name} is embedded could not be told")
    elif not font.embedded and not font.program_lost:
        yield _found("not-embedded", font, page)
    if font.faulty:
        yield _found("faulty", font, page, why=font.faulty)
    elif font.notdef_shown:
        signs = "1 sign is shown that" if font.notdef_shown == 1 else f"{font.notdef_shown} signs are shown that"
        yield _found("faulty", font, page, why=f"{signs} it does not hold (.notdef)", missing=font.notdef_shown)
    if font.bitmap_ppi is not None and is_below(font.bitmap_ppi, limits.bitmap_low_below_ppi, "ppi"):
        yield _found("type3-bitmap", font, page, ppi=font.bitmap_ppi, limit=limits.bitmap_low_below_ppi)


def _found(
    kind: str,
    font: FontFact,
    page: Page,
    *,
    why: str = "",
    missing: int = 0,
    ppi: float | None = None,
    limit: float | None = None,
) -> Found:
    return Found(
        kind,
        page.number,
        box_mm=font.box_mm,
        measured=ppi,
        limit=limit,
        unit="ppi" if ppi is not None else None,
        values={"font": font.name or "without a name", "type": font.kind, "why": why},
        subject=font.name,
        once_a_file=kind == "not-embedded",
        source=f"{font.name} {font.object_number}",
        details={"font": font.name, "type": font.kind} | ({"missing_signs": missing} if missing else {}),
    )


CHECK = Check(
    name="font",
    limits=FontLimits,
    needs=frozenset({"fonts", "paint"}),
    on_page=check_page,
    kinds={
        "not-embedded": Kind(
            Stage.PLATES,
            "The font {font} ({type}) is used and not embedded.",
            "The typeface {font} is not included in the file, so our machines would replace it with another one. Please switch on "
            "'embed all fonts' when saving the PDF, or turn the text into outlines.",
        ),
        "type3-bitmap": Kind(
            Stage.PLATES,
            "Letters of the font {font} are bitmaps of {measured} ppi; edges show stairs below {limit} ppi.",
            "Some letters in this file are made of coarse dots and will look ragged in print. Please export the PDF again with real "
            "typefaces instead of bitmap fonts.",
        ),
        "faulty": Kind(
            Stage.PLATES,
            "The font {font} ({type}) is faulty: {why}.",
            "Letters in the typeface {font} are damaged or missing. Please check the text on this page for boxes or gaps, then save the "
            "PDF again, if need be with another typeface.",
        ),
    },
)
