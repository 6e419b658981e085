"""Flat tints too light to print.

What it looks at
    Visible areas, lines and type in one even colour, of which every ink is a very light tint. Pictures, shadings, and flat steps that
    run out one after the other like a gradient are left alone: there the loss does not show as an edge.
Why it matters on press
    Dots this small do not hold on the plate or do not take ink: the tint is missing, or comes and goes over the run.
How it is measured
    By the colour's own numbers, in percent, thinned by a constant transparency where nothing lies under it; the strongest ink counts.
    Half a step of 8-bit colour (0.2 points) of tolerance. A step of a gradient is an area that touches others of the same
    inks, which together go through at least four tints, none more than five points from the next.
What to ask the customer for
    The tint made stronger, or left out.
Source
    Printable range 3 to 97 % (ISO 12647-2, from memory), 5 % for newsprint (newspaper guide); what counts as a gradient is common
    practice.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.clusters import touching
from preflight.findings import Found, Stage
from preflight.ground import Ground, named_inks, printing_things
from preflight.inventory.model import DocumentFacts, Page, Painted
from preflight.ticket import Job

ROUNDING_PERCENT = 0.2


@dataclass(frozen=True)
class TintLimits:
    """Tints in percent."""

    too_light_below_percent: float
    gradient_from_steps: int
    gradient_step_at_most_percent: float
    ground_from_percent: float


@dataclass(frozen=True)
class Tinted:
    """A thing in one even colour: its inks, and the strongest tint of them."""

    thing: Painted
    inks: tuple[str, ...]
    percent: float


def check_page(page: Page, document: DocumentFacts, job: Job, limits: TintLimits) -> Iterator[Answer]:
    """Judges every flat thing, then drops steps of gradients."""
    ground = Ground(page, limits.ground_from_percent)
    families: dict[tuple[str, ...], list[Tinted]] = defaultdict(list)
    for thing in printing_things(page, job):
        tinted = _tinted(thing, ground, limits)
        if tinted is not None:
            families[tinted.inks].append(tinted)
    for members in families.values():
        if not any(_is_light(member, limits) for member in members):
            continue
        boxes = [member.thing.visible_mm or member.thing.box_mm for member in members]
        for group in touching(boxes):
            together = [members[index] for index in group]
            if not _is_gradient(together, limits):
                yield from (_found(page, member, limits) for member in together if _is_light(member, limits))


def _tinted(thing: Painted, ground: Ground, limits: TintLimits) -> Tinted | None:
    """A flat colour known by its numbers, weak enough to be of interest."""
    if thing.kind not in ("fill", "stroke", "text", "text-stroke", "image-mask") or thing.colour is None:
        return None
    inks = named_inks(thing.colour, 0.0) if thing.colour.family in ("gray", "cmyk", "separation", "device-n") else None
    if not inks:
        return None
    percent = max(inks.values())
    reach = limits.too_light_below_percent + limits.gradient_from_steps * limits.gradient_step_at_most_percent
    if thing.alpha < 1.0 and percent * thing.alpha < limits.too_light_below_percent:
        if thing.blend not in ("Normal", "Compatible", "Multiply", "Darken") or ground.under(thing):
            return None
        percent *= thing.alpha
    return Tinted(thing, tuple(sorted(inks)), percent) if percent <= reach else None


def _is_light(tinted: Tinted, limits: TintLimits) -> bool:
    return 0.0 < tinted.percent < limits.too_light_below_percent - ROUNDING_PERCENT


def _is_gradient(together: list[Tinted], limits: TintLimits) -> bool:
    """Whether things that touch go through enough tints in small steps."""
    steps = sorted({round(member.percent, 1) for member in together})
    run = 1
    for low, high in itertools.pairwise(steps):
        if high - low > limits.gradient_step_at_most_percent:
            break
        run += 1
    return run >= limits.gradient_from_steps


def _found(page: Page, tinted: Tinted, limits: TintLimits) -> Found:
    inks = ", ".join(tinted.inks)
    return Found(
        kind="too-light",
        page=page.number,
        box_mm=tinted.thing.visible_mm,
        measured=tinted.percent,
        limit=limits.too_light_below_percent,
        unit="percent",
        subject=inks,
        source=tinted.thing.object_key,
        values={"inks": inks},
        details={"inks": list(tinted.inks), "alpha": round(tinted.thing.alpha, 3)},
    )


CHECK = Check(
    name="tint",
    limits=TintLimits,
    needs=frozenset({"paint"}),
    on_page=check_page,
    kinds={
        "too-light": Kind(
            Stage.PRESS,
            "Flat tint of {measured} % {inks}; under {limit} % it does not hold on the plate.",
            "A very light tint on this page ({measured} %) will probably not be visible in print. Please make it at least "
            "{limit} %, or leave it out.",
        ),
    },
)
