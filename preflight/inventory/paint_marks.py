"""What is noted of each painted thing while the page is traced, before it is known what is covered later.

``Mark`` is the working form of ``model.Painted``: it still has its area and the groups it is painted in, which are needed to
tell what covers what and are dropped afterwards. Boxes in trim space, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from preflight.inventory.model import Colour, ImageUse, PaintKind, Shape, Stroke
from preflight.inventory.paint_paths import Point
from preflight.inventory.regions import Region
from preflight.units import Box

if TYPE_CHECKING:
    from preflight.inventory.paint_text import Line, Span


@dataclass(slots=True)
class Mark:
    """One painted thing under way. ``visible`` is what its clips leave of ``box``; None for nothing."""

    kind: PaintKind
    box: Box
    colour: Colour | None
    alpha: float = 1.0
    overprint: bool = False
    overprint_mode: int = 0
    blend: str = "Normal"
    visible: Box | None = None
    inside: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    object_key: str = ""
    stroke: Stroke | None = None
    shape: Shape | None = None
    text: tuple[Span, Line] | None = None
    image: ImageUse | None = None
    #: Boxes of the separate pieces of a path.
    pieces: tuple[Box, ...] = ()
    #: Ids of the groups and soft masks it is painted in that are not plain; matter in such a group hides only what is in it.
    scope: tuple[int, ...] = ()
    #: The area it fills, with the areas it is clipped to (None: not known exactly).
    area: Region | None = None
    clips: tuple[Region, ...] | None = ()
    #: Whether its area is filled through and through (no holes, no soft edges).
    is_solid: bool = False
    #: Whether it is painted at full strength, Normal, whatever group it is in.
    is_opaque: bool = True
    #: Whether it is matter that can be seen at all (a space in a text cannot).
    leaves_mark: bool = True
    #: The path's own box, to tell a rim from a line of its own; points on it, to ask what lies under it.
    path_box: Box | None = None
    points: list[Point] = field(default_factory=list)
    #: Worst resolution of bitmaps in the glyphs of a Type 3 font.
    bitmap_ppi: float | None = None
    #: Whether what lies under it can be told at all.
    asks_ground: bool = True
    covered: bool = False
    ground: tuple[str, ...] | None = None

    def moved(self, dx: float, dy: float) -> Mark:
        """The same thing elsewhere."""
        return replace(
            self,
            box=self.box.moved(dx, dy),
            visible=self.visible.moved(dx, dy) if self.visible else None,
            pieces=tuple([piece.moved(dx, dy) for piece in self.pieces]),
            path_box=self.path_box.moved(dx, dy) if self.path_box else None,
            points=[(x + dx, y + dy) for x, y in self.points],
        )


def visible_in(box: Box, clip: Box) -> Box | None:
    """What a clip leaves of a box; None for nothing, or for a mere shared edge."""
    x0, y0 = max(box.x0, clip.x0), max(box.y0, clip.y0)
    x1, y1 = min(box.x1, clip.x1), min(box.y1, clip.y1)
    if x1 < x0 or y1 < y0:
        return None
    if (x1 - x0 <= 1e-4 and box.x1 - box.x0 > 2e-4) or (y1 - y0 <= 1e-4 and box.y1 - box.y0 > 2e-4):
        return None
    return Box(x0, y0, x1, y1)
