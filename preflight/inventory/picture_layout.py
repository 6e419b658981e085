"""At what size a supplied picture prints, and where the cut lies in it.

The order decides: the picture fills the printed size (or the trim) that was ordered, in the orientation that is the picture's own; it may be
larger by an even bleed all round. Whether it is, its own size says, or else its proportions. A picture whose proportions fit
neither keeps its own size (or covers the ordered one), so that the wrong size is seen. Without an order its own size counts:
pixels over the tagged resolution; no tag, or the 72 and 96 that programs write when they do not know, say nothing. Millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

from preflight.inventory.boxes import EVEN_WITHIN_MM, LEAST_MARGIN_MM, MOST_MARGIN_MM
from preflight.ticket import Job
from preflight.units import MM_PER_INCH

#: Resolutions that programs write when they know none.
UNTELLING_PPI = (72.0, 96.0)
#: At which a picture of unknown size is drawn, to look at its pixels.
DRAWN_AT_PPI = 72.0
_PPI_WITHIN = 0.5


@dataclass(frozen=True)
class PlacedPicture:
    """A picture's size on its page and the even margin past the trim; ``size_from``: ``ticket``, ``image`` or ``unknown``."""

    width_mm: float
    height_mm: float
    margin_mm: float = 0.0
    size_from: str = "image"


def tells(ppi: float | None) -> bool:
    """Whether a tagged resolution says anything about the size."""
    return ppi is not None and all(abs(ppi - usual) >= _PPI_WITHIN for usual in UNTELLING_PPI)


def place_picture(width_px: int, height_px: int, x_ppi: float | None, y_ppi: float | None, job: Job) -> PlacedPicture:
    """Where a picture of so many pixels (after its orientation) prints."""
    own = None
    if x_ppi is not None and y_ppi is not None and (tells(x_ppi) or tells(y_ppi)):
        own = width_px * MM_PER_INCH / x_ppi, height_px * MM_PER_INCH / y_ppi
    ordered = job.order.printed_size_mm or job.order.trim_mm
    if ordered is None:
        if own is not None:
            return PlacedPicture(*own)
        width, height = (px * MM_PER_INCH / DRAWN_AT_PPI for px in (width_px, height_px))
        return PlacedPicture(width, height, size_from="unknown")
    lies = (width_px > height_px) != (ordered[0] > ordered[1]) and width_px != height_px
    width, height = ordered[::-1] if lies else ordered
    margin = _own_margin(own, (width, height))
    if margin is not None:
        return PlacedPicture(width + 2.0 * margin, height + 2.0 * margin, margin, "ticket")
    margin = _margin_by_proportion(width_px, height_px, (width, height), job.bleed_mm)
    if margin is not None:
        return PlacedPicture(width + 2.0 * margin, height + 2.0 * margin, margin, "ticket")
    if own is not None:
        return PlacedPicture(*own)
    scale = max(width / width_px, height / height_px)
    return PlacedPicture(width_px * scale, height_px * scale, size_from="ticket")


def _own_margin(own: tuple[float, float] | None, ordered: tuple[float, float]) -> float | None:
    """The even margin by which the picture's own size is larger than the ordered one (0: it is that size)."""
    if own is None:
        return None
    over = tuple(size - wanted for size, wanted in zip(own, ordered, strict=True))
    if max(abs(side) for side in over) <= EVEN_WITHIN_MM:
        return 0.0
    margins = tuple(side / 2.0 for side in over)
    if abs(margins[0] - margins[1]) > EVEN_WITHIN_MM:
        return None
    margin = sum(margins) / 2.0
    least, most = LEAST_MARGIN_MM - EVEN_WITHIN_MM, MOST_MARGIN_MM + EVEN_WITHIN_MM
    return margin if least <= margin <= most else None


def _margin_by_proportion(width_px: int, height_px: int, ordered: tuple[float, float], bleed_mm: float) -> float | None:
    """Nothing, or the ordered bleed: whichever gives the picture its own proportions, to half a millimetre or a pixel."""
    misses = {}
    for margin in (0.0, bleed_mm):
        width, height = (side + 2.0 * margin for side in ordered)
        miss = abs(width - height * width_px / height_px)
        if miss <= max(EVEN_WITHIN_MM, width / width_px, height / height_px):
            misses[margin] = miss
    return min(misses, key=lambda margin: misses[margin]) if misses else None
