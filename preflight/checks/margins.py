"""Text and small things too close to the cut or to the glued spine, and thin frames along the trim.

What it looks at
    Visible text and small things (under 20 mm both ways) inside the trim; text along the spine of a perfect-bound book; thin
    frames that run parallel to the trim all round, drawn as one rectangle, as four lines or bars, or as one area on another.
Why it matters on press
    The guillotine cuts to about 0.8 mm: what stands closer to the trim than the safety is cut off on some copies, and a frame
    there comes out wider on one side than on the other. The glue of a perfect-bound spine swallows the inner margin.
How it is measured
    From the trim to the nearest edge of the thing's own ink box, in millimetres, tolerance 0.05 mm. Left alone: what runs through the
    trim line (it is meant to be cut), what lies outside, white on paper, finishing inks, small pieces that touch one
    another and together form something large or something that runs through the trim. A frame is thin lines or bars on all
    four sides, each along most of its side; rules on one, two or three sides are no frame.
What to ask the customer for
    Text and logos moved inwards; the frame left out, or moved inwards.
Source
    3 mm or 1/8 in of safety inside the trim (printers' public pages); 3/8 in from a glued spine (printer's public page); cutting
    accuracy 1/32 in (printers' public pages); frames 1/4 in away (designers' guides), here 5 mm. Size of small things and of
    thin frames: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.clusters import touching
from preflight.findings import Found, Stage
from preflight.frames import distances_inside, frames_along
from preflight.ground import Ground, is_white, printing_things
from preflight.inventory.model import EDGES, DocumentFacts, Edge, Page, Painted
from preflight.ticket import Job
from preflight.units import TOLERANCE_MM, Box, is_below


@dataclass(frozen=True)
class MarginsLimits:
    """Distances in millimetres from the trim or the spine."""

    near_trim_below_mm: float
    small_object_mm: float
    gutter_below_mm: float
    frame_below_mm: float
    frame_at_most_thick_mm: float
    frame_covers_percent: float
    ground_from_percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: MarginsLimits) -> Iterator[Answer]:
    """Judges text and small things edge by edge, then looks for a frame."""
    if page.trim_mm is None or document.kind not in ("pdf", "unknown"):
        return  # nothing in a picture file is an object of its own
    trim = Box(0.0, 0.0, *page.trim_mm)
    things = printing_things(page, job)
    ground = Ground(page, limits.ground_from_percent)
    spine = job.order.spine_edge(page.number) if job.order.binding == "perfect" else None
    frames = list(frames_along(things, trim, limits.frame_at_most_thick_mm, limits.frame_covers_percent))
    parts = {thing.order for frame in frames for thing in frame.parts}
    for box, pieces in _near(things, trim, limits):
        if any(piece.order in parts for piece in pieces) or all(_is_unseen(piece, ground) for piece in pieces):
            continue
        yield from _near_trim(page, box, pieces[0], trim, limits, None if pieces[0].text is None else spine)
    if spine is not None:
        yield from _gutter(page, things, trim, spine, ground, limits)
    for frame in frames:
        if is_below(max(frame.distances_mm.values()), limits.frame_below_mm, "mm"):
            yield _found("frame", page, frame.box_mm, frame.distances_mm, limits.frame_below_mm)


def _is_unseen(thing: Painted, ground: Ground) -> bool:
    """White on paper."""
    return is_white(thing.colour) and not ground.under(thing)


def _near(things: list[Painted], trim: Box, limits: MarginsLimits) -> Iterator[tuple[Box, list[Painted]]]:
    """Text, and small things with all that touches them; neither pieces of something large nor of something that is cut."""
    inside = trim.grow(-limits.near_trim_below_mm)
    small: list[tuple[Painted, Box]] = []
    for thing in things:
        box = thing.visible_mm
        if box is None or not box.meets(trim):
            continue
        if thing.text is not None:
            if not inside.contains(box):
                yield box, [thing]
        elif max(box.width, box.height) < limits.small_object_mm:
            small.append((thing, box))
    if all(inside.contains(box) for _, box in small):
        return
    for group in touching([box for _, box in small]):
        whole = small[group[0]][1]
        for index in group[1:]:
            whole = whole.union(small[index][1])
        if inside.contains(whole) or max(whole.width, whole.height) >= limits.small_object_mm:
            continue
        if min(distances_inside(whole, trim).values()) >= TOLERANCE_MM:
            yield whole, [small[index][0] for index in group]


def _near_trim(
    page: Page, box: Box, thing: Painted, trim: Box, limits: MarginsLimits, spine: Edge | None
) -> Iterator[Answer]:
    away = distances_inside(box, trim)
    if min(away.values()) < -TOLERANCE_MM:
        return
    near = {
        edge: distance
        for edge, distance in away.items()
        if edge != spine and is_below(distance, limits.near_trim_below_mm, "mm")
    }
    if near:
        found = _found("near-trim", page, box, near, limits.near_trim_below_mm, source=thing.object_key)
        found.values["what"] = "Text" if thing.text is not None else "A small object"
        yield found


def _gutter(
    page: Page, things: list[Painted], trim: Box, spine: Edge, ground: Ground, limits: MarginsLimits
) -> Iterator[Answer]:
    for thing in things:
        box = thing.visible_mm
        if (
            thing.text is None
            or box is None
            or not trim.meets(box)
            or (is_white(thing.colour) and not ground.under(thing))
        ):
            continue
        distance = distances_inside(box, trim)[spine]
        if is_below(distance, limits.gutter_below_mm, "mm"):
            yield _found("gutter", page, box, {spine: max(0.0, distance)}, limits.gutter_below_mm)


def _found(kind: str, page: Page, box: Box, near: dict[Edge, float], limit: float, *, source: str = "") -> Found:
    # Of edges as near as one another always the same one: another export must not make another finding of it.
    edge = min(near, key=lambda one: round(near[one], 1))
    return Found(
        kind=kind,
        page=page.number,
        box_mm=box,
        measured=max(0.0, min(near.values())),
        limit=limit,
        unit="mm",
        subject=edge,
        source=source and f"{source} {edge}",
        values={"edge": edge},
        details={"edge": edge, "distances_mm": {one: round(near[one], 2) for one in EDGES if one in near}},
    )


CHECK = Check(
    name="margins",
    limits=MarginsLimits,
    needs=frozenset({"boxes", "paint"}),
    on_page=check_page,
    kinds={
        "near-trim": Kind(
            Stage.BINDERY,
            "{what} stands {measured} mm inside the {edge} trim; the safety is {limit} mm.",
            "Something on this page stands so close to the {edge} edge that it may be cut off when the pages are trimmed. Please "
            "move it at least {limit} mm away from the edge, or let it run right over the edge if it is meant to be cut.",
        ),
        "gutter": Kind(
            Stage.BINDERY,
            "Text stands {measured} mm from the glued spine ({edge} edge); it should be {limit} mm or more.",
            "Some text is so close to the spine that it will disappear into the fold of the glued book. Please move it at "
            "least {limit} mm away from the inner edge.",
        ),
        "frame": Kind(
            Stage.BINDERY,
            "A thin frame runs all round, {measured} mm from the trim at its nearest; under {limit} mm it looks uneven after cutting.",
            "There is a thin frame close to the edge all around this page. Cutting varies a little from copy to copy, so its "
            "distance to the edge will look uneven. Please leave the frame out, or move it at least {limit} mm away from the edge.",
        ),
    },
)
