"""How much ink comes together in one place.

What it looks at
    The sum of all printing plates (process and spot inks; die, varnish, foil and other finishing plates not counted) inside trim
    and bleed, as overprint and transparency leave it on the plates.
Why it matters on press
    Too much ink does not dry: it sets off on the next sheet, smears in the folder, makes sheets stick, and shadows lose their drawing.
How it is measured
    The mean over a square of the measuring area (15 mm2: 23 x 23 pixels at 6 a millimetre), laid at every pixel, all four sides
    inside the bleed area; the place and the area in mm2 where such squares are over the limit. Tolerance 2 percent points. Single
    pixels and the ringing of JPEG pictures average out. Ink from RGB that was separated without the artwork's or the
    shop's press profile is an estimate, and the milder case of high.
What to ask the customer for
    The picture converted with the profile for this stock, or a lighter recipe for the black ground.
Source
    Profiles of coated stock reach 300 or 330 % exactly, and shops name 280 to 340 (printers' and profile makers' public pages);
    15 mm2 from memory of an industry recommendation; maximum over an area and not over pixels: measured on recompressed pictures.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage
from preflight.inventory.model import DocumentFacts, InkArea, Page
from preflight.ticket import Job


@dataclass(frozen=True)
class TotalInkLimits:
    """Sums over all printing inks in percent, and the area they are averaged over."""

    window_mm2: float
    high_above_percent: float
    near_above_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: TotalInkLimits) -> Iterator[Answer]:
    """Each area over the high limit, and each over the near limit that holds none of those."""
    if page.plates is None or page.trim_mm is None:
        yield NotJudged("total-ink", "the printed size is not known")
        return
    high = [area for area in page.plates.ink_areas if area.above_percent == limits.high_above_percent]
    for area in high:
        yield _found("high", page, area, mild=area.estimated)
    for area in page.plates.ink_areas:
        # The rim of a high place says nothing new: both cover its worst square.
        if area.above_percent == limits.near_above_percent and not any(_around(area, inner) for inner in high):
            yield _found("near", page, area)


def _around(area: InkArea, inner: InkArea) -> bool:
    return area.box_mm.contains(inner.box_mm, slack=0.2)


def _found(kind: str, page: Page, area: InkArea, *, mild: bool = False) -> Found:
    inks = sorted(area.inks_percent.items(), key=lambda item: -item[1])
    return Found(
        kind=kind,
        page=page.number,
        box_mm=area.box_mm,
        measured=area.worst_percent,
        limit=area.above_percent,
        unit="percent",
        worse="high",
        mild=mild,
        values={
            "area_mm2": f"{area.area_mm2:.0f}",
            "inks": " + ".join(f"{ink} {percent:.0f}" for ink, percent in inks),
            "estimate": " (estimated: RGB was separated without a press profile)" if area.estimated else "",
        },
        details={
            "area_mm2": round(area.area_mm2, 1),
            "worst_mm": area.worst_mm.rounded(),
            "inks_percent": {ink: round(percent, 1) for ink, percent in inks},
            "estimated": area.estimated,
        },
    )


CHECK = Check(
    name="total-ink",
    limits=TotalInkLimits,
    needs=frozenset({"boxes", "plates"}),
    on_page=check_page,
    mild_kinds=frozenset({"high"}),
    kinds={
        "high": Kind(
            Stage.PRESS,
            "Total ink reaches {measured} % ({inks}) and is over {limit} % on {area_mm2} mm²{estimate}.",
            "There is more ink here than this paper can take and dry. Please convert the picture with the colour profile we name for this "
            "paper, or use a lighter mix for the dark ground.",
        ),
        "near": Kind(
            Stage.PRESS,
            "Total ink reaches {measured} % ({inks}): over {limit} % on {area_mm2} mm², still under the stop limit{estimate}.",
            "The dark parts here carry a lot of ink. They can be printed; with a lighter mix they dry better.",
        ),
    },
)
