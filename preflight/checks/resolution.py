"""Resolution of pictures at the size they print.

What it looks at
    Every visible placement of a picture, a 1-bit picture or a stencil, with its soft mask, through nesting, rotation, skew,
    patterns and user unit.
Why it matters on press
    Below about one and a half pixels to a screen row a picture turns soft or blocky; line art shows stairs. Nothing on press
    brings the detail back.
How it is measured
    Pixels over placed length along the picture's own two axes; the worse axis counts (72 x pixels / (length of the axis in
    points)). Tolerance 0.5 ppi. Left alone: placed under the small size on both sides (unless it touches others, as tiles of one
    picture do), clipped away, covered, flat colour, masks of one tone, stencils of upright rectangles; and the axis along which
    nothing changes, as in strips that fade. Strips of one picture are one finding.
What to ask the customer for
    The original photo at its full size, or the picture smaller on the page. Raising the number in a picture program does not help.
Source
    s = 2 x l x f and the range of quality factors 1.5 to 2 (university course page, newspaper scanning guide); line art 600 to
    1200 ppi (printers' public pages); the small size is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.clusters import touching
from preflight.findings import Found, NotJudged, Severity, Stage, Unchecked
from preflight.inventory.model import DocumentFacts, ImageUse, Page, Painted
from preflight.ticket import Job
from preflight.units import is_above, is_below


@dataclass(frozen=True)
class ResolutionLimits:
    """Limits in ppi at the printed size."""

    low_below_ppi: float
    soft_below_ppi: float
    excessive_above_ppi: float
    excessive_above_bytes: int
    line_art_low_below_ppi: float
    line_art_soft_below_ppi: float
    ignore_smaller_mm: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: ResolutionLimits) -> Iterator[Answer]:
    """Judges each visible placement by its worse axis."""
    if page.trim_mm is None:
        # Whoever answers ``image.unknown-size`` settles this one, too.
        why = "the printed size is not known: no resolution tag, and no size ordered"
        asked = job.severity_of("image", "unknown-size") is not Severity.OFF
        yield NotJudged("resolution", why) if asked else Unchecked("resolution", page.number, why)
        return
    pictures = [thing for thing in page.painted if _is_picture(thing)]
    for thing in _large_enough(pictures, limits.ignore_smaller_mm):
        if thing.image is not None:
            yield from _judged(page, thing, thing.image, limits)


def _is_picture(thing: Painted) -> bool:
    if thing.image is None or thing.kind not in ("image", "image-mask"):
        return False
    return thing.is_visible and min(thing.image.placed_mm) > 0.0


def _large_enough(pictures: list[Painted], smallest_mm: float) -> list[Painted]:
    """Without the small ones; but tiles of a larger picture, which touch each other, are not small. Letters are no tiles."""
    small = [thing for thing in pictures if thing.image and max(thing.image.placed_mm) < smallest_mm]
    if not small:
        return pictures
    tiles: set[int] = set()
    candidates = [thing for thing in pictures if "type3" not in thing.inside and thing.visible_mm is not None]
    boxes = [thing.visible_mm for thing in candidates if thing.visible_mm is not None]
    for group in touching(boxes):
        if len(group) > 1:
            whole = boxes[group[0]]
            for member in group:
                whole = whole.union(boxes[member])
            if max(whole.width, whole.height) >= smallest_mm:
                tiles.update(candidates[member].order for member in group)
    alone = {thing.order for thing in small} - tiles
    return [thing for thing in pictures if thing.order not in alone]


def _judged(page: Page, thing: Painted, image: ImageUse, limits: ResolutionLimits) -> Iterator[Answer]:
    ppi = _worse((image.x_ppi, image.y_ppi), image.same_along)
    of_mask = False
    if image.mask_ppi and image.mask_px and not image.mask_plain:
        mask_ppi = _worse(image.mask_ppi, image.mask_same_along)
        # A flat or much coarser base under a mask: the detail is in the mask (common in compressed scans).
        of_mask = mask_ppi < ppi or bool(image.flat) or image.width_px * 8 <= image.mask_px[0]
        ppi = mask_ppi if of_mask else ppi
    line_art = (image.mask_bits == 1) if of_mask else image.bits == 1
    if image.only_rectangles or (image.flat and not of_mask):
        return
    if line_art:
        ladder = (("line-art-low", limits.line_art_low_below_ppi), ("line-art-soft", limits.line_art_soft_below_ppi))
    else:
        ladder = (("low", limits.low_below_ppi), ("soft", limits.soft_below_ppi))
    for kind, limit in ladder:
        if is_below(ppi, limit, "ppi"):
            yield _found(kind, page, thing, image, ppi, limit, of_mask=of_mask)
            return
    large = (image.stored_bytes or 0) > limits.excessive_above_bytes
    if not line_art and large and is_above(ppi, limits.excessive_above_ppi, "ppi"):
        yield _found("excessive", page, thing, image, ppi, limits.excessive_above_ppi, of_mask=of_mask)


def _worse(ppi: tuple[float, float], same_along: str | None) -> float:
    """Of the two axes; one along which nothing changes shows no pixels."""
    x_ppi, y_ppi = ppi
    return {"x": y_ppi, "y": x_ppi}.get(same_along or "", min(x_ppi, y_ppi))


def _found(kind: str, page: Page, thing: Painted, image: ImageUse, ppi: float, limit: float, *, of_mask: bool) -> Found:
    return Found(
        kind=kind,
        page=page.number,
        box_mm=thing.visible_mm,
        measured=ppi,
        limit=limit,
        unit="ppi",
        source=thing.object_key,
        worse="high" if kind == "excessive" else "low",
        values={"part": "transparency mask" if of_mask else "picture"},
        details={
            "x_ppi": round(image.x_ppi, 1),
            "y_ppi": round(image.y_ppi, 1),
            "pixels": [image.width_px, image.height_px],
            "placed_mm": [round(side, 2) for side in image.placed_mm],
            "mask": of_mask,
            "inside": list(thing.inside),
        },
    )


CHECK = Check(
    name="resolution",
    limits=ResolutionLimits,
    needs=frozenset({"paint"}),
    on_page=check_page,
    kinds={
        "low": Kind(
            Stage.PLATES,
            "The {part} prints at {measured} ppi; the least for this screen ruling is {limit} ppi.",
            "This picture is too small for the size it is printed at and will look blocky. Please put in the original photo "
            "at its full size, or make the picture smaller on the page.",
        ),
        "soft": Kind(
            Stage.PLATES,
            "The {part} prints at {measured} ppi; {limit} ppi and more hold fine detail.",
            "This picture is a little too small for the size it is printed at and may look soft. If you have a larger "
            "original, please use it; else tell us that it may print as it is.",
        ),
        "excessive": Kind(
            Stage.INTAKE,
            "The {part} has {measured} ppi, over {limit} ppi: no gain in print, only a larger file.",
            "This picture has more detail than print can show. Nothing needs to be done.",
        ),
        "line-art-low": Kind(
            Stage.PLATES,
            "Line art of one bit prints at {measured} ppi; edges show stairs below {limit} ppi.",
            "This drawing or logo is made of coarse dots and its edges will look ragged. Please send it as a vector file, or "
            "scan it again at 1200 dots an inch.",
        ),
        "line-art-soft": Kind(
            Stage.PLATES,
            "Line art of one bit prints at {measured} ppi; {limit} ppi and more give clean edges.",
            "The edges of this drawing or logo may look slightly ragged. A vector file, or a scan at 1200 dots an inch, "
            "prints cleaner. Please send one if you have it, or tell us that this one may print.",
        ),
    },
)
