"""Bleed: whether ink that reaches the trim runs on past it, so that a cut a little off shows no paper.

What it looks at
    Each of the four edges of the trim on its own: whether ink of any printing plate reaches it, how far the page goes on past it
    (BleedBox, else media box), and how far the ink itself runs on, on the plates, position by position along the edge.
Why it matters on press
    Knives and folders are off by up to 0.8 mm and stacks creep. Where ink stops at the trim, white slivers show on the
    cut edge, often only after the whole run is trimmed.
How it is measured
    Ink is 2 % and more of a printing plate; finishing plates do not count. A missing or empty bleed is one under two thirds of the
    ordered one (3 mm: under 2 mm), a short one anything under it; tolerance 0.05 mm, one pixel is 0.17 mm. One finding an edge, the
    first that fits. Left alone: edges that no ink reaches, white ground, the slanted or round side of a shape that runs on far
    enough, white spots in a picture that runs on, type that crosses the trim, specks, and the spine of a saddle-stitched page. Ink in the
    page beyond a tight BleedBox counts as on offer and is the milder case.
What to ask the customer for
    Pictures and grounds that touch the page's edge pulled out past it by the ordered bleed, and bleed switched on when the PDF is saved.
Source
    3 mm or 1/8 in at each edge that bleeds, cutting accuracy about 0.8 mm, nothing at the spine of a stitched page (printers' public
    pages); two thirds as the stop limit is common practice; default of the boxes: ISO 32000-2, Table 31.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.edge_gaps import EdgeRules, Stretch, inked_stretches, short_stretches
from preflight.findings import Found, NotJudged, Stage
from preflight.inventory.model import DocumentFacts, Edge, EdgeInk, Page
from preflight.ticket import Job
from preflight.units import TOLERANCE_MM, Box, is_below

#: Under this share of the ordered bleed it is missing or empty, not merely short (contract: 2 mm of 3).
_STOP_SHARE = 2.0 / 3.0


@dataclass(frozen=True)
class BleedLimits:
    """The bleed ordered where no ticket says otherwise, and what is too small to count."""

    ordered_mm: float
    flat_end_mm: float
    ignore_narrower_mm: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: BleedLimits) -> Iterator[Answer]:
    """One answer at most for each edge."""
    if page.plates is None or page.trim_mm is None or page.bleed_mm is None or page.media_mm is None:
        yield NotJudged("bleed", "the printed size is not known")
        return
    if document.kind not in ("pdf", "unknown") and job.order.trim_mm is None:
        # A picture to be placed in somebody's layout: what lies past its edges is decided there.
        yield NotJudged("bleed", "a picture by itself, and no trim size ordered")
        return
    wanted_mm = job.bleed_mm
    if wanted_mm <= TOLERANCE_MM:
        return
    spine = job.order.spine_edge(page.number) if job.order.binding == "saddle-stitch" else None
    rules = EdgeRules(limits.flat_end_mm, limits.ignore_narrower_mm)
    for edge in page.plates.edges:
        # At the spine of a stitched booklet the picture goes on on the facing page; nothing is cut there.
        if edge.edge != spine:
            found = _judged(page, edge, wanted_mm, rules)
            if found is not None:
                yield found


def _judged(page: Page, edge: EdgeInk, wanted_mm: float, rules: EdgeRules) -> Found | None:
    inked = inked_stretches(edge, rules)
    if not inked:
        return None
    trim = page.trim_mm or (0.0, 0.0)
    stop_mm = _STOP_SHARE * wanted_mm
    boxed_mm, media_mm = _offered(page, edge.edge)
    by_limit = {limit: short_stretches(edge, limit, rules, page.painted, trim) for limit in (stop_mm, wanted_mm)}
    # Ink beyond a tight BleedBox is on offer as well, as far as it goes everywhere along the edge.
    least_mm = min((stretch.depth_mm for stretch in by_limit[wanted_mm]), default=wanted_mm)
    offered_mm = max(boxed_mm, min(media_mm, least_mm))
    for kind, limit_mm in (("missing", stop_mm), ("empty", stop_mm), ("short", wanted_mm)):
        if kind != "empty" and is_below(offered_mm, limit_mm, "mm"):
            return _found(kind, page, edge, inked, offered_mm, limit_mm, wanted_mm)
        if kind != "missing" and by_limit[limit_mm]:
            stretches = by_limit[limit_mm]
            depth_mm = min(stretch.depth_mm for stretch in stretches)
            return _found(kind, page, edge, stretches, depth_mm, limit_mm, wanted_mm)
    for kind, limit_mm in (("missing", stop_mm), ("short", wanted_mm)):
        if is_below(boxed_mm, limit_mm, "mm"):
            return _found(kind, page, edge, inked, boxed_mm, limit_mm, wanted_mm, mild=True)
    return None


def _offered(page: Page, edge: Edge) -> tuple[float, float]:
    """How far the page goes on past this edge: by its BleedBox (or media box without one), and by its media box alone."""
    media, trim = page.media_mm, page.trim_mm
    assert media is not None
    assert trim is not None
    assert page.bleed_mm is not None
    media_mm = dict(
        zip(
            ("left", "top", "right", "bottom"),
            (-media.x0, -media.y0, media.x1 - trim[0], media.y1 - trim[1]),
            strict=True,
        )
    )[edge]
    boxed_mm = dict(zip(("left", "top", "right", "bottom"), page.bleed_mm, strict=True))[edge]
    return max(0.0, min(boxed_mm, media_mm)), max(0.0, media_mm)


def _found(
    kind: str,
    page: Page,
    edge: EdgeInk,
    stretches: list[Stretch],
    measured_mm: float,
    limit_mm: float,
    wanted_mm: float,
    *,
    mild: bool = False,
) -> Found:
    length_mm = sum(stretch.length_mm for stretch in stretches)
    start_mm, end_mm = stretches[0].start_mm, stretches[-1].end_mm
    return Found(
        kind=kind,
        page=page.number,
        box_mm=_strip(page, edge.edge, start_mm, end_mm, wanted_mm),
        measured=measured_mm,
        limit=limit_mm,
        unit="mm",
        # Strips of two edges meet at a corner and stay two findings.
        subject=edge.edge,
        mild=mild,
        values={
            "edge": edge.edge,
            "wanted": f"{wanted_mm:g}",
            "length": f"{length_mm:.0f}" if length_mm >= 10.0 else f"{length_mm:.1f}",
            "beyond": "; ink in the page beyond the bleed box makes up for it" if mild else "",
        },
        details={
            "edge": edge.edge,
            "length_mm": round(length_mm, 1),
            "stretches_mm": [[round(stretch.start_mm, 1), round(stretch.end_mm, 1)] for stretch in stretches[:20]],
        },
    )


def _strip(page: Page, edge: Edge, start_mm: float, end_mm: float, wanted_mm: float) -> Box:
    """The strip of bleed along an edge, as long as what is concerned."""
    width, height = page.trim_mm or (0.0, 0.0)
    return {
        "left": Box(-wanted_mm, start_mm, 0.0, min(end_mm, height)),
        "right": Box(width, start_mm, width + wanted_mm, min(end_mm, height)),
        "top": Box(start_mm, -wanted_mm, min(end_mm, width), 0.0),
        "bottom": Box(start_mm, height, min(end_mm, width), height + wanted_mm),
    }[edge]


_ASK = (
    "A picture or coloured ground touches the {edge} edge of the page but does not go on far enough past it, so a thin white line may "
    "show after cutting. Please pull it out {wanted} mm beyond the edge in your layout program, and switch bleed on when you save the PDF."
)

_ASK_NOTHING = (
    "Nothing needs to change: colours go on past the {edge} edge of the page, only the file does not say so. If you make a new version "
    "anyway, please switch bleed on when you save the PDF."
)

CHECK = Check(
    name="bleed",
    limits=BleedLimits,
    needs=frozenset({"boxes", "plates"}),
    on_page=check_page,
    mild_kinds=frozenset({"missing", "short"}),
    kinds={
        "missing": Kind(
            Stage.BINDERY,
            "No bleed at the {edge} edge: ink reaches the trim along {length} mm and the page offers {measured} mm past it, "
            "under {limit} mm{beyond}.",
            _ASK,
            _ASK_NOTHING,
        ),
        "short": Kind(
            Stage.BINDERY,
            "Short bleed at the {edge} edge: {measured} mm along {length} mm, {limit} mm are ordered{beyond}.",
            "Pictures and grounds at the {edge} edge go on past the page's edge, but not the full {wanted} mm. Please pull them out "
            "a little further, and save the PDF with {wanted} mm of bleed.",
            _ASK_NOTHING,
        ),
        "empty": Kind(
            Stage.BINDERY,
            "Empty bleed at the {edge} edge: there is room past the trim, but ink stops after {measured} mm along {length} mm, "
            "under {limit} mm.",
            _ASK,
        ),
    },
)
