"""Panels of a folded leaflet: together they are the sheet, and what is tucked in is shorter.

What it looks at
    The panels of the ticket, in the order they lie, against the trim of the artwork; the tucked panel of letter, roll and gate folds.
Why it matters on press
    A tucked panel as wide as its neighbour jams in the folder or bulges and creases; panels that do not add up to the sheet put
    every fold beside the artwork's own.
How it is measured
    Sum of the panels against the trim's width or height, whichever is nearer, in millimetres; it may differ by 0.5 mm. A tucked panel
    is to be shorter than each panel it lies against by at least 0.5 mm: the last of a letter fold than the others, each
    panel of a roll from the third on than the one before, the first and the last of a gate fold than their neighbours (where both
    close on one panel, than half of it). Accordion folds have equal panels and only their sum is asked for. Tolerance 0.05 mm.
What to ask the customer for
    A layout whose panels have the widths given, the tucked panel at the end where it is folded in.
Source
    Letter fold of 11 in: 3-11/16 + 3-11/16 + 3-5/8 in (design reference); of A4: 100 + 100 + 97 mm (designer's practice); 99 + 99.5 +
    98.5 mm on light stock, gate panels 1/32 to 1/16 in less, roll panels 1 to 2 mm less each (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage
from preflight.inventory.model import Inventory
from preflight.ticket import Fold, Job
from preflight.units import Box, is_above, is_below


@dataclass(frozen=True)
class FoldLimits:
    """Differences in millimetres."""

    sum_differs_above_mm: float
    tucked_shorter_by_mm: float


@dataclass(frozen=True)
class Tucked:
    """A tucked panel (its number from 0) and the longest it may be beside the panel it lies against."""

    panel: int
    against: int
    longest_mm: float


def check_file(inventory: Inventory, job: Job, limits: FoldLimits) -> Iterator[Answer]:
    """Judges the ordered panels against the first page's trim, and against each other."""
    order = job.order
    if job.ticket is None:
        yield NotJudged("fold", "no ticket: no panels are known")
        return
    if not order.panels_mm:
        if order.fold is not None or order.binding == "fold":
            yield NotJudged("fold", "no panels_mm in the ticket: the fold is not checked")
        return
    first = inventory.pages[0] if inventory.pages else None
    size = first.trim_mm if first is not None else None
    if size is None or first is None:
        yield NotJudged("fold", "the size of the artwork is not known: the panels are not checked")
        return
    total = sum(order.panels_mm)
    side = min(size, key=lambda one: abs(one - total))
    fits = not is_above(abs(total - side), limits.sum_differs_above_mm, "mm")
    panels = [round(panel, 3) for panel in order.panels_mm]
    facts = {
        "panels_mm": panels,
        "sum_mm": round(total, 3),
        "trim_mm": [round(one, 2) for one in size],
        "fold": order.fold,
    }
    if not fits:
        yield Found(
            kind="panels",
            page=first.number,
            measured=total,
            limit=side,
            unit="mm",
            subject="sum",
            groups=False,
            values={
                "fault": f"the panels add up to {_figure(total)} mm, the sheet has {_figure(size[0])} x {_figure(size[1])} mm",
                "wish": f"The panels add up to {_figure(total)} mm, but the artwork is {_figure(size[0])} x {_figure(size[1])} mm.",
            },
            details=facts | {"problem": "sum", "difference_mm": round(total - side, 3)},
        )
    for tucked in tucked_panels(order.fold, order.panels_mm, limits.tucked_shorter_by_mm):
        width = order.panels_mm[tucked.panel]
        if not is_below(tucked.longest_mm, width, "mm"):
            continue
        yield Found(
            kind="panels",
            page=first.number,
            box_mm=_panel_box(order.panels_mm, tucked.panel, size, side) if fits else None,
            measured=width,
            limit=tucked.longest_mm,
            unit="mm",
            subject=f"panel {tucked.panel + 1}",
            groups=False,
            worse="high",
            values={
                "fault": f"tucked panel {tucked.panel + 1} is {_figure(width)} mm wide; beside panel {tucked.against + 1} it may "
                f"have {_figure(tucked.longest_mm)} mm",
                "wish": f"The panel that is folded in (number {tucked.panel + 1}) is {_figure(width)} mm wide. It has to be "
                f"{_figure(tucked.longest_mm)} mm or less.",
            },
            details=facts | {"problem": "tucked", "panel": tucked.panel + 1, "against_panel": tucked.against + 1},
        )


def tucked_panels(fold: Fold | None, panels: tuple[float, ...], shorter_by_mm: float) -> Iterator[Tucked]:
    """Each tucked panel with the tightest limit for it."""
    last = len(panels) - 1
    if last < 1 or fold in (None, "accordion"):
        return
    if fold == "letter":
        against = min(range(last), key=lambda index: panels[index])
        yield Tucked(last, against, panels[against] - shorter_by_mm)
    elif fold == "roll":
        # The two outer panels are front and back of the folded piece and may be equal.
        for index in range(min(2, last), last + 1):
            yield Tucked(index, index - 1, panels[index - 1] - shorter_by_mm)
    else:
        for index, inner in ((0, 1), (last, last - 1)):
            room = panels[1] / 2.0 if last == 2 else panels[inner]
            yield Tucked(index, inner, room - shorter_by_mm)


def _panel_box(panels: tuple[float, ...], index: int, size: tuple[float, float], side: float) -> Box:
    """The panel's strip on the first page, panels laid from left to right (or top to bottom)."""
    start = sum(panels[:index])
    if side == size[0]:
        return Box(start, 0.0, start + panels[index], size[1])
    return Box(0.0, start, size[0], start + panels[index])


def _figure(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


CHECK = Check(
    name="fold",
    limits=FoldLimits,
    needs=frozenset({"boxes"}),
    on_file=check_file,
    kinds={
        "panels": Kind(
            Stage.BINDERY,
            "Fold: {fault}.",
            "The folded leaflet will not fold cleanly. {wish} Please change the layout, or ask us for the right panel widths.",
        ),
    },
)
