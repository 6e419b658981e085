"""Bar codes and matrix codes that a scanner may not read, or that are not the ones ordered.

What it looks at
    Every bar code (EAN, UPC, Interleaved 2 of 5, Code 128, Code 39) and matrix code (QR, Data Matrix) inside the trim, however it is
    drawn: paths, pictures, type, patterns. The numbers the ticket lists.
Why it matters on press
    A code that does not scan is found at the till or in the warehouse, and the whole run comes back. Small bars fill in with ink gain,
    type or an edge in the quiet zone hides the beginning, red bars are paper to a scanner's red light, and bars of several
    inks are blurred by the least misregister.
How it is measured
    On the plates redrawn at 24 pixels a millimetre, as red light sees them: black and cyan are dark; magenta, yellow and red are
    paper. X-dimension in mm over the whole symbol, tolerance 1 %; quiet zone in modules (left and right as the code is read) along the
    full height of the bars up to the next dark thing or the trim, tolerance a quarter of a module. Contrast is the
    difference of reflectance of ground and bars, paper 100. Inks by what bars have more than the ground. What has the shape
    of a code and does not decode is unreadable. Numbers compare without zeros in front.
What to ask the customer for
    The code made anew as a vector drawing, in black alone on white or a light, warm ground, at 80 % of its nominal size or larger,
    with its margins kept free.
Source
    X-dimensions and quiet zones: GS1 size guide and GS1 General Specifications; quiet zone and module of QR: its inventor's public
    pages, ISO/IEC 18004. Colours: GS1 colour guides (public pages); contrast and reflectance: ISO/IEC 15416, from
    memory. One ink, solid: common practice. Code 39, Data Matrix: ISO/IEC 16388, 16022, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage
from preflight.inventory.model import BarcodeSeen, DocumentFacts, Inventory, Page
from preflight.product_numbers import mean_the_same
from preflight.ticket import Job

#: What two edges, each placed to half a pixel, may be off: of the module, and of a quiet zone in modules.
TOLERANCE_X = 0.01
TOLERANCE_MODULES = 0.25

_RETAIL = ("EAN-13", "EAN-8", "UPC-A", "UPC-E")
_QR = ("QR Code", "Micro QR Code")
_MATRIX = (*_QR, "Data Matrix")
_SIDES_OF_A_SQUARE = ("left", "top", "right", "bottom", "corners")


@dataclass(frozen=True)
class BarcodeLimits:
    """X-dimensions in mm; quiet zones in modules, left and right as the code is read; contrast and ink in percent."""

    retail_x_below_mm: float
    itf_x_below_mm: float
    code_128_x_below_mm: float
    code_39_x_below_mm: float
    qr_x_below_mm: float
    data_matrix_x_below_mm: float
    ean_13_quiet_modules: tuple[float, float]
    ean_8_quiet_modules: tuple[float, float]
    upc_a_quiet_modules: tuple[float, float]
    upc_e_quiet_modules: tuple[float, float]
    itf_quiet_modules: tuple[float, float]
    code_128_quiet_modules: tuple[float, float]
    code_39_quiet_modules: tuple[float, float]
    qr_quiet_modules: float
    micro_qr_quiet_modules: float
    data_matrix_quiet_modules: float
    contrast_below_percent: float
    bar_of_ground_above_percent: float
    solid_from_percent: float
    ink_counts_from_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: BarcodeLimits) -> Iterator[Answer]:
    """Judges each code of a page."""
    for code in page.barcodes:
        yield from _too_small(page, code, limits)
        yield from _quiet_zone(page, code, limits)
        yield from _colour(page, code, limits)
        yield from _unreadable(page, code, job)


def _found(
    kind: str,
    page: Page,
    code: BarcodeSeen,
    measured: float | None = None,
    limit: float | None = None,
    unit: str | None = None,
    **more: Any,
) -> Found:
    details = {
        "symbology": code.symbology,
        "text": code.text,
        "x_dimension_mm": _rounded(code.x_dimension_mm, 4),
        "quiet_modules": {side: round(value, 2) for side, value in code.quiet_modules.items()},
        "height_mm": _rounded(code.height_mm, 2),
        "inks_percent": dict(code.inks_percent),
    }
    return Found(
        kind=kind,
        page=page.number,
        box_mm=code.box_mm,
        measured=measured,
        limit=limit,
        unit=unit,
        subject=f"{code.symbology} {code.text}" if code.text else code.symbology,
        values={"code": _named(code), "which": _which(code)} | more.pop("values", {}),
        details=details | more,
    )


def _named(code: BarcodeSeen) -> str:
    name = f"bar code {code.symbology}" if code.fault == "font" else code.symbology
    name += "" if "ode" in name else " code"
    text = code.text or ""
    return f"{name} {text if len(text) <= 60 else text[:57] + '...'}".strip()


def _which(code: BarcodeSeen) -> str:
    """What the customer calls it."""
    name = code.symbology if code.symbology in _MATRIX else "bar code"
    text = code.text or ""
    return f"{name} {text if len(text) <= 60 else text[:57] + '...'}".strip()


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


# --- size and margins ------------------------------------------------------------------------------------------------


def _x_limit(code: BarcodeSeen, limits: BarcodeLimits) -> float | None:
    if code.symbology in _RETAIL:
        return limits.retail_x_below_mm
    if code.symbology in _QR:
        return limits.qr_x_below_mm
    return {
        "ITF": limits.itf_x_below_mm,
        "Code 128": limits.code_128_x_below_mm,
        "Code 39": limits.code_39_x_below_mm,
        "Data Matrix": limits.data_matrix_x_below_mm,
    }.get(code.symbology)


def _too_small(page: Page, code: BarcodeSeen, limits: BarcodeLimits) -> Iterator[Found]:
    limit = _x_limit(code, limits)
    if limit is None or code.x_dimension_mm is None or code.x_dimension_mm >= limit * (1.0 - TOLERANCE_X):
        return
    yield _found(
        "too-small",
        page,
        code,
        code.x_dimension_mm,
        limit,
        "mm",
        values={"x": f"{code.x_dimension_mm:.3f}", "least": f"{limit:g}"},
    )


def _quiet_limits(code: BarcodeSeen, limits: BarcodeLimits) -> dict[str, float]:
    """What has to be clear, by side."""
    pairs = {
        "EAN-13": limits.ean_13_quiet_modules,
        "EAN-8": limits.ean_8_quiet_modules,
        "UPC-A": limits.upc_a_quiet_modules,
        "UPC-E": limits.upc_e_quiet_modules,
        "ITF": limits.itf_quiet_modules,
        "Code 128": limits.code_128_quiet_modules,
        "Code 39": limits.code_39_quiet_modules,
    }
    if code.symbology in pairs:
        return dict(zip(("left", "right"), pairs[code.symbology], strict=True))
    around = {
        "QR Code": limits.qr_quiet_modules,
        "Micro QR Code": limits.micro_qr_quiet_modules,
        "Data Matrix": limits.data_matrix_quiet_modules,
    }
    return dict.fromkeys(_SIDES_OF_A_SQUARE, around[code.symbology]) if code.symbology in around else {}


def _quiet_zone(page: Page, code: BarcodeSeen, limits: BarcodeLimits) -> Iterator[Found]:
    """One finding for a code, at the side that lacks most."""
    lacking = {}
    for side, wanted in _quiet_limits(code, limits).items():
        clear = code.quiet_modules.get(side)
        if clear is not None and clear < wanted - TOLERANCE_MODULES:
            lacking[side] = (clear, wanted)
    if not lacking:
        return
    worst = max(lacking, key=lambda side: lacking[side][1] - lacking[side][0])
    clear, wanted = lacking[worst]
    where = (
        "at a corner" if worst == "corners" else f"on the {worst}" if worst in ("left", "right") else f"at the {worst}"
    )
    yield _found(
        "quiet-zone",
        page,
        code,
        clear,
        wanted,
        "modules",
        values={"where": where},
        sides=sorted(lacking),
        wanted_modules={side: pair[1] for side, pair in lacking.items()},
    )


# --- colour ----------------------------------------------------------------------------------------------------------


def _colour(page: Page, code: BarcodeSeen, limits: BarcodeLimits) -> Iterator[Found]:
    """One finding for a code, with every reason; contrast is measured where red light is the reason."""
    reasons = []
    contrast: float | None = None
    bar, ground = code.reflectance_bar, code.reflectance_ground
    if code.reversed_out:
        reasons.append("its bars are lighter than the ground between them")
    elif bar is not None and ground is not None:
        percent = 100.0 * (ground - bar)
        low = percent < limits.contrast_below_percent
        if low or bar > ground * limits.bar_of_ground_above_percent / 100.0:
            contrast = percent
            reasons.append(f"under a scanner's red light bars and ground differ by {max(0.0, percent):.0f} of 100")
    inks = {ink: tint for ink, tint in code.inks_percent.items() if tint >= limits.ink_counts_from_percent}
    if len(inks) > 1:
        reasons.append(f"its bars are made of several inks ({', '.join(inks)})")
    elif inks and max(inks.values()) < limits.solid_from_percent and not code.reversed_out:
        ink, tint = next(iter(inks.items()))
        reasons.append(f"its bars are a tint ({ink} {tint:.0f} %), which is screened")
    if not reasons:
        return
    yield _found(
        "colour",
        page,
        code,
        contrast,
        limits.contrast_below_percent if contrast is not None else None,
        "percent" if contrast is not None else None,
        values={"reasons": "; ".join(reasons)},
        reasons=reasons,
        reversed=code.reversed_out,
        reflectance_bar=_rounded(bar, 3),
        reflectance_ground=_rounded(ground, 3),
    )


# --- content ---------------------------------------------------------------------------------------------------------


def _unreadable(page: Page, code: BarcodeSeen, job: Job) -> Iterator[Found]:
    why = ""
    if code.fault == "check digit" or code.check_digit_ok is False:
        why = "its check digit is wrong"
    elif code.fault == "font":
        why = "type set in it shows no bar code"
    elif not code.decoded:
        why = "it has the shape of a code and cannot be decoded"
    elif code.text and job.order.barcodes and not any(mean_the_same(code.text, one) for one in job.order.barcodes):
        why = f"it is not among the codes ordered ({', '.join(job.order.barcodes[:4])})"
    if why:
        yield _found("unreadable", page, code, values={"what": f"The {_named(code)}: {why}."}, why=why)


def check_file(inventory: Inventory, job: Job, limits: BarcodeLimits) -> Iterator[Answer]:
    """Looks for each ordered number on all pages."""
    if not job.order.barcodes:
        yield NotJudged("barcode", "no codes ordered: whether the right ones are there is not judged")
        return
    pages = inventory.pages
    if inventory.missing or not pages or any(page.barcodes_undecoded is None for page in pages):
        return  # what a page not read may carry is not missing; the page itself is reported
    texts = [text for page in pages for text in page.barcodes]
    missing = [one for one in job.order.barcodes if not any(mean_the_same(one, text) for text in texts)]
    # A code that cannot be read may be the one that is missing, and is told on its page.
    unread = sum(page.barcodes_undecoded or 0 for page in pages)
    if len(missing) <= unread:
        return
    for one in missing:
        yield Found(
            kind="unreadable",
            page=None,
            subject=one,
            groups=False,
            values={"what": f"The ordered code {one} is nowhere in the file.", "code": one},
            details={"text": one, "why": "nowhere in the file", "found": texts[:20]},
        )


CHECK = Check(
    name="barcode",
    limits=BarcodeLimits,
    needs=frozenset({"barcodes"}),
    on_page=check_page,
    on_file=check_file,
    kinds={
        "too-small": Kind(
            Stage.PRESS,
            "{code}: a module is {x} mm wide; the least is {least} mm.",
            "The {which} is too small to be scanned reliably. Please make it larger, in both directions, or create it anew "
            "at its proper size.",
        ),
        "quiet-zone": Kind(
            Stage.PRESS,
            "{code}: clear for {measured} modules {where}; {limit} are asked for.",
            "Something stands too near to the {which}, or it stands too near to the edge. Please keep the light margin "
            "beside it free, or scanners will not find where it begins.",
        ),
        "colour": Kind(
            Stage.PRESS,
            "{code}: {reasons}.",
            "The {which} may not be readable in the colours it has. Please set it in black alone on a white or light ground.",
        ),
        "unreadable": Kind(
            Stage.PRESS,
            "{what}",
            "A bar code needs a look: {what} Please send the right code, made anew as a vector drawing, or tell us which number "
            "is meant.",
        ),
    },
)
