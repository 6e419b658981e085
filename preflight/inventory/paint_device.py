"""Watches the engine paint a page and notes every painted thing with where, how and in what it is painted.

The engine calls this device after forms, clips, groups, layers and graphics states are resolved; the run's matrix leads to
trim space, so everything arrives in millimetres. A fault in here must not vanish inside the engine: the first one is kept,
the run is stopped, and whoever started it finds it in ``fault``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

from pymupdf import mupdf as m

from preflight.inventory.cover import FINE_BELOW_PT, is_spot
from preflight.inventory.model import Colour, PaintKind, Stroke
from preflight.inventory.paint_colour import ColourReader
from preflight.inventory.paint_glyphs import GlyphWatcher
from preflight.inventory.paint_images import ImageReader, Picture, corners_of
from preflight.inventory.paint_marks import Mark
from preflight.inventory.paint_paths import (
    CHORD_MM,
    STROKE_CHORD_MM,
    Numbers,
    PathReader,
    Point,
    StrokeStyle,
    Subpath,
    box_of,
    least_scale,
    measure_stroke,
    outline_of,
)
from preflight.inventory.paint_shapes import ShapeMeasurer
from preflight.inventory.paint_sheet import Clip, Sheet, Sheets
from preflight.inventory.paint_text import TextReader
from preflight.inventory.regions import Region, region_of, region_of_corners
from preflight.units import MM_PER_PT, Box

#: A straight line at least this thick can hide what lies under it.
BAR_MM = 0.5
#: A point every so often along a path, at most so many, to ask what lies under it.
MOST_POINTS = 24
MOST_PIECES_TOLD = 64
ALPHA_MASK = "alpha-mask"
_CALLS = (
    "fill_path", "stroke_path", "clip_path", "clip_stroke_path", "fill_text", "stroke_text", "clip_text", "clip_stroke_text",
    "ignore_text", "fill_shade", "fill_image", "fill_image_mask", "clip_image_mask", "pop_clip", "begin_mask", "end_mask",
    "begin_group", "end_group", "begin_tile", "end_tile", "begin_layer", "end_layer", "set_default_colorspaces",
)  # fmt: skip


def _guarded(call: Callable[..., Any]) -> Callable[..., Any]:
    """Keeps the first fault of a callback and lets the rest of the run pass by."""

    @wraps(call)
    def guarded(self: PaintDevice, _context: Any, *values: Any) -> int:
        if self.fault is None:
            try:
                call(self, *values)
            except BaseException as fault:  # whatever it is, it is raised again once the engine has come back
                self.fault = fault
                self.cookie.m_internal.abort = 1
        return 0

    return guarded


class PaintDevice(m.FzDevice2):  # type: ignore[misc]
    """Notes what one page paints. ``clip`` is the page and the bleed area: what lies outside is not visible."""

    def __init__(self, clip: Box, cookie: Any, look_below_ppi: float) -> None:
        super().__init__()
        for name in _CALLS:
            getattr(self, f"use_virtual_{name}")()
        self.fault: BaseException | None = None
        self.cookie = cookie
        #: Whether the engine is about to wrap the page's own contents in a group (set by whoever has the page).
        self.expects_page_group = False
        self.on = Sheets(clip)
        self.colours = ColourReader()
        self.images = ImageReader(self.colours, look_below_ppi)
        self.paths = PathReader()
        self.texts = TextReader(self.paths)
        self.shapes = ShapeMeasurer()
        self.glyphs = GlyphWatcher(self.on, self.m_internal)

    def close(self) -> None:
        """Lets go of everything of the engine's."""
        self.images.close()
        self.texts.close()
        self.colours.close()
        self.glyphs.close()

    def _mark(self, kind: PaintKind, box: Box, colour: Colour | None, alpha: float, params: Any) -> Mark:
        """A thing with its colour and overprint."""
        return Mark(kind, box, colour, alpha, bool(params.op), int(params.opm))

    # --- paths ---

    @_guarded
    def fill_path(self, path: Any, even_odd: int, ctm: Any, space: Any, values: Any, alpha: float, params: Any) -> None:
        runs = self.paths.read(path, _numbers(ctm), CHORD_MM)
        if not runs:
            return
        box = box_of(runs)
        mark = self._mark("fill", box, self.colours.read(space, values), alpha, params)
        if not self.on.is_far(box):
            mark.shape = self.shapes.measure(runs, even_odd=bool(even_odd))
            mark.path_box = box
            mark.area = region_of(runs, box, even_odd=bool(even_odd))
            mark.is_solid = True
            if mark.shape.thickness_pt is not None:
                mark.points = _points_on(runs)
            if 1 < len(runs) <= MOST_PIECES_TOLD:
                mark.pieces = tuple([box_of([run]) for run in runs])
        self.on.note(mark)

    @_guarded
    def stroke_path(self, path: Any, pen: Any, ctm: Any, space: Any, values: Any, alpha: float, params: Any) -> None:
        mark = self._mark("stroke", Box(0.0, 0.0, 0.0, 0.0), self.colours.read(space, values), alpha, params)
        if self._stroked(mark, path, pen, _numbers(ctm)):
            self.on.note(mark)

    def _stroked(self, mark: Mark, path: Any, pen: Any, matrix: Numbers) -> bool:
        """Fills in a stroke's measures; False where it leaves no mark at all (no length and no caps)."""
        runs = self.paths.read(path, matrix, STROKE_CHORD_MM)
        style = StrokeStyle(abs(pen.linewidth), pen.dash_len > 0, capped=pen.start_cap != 0)
        measured = measure_stroke(runs, matrix, style)
        if not measured.marks:
            return False
        mark.box, mark.stroke = measured.box, measured.stroke
        if self._runs_along_its_clip(runs):
            mark.stroke = replace(mark.stroke, width_pt=mark.stroke.width_pt / 2.0)
        if self.on.is_far(mark.box):
            return True
        if mark.stroke.width_pt < FINE_BELOW_PT or is_spot(mark.colour):
            mark.points = _points_on(runs)
        mark.path_box = measured.path_box
        if measured.corners is not None and not mark.stroke.dashed and mark.stroke.width_pt * MM_PER_PT >= BAR_MM:
            mark.area = region_of_corners(measured.corners)
            mark.is_solid = True
        if 1 < len(runs) <= MOST_PIECES_TOLD:
            x, y = mark.path_box.x0 - mark.box.x0, mark.path_box.y0 - mark.box.y0
            boxes = [box_of([run]) for run in runs]
            mark.pieces = tuple([Box(box.x0 - x, box.y0 - y, box.x1 + x, box.y1 + y) for box in boxes])
        return True

    def _runs_along_its_clip(self, runs: list[Subpath]) -> bool:
        """Whether a line follows a clip in force ("inside the outline" in drawing programs): half of it is cut off."""
        outlines = [clip.outline for clip in self.on.sheet.clips if len(clip.outline) == len(runs)]
        return bool(outlines) and outline_of(runs) in outlines

    # --- clips ---

    @_guarded
    def clip_path(self, path: Any, even_odd: int, ctm: Any, _scissor: Any) -> None:
        runs = self.paths.read(path, _numbers(ctm), STROKE_CHORD_MM)
        box = box_of(runs)
        self.on.push_clip(box, region_of(runs, box, even_odd=bool(even_odd))).outline = outline_of(runs)

    @_guarded
    def clip_stroke_path(self, path: Any, pen: Any, ctm: Any, _scissor: Any) -> None:
        mark = Mark("stroke", Box(0.0, 0.0, -1.0, -1.0), None)
        drawn = self._stroked(mark, path, pen, _numbers(ctm))
        self.on.push_clip(mark.box, None).waiting = [mark] if drawn else []

    @_guarded
    def clip_image_mask(self, image: Any, ctm: Any, _scissor: Any) -> None:
        picture = self.images.picture(image)
        mark = self._placed("image-mask", picture, _numbers(ctm), None)
        clip = self.on.push_clip(mark.box, None)
        clip.picture, clip.waiting = picture, [mark]

    @_guarded
    def clip_text(self, text: Any, ctm: Any, _scissor: Any) -> None:
        self._clip_to_text("text", text, ctm)

    @_guarded
    def clip_stroke_text(self, text: Any, _pen: Any, ctm: Any, _scissor: Any) -> None:
        self._clip_to_text("text-stroke", text, ctm)

    def _clip_to_text(self, kind: PaintKind, text: Any, ctm: Any) -> None:
        spans = self.texts.spans(text, _numbers(ctm))
        marks = [Mark(kind, line.box, None, text=(span, line)) for span in spans for line in span.lines if line.inked]
        box = Box(0.0, 0.0, -1.0, -1.0)
        for index, mark in enumerate(marks):
            box = box.union(mark.box) if index else mark.box
        self.on.push_clip(box, None).waiting = marks

    @_guarded
    def pop_clip(self) -> None:
        clip = self.on.pop_clip()
        if clip is None:
            return
        if clip.masked:
            self.on.leave()
        if clip.painted:
            for mark in clip.waiting:
                mark.asks_ground = False  # what shows through it lies under it already
                self.on.note(mark)

    # --- text ---

    @_guarded
    def fill_text(self, text: Any, ctm: Any, space: Any, values: Any, alpha: float, params: Any) -> None:
        self._text("text", text, ctm, self.colours.read(space, values), alpha, params, None)

    @_guarded
    def stroke_text(self, text: Any, pen: Any, ctm: Any, space: Any, values: Any, alpha: float, params: Any) -> None:
        # Letters go all ways: under an uneven scale some of their lines are drawn at the least.
        width_pt = pen.linewidth * least_scale(_numbers(ctm)) / MM_PER_PT
        line = Stroke(width_pt=width_pt, zero=pen.linewidth == 0.0, dashed=pen.dash_len > 0)
        self._text("text-stroke", text, ctm, self.colours.read(space, values), alpha, params, line)

    def _text(
        self, kind: PaintKind, text: Any, ctm: Any, colour: Colour | None, alpha: float, params: Any, pen: Stroke | None
    ) -> None:
        for span in self.texts.spans(text, _numbers(ctm)):
            for line in span.lines:
                mark = self._mark(kind, line.box, colour, alpha, params)
                mark.text, mark.stroke = (span, line), pen
                mark.leaves_mark = line.inked > 0
                if span.face.type3:
                    self.glyphs.note_line(span, line, mark)
                else:
                    self.on.note(mark)

    @_guarded
    def ignore_text(self, text: Any, ctm: Any) -> None:
        """Invisible text (render mode 3): not painted. Glyph procedures that the engine has just run itself end this way too."""
        for span in self.texts.spans(text, _numbers(ctm)):
            if span.face.type3:
                for line in span.lines:
                    self.glyphs.note_direct(span, line)

    # --- pictures and shadings ---

    def _placed(self, kind: PaintKind, picture: Picture, matrix: Numbers, colour: Colour | None) -> Mark:
        region = region_of_corners(corners_of(matrix))
        mark = Mark(kind, region.box, colour, object_key=picture.key)
        mark.image = self.images.use(picture, matrix, visible=not self.on.is_far(region.box))
        mark.area = region
        mark.is_solid = kind == "image" and not picture.has_holes
        return mark

    @_guarded
    def fill_image(self, image: Any, ctm: Any, alpha: float, params: Any) -> None:
        picture = self.images.picture(image)
        clip: Clip = self.on.clip
        if clip.picture is not None and clip.picture is picture.mask:
            clip.waiting = []  # the mask is this picture's own
        mark = self._placed("image", picture, _numbers(ctm), picture.colour)
        mark.alpha, mark.overprint, mark.overprint_mode = alpha, bool(params.op), int(params.opm)
        if mark.alpha > 0.0 and not self.on.is_far(mark.box) and self.images.is_masked_away(picture):
            mark.alpha = 0.0
        self.on.note(mark)

    @_guarded
    def fill_image_mask(self, image: Any, ctm: Any, space: Any, values: Any, alpha: float, params: Any) -> None:
        mark = self._placed("image-mask", self.images.picture(image), _numbers(ctm), None)
        inked = self._mark("image-mask", mark.box, self.colours.read(space, values), alpha, params)
        mark.colour, mark.alpha = inked.colour, inked.alpha
        mark.overprint, mark.overprint_mode = inked.overprint, inked.overprint_mode
        self.on.note(mark)

    @_guarded
    def fill_shade(self, shade: Any, ctm: Any, alpha: float, params: Any) -> None:
        box = _box(m.ll_fz_bound_shade(shade, ctm)).intersect(self.on.clip.box)
        if not box.is_empty:
            self.on.note(self._mark("shading", box, self.colours.space_of(shade.colorspace), alpha, params))

    # --- groups, masks, patterns, layers ---

    @_guarded
    def begin_group(self, area: Any, space: Any, isolated: int, knockout: int, mode: int, alpha: float) -> None:
        if self.expects_page_group:
            self.expects_page_group = False
            self.on.enter("")
            return
        blend = str(m.ll_fz_blendmode_name(mode))
        box = _box(area).intersect(self.on.clip.box)
        if space and not box.is_empty:
            self.on.note(Mark("group", box, self.colours.space_of(space), alpha, blend=blend))
        # The engine puts groups of its own around single things with a blend mode: they are no nesting of the artwork's.
        self.on.enter("group" if isolated or knockout or space else "", alpha=alpha, blend=blend)

    @_guarded
    def end_group(self) -> None:
        self.on.leave()

    @_guarded
    def begin_mask(self, area: Any, luminosity: int, space: Any, backdrop: Any, _params: Any) -> None:
        box = _box(area).intersect(self.on.clip.box)
        if not box.is_empty:
            self.on.note(Mark("mask", box, self.colours.space_of(space) if luminosity else None))
        lit = bool(luminosity and space and backdrop) and any(
            m.floats_getitem(backdrop, index) > 0.0 for index in range(m.ll_fz_colorspace_n(space))
        )
        self.on.enter("soft-mask", apart=True)
        if not luminosity:
            self.on.enter(ALPHA_MASK)  # how strongly things are painted counts, not in what
        clip = self.on.push_clip(_box(area), Region(_box(area)))
        clip.painted = lit  # a lit ground lets things through without anything being painted on it

    @_guarded
    def end_mask(self, _function: Any = None) -> None:
        """What follows is painted through the mask, until its clip is popped; through an empty one nothing shows."""
        clip = self.on.sheet.clips.pop()
        if self.on.nests and self.on.nests[-1].name == ALPHA_MASK:
            self.on.leave()
        self.on.leave()
        self.on.enter("", alpha=1.0 if clip.painted else 0.0, apart=True)
        self.on.push_clip(clip.box, None).masked = True

    @_guarded
    def begin_tile(self, area: Any, view: Any, x_step: float, y_step: float, ctm: Any, _id: int, _file: int) -> None:
        matrix = a, b, c, d, e, f = _numbers(ctm)
        corners = ((view.x0, view.y0), (view.x1, view.y0), (view.x1, view.y1), (view.x0, view.y1))
        cell = region_of_corners([(a * x + c * y + e, b * x + d * y + f) for x, y in corners])
        self.on.begin_cell(Sheet([Clip(cell.box, None)], [], (abs(x_step), abs(y_step)), matrix, _box(area)))

    @_guarded
    def end_tile(self) -> None:
        self.on.end_cell()

    @_guarded
    def begin_layer(self, name: Any) -> None:
        self.on.layers.append(str(name or ""))

    @_guarded
    def end_layer(self) -> None:
        if self.on.layers:
            self.on.layers.pop()

    @_guarded
    def set_default_colorspaces(self, defaults: Any) -> None:
        self.colours.set_defaults(defaults)


def _numbers(ctm: Any) -> Numbers:
    return ctm.a, ctm.b, ctm.c, ctm.d, ctm.e, ctm.f


def _box(rect: Any) -> Box:
    return Box(rect.x0, rect.y0, rect.x1, rect.y1)


def _points_on(runs: list[Subpath]) -> list[Point]:
    """Points along a path to ask what lies under it: the middles of its pieces (``cover`` looks between the two of one)."""
    if len(runs) == 1 and len(runs[0].points) == 2:
        return runs[0].points
    pieces = [
        (one, other)
        for run in runs
        for one, other in zip(run.points, run.points[1:] + (run.points[:1] if run.closed else []), strict=False)
    ]
    if not pieces:
        return [run.points[0] for run in runs[:MOST_POINTS] if run.points]
    if len(pieces) > MOST_POINTS:
        pieces = pieces[:: len(pieces) // MOST_POINTS + 1]
    each = max(1, MOST_POINTS // len(pieces))
    shares = [(index + 0.5) / each for index in range(each)]
    return [(x0 + (x1 - x0) * t, y0 + (y1 - y0) * t) for (x0, y0), (x1, y1) in pieces for t in shares]
