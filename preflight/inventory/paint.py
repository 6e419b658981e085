"""Everything a page paints, as the engine paints it: the list that questions about objects are asked of.

One run of the page through the engine's own interpreter (usage Print, so layers that do not print are left out, and
annotations that do not print are too), watched by ``PaintDevice``. Boxes in trim space, millimetres. What the engine does not
tell: which forms a thing is nested in (form XObjects leave no trace unless they are groups). Nothing of the engine's is kept,
unless its images are asked for.
"""

from __future__ import annotations

import gc
import math
from dataclasses import dataclass, field, replace
from typing import Any

from pymupdf import mupdf as m

from preflight.inventory.cover import look_under_and_over
from preflight.inventory.model import Family, Painted, TextRun
from preflight.inventory.paint_colour import described
from preflight.inventory.paint_device import PaintDevice
from preflight.inventory.paint_lines import settle_lines
from preflight.inventory.paint_marks import Mark
from preflight.inventory.paint_objects import FontObject, find_fonts, find_pictures
from preflight.units import MM_PER_PT, Box, Matrix, PageFrame

#: Pixels of finer pictures are not looked at (flat or not): no rule asks about them, and unpacking them costs.
LOOK_BELOW_PPI = 300.0
#: No sheet of paper is larger; a box that reaches farther, or to infinity, is cut here.
FARTHEST_MM = 100_000.0


@dataclass(frozen=True)
class PaintTrace:
    """What one page paints, in order, and what came to light on the way."""

    painted: tuple[Painted, ...]
    #: Live transparency that shows, such as ``blend mode Multiply``, ``soft mask``.
    transparency: tuple[str, ...] = ()
    #: Blend space of the page group; None without a group or without a space given.
    group_family: Family | None = None
    has_group: bool = False
    #: Names of the layers in which something shows.
    layers_used: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    #: The engine's images by object key, where they were asked for: whoever asked drops them (``pictures.let_go``).
    images: tuple[tuple[str, Any], ...] = field(default=(), compare=False, repr=False)


def trace_page(
    page: Any, frame: PageFrame, zone_mm: Box, *, look_below_ppi: float = LOOK_BELOW_PPI, keep_images: bool = False
) -> PaintTrace:
    """Traces one page of the engine's (its crop box must be its media box already).

    ``zone_mm`` is the bleed area: only what shows in it is visible. Raises what the engine raises, and any fault of the
    watching itself: a trace is whole or there is none.
    """
    collects = gc.isenabled()
    gc.disable()  # some hundred thousand small objects, none of them in a circle: looking through them again and again costs
    try:
        return _trace(page, frame, zone_mm, look_below_ppi, keep_images=keep_images)
    finally:
        if collects:
            gc.enable()


def _trace(page: Any, frame: PageFrame, zone_mm: Box, look_below_ppi: float, *, keep_images: bool) -> PaintTrace:
    cookie = m.FzCookie()
    device = PaintDevice(zone_mm.intersect(frame.media_mm), cookie, look_below_ppi)
    try:
        _run(page, device, frame, cookie)
        marks = device.on.page.marks
        settle_lines(marks)
        look_under_and_over(marks, device.on.page.clips[0].box)
        fonts = find_fonts(page, device.texts.faces)
        _number_pictures(marks, find_pictures(page, device.images.pictures))
        painted = tuple(_painted(mark, order, device, fonts) for order, mark in enumerate(marks))
        group, family = _page_group(page)
        return PaintTrace(
            painted=painted,
            transparency=_live_transparency(marks),
            group_family=family,
            has_group=group,
            layers_used=tuple(device.on.layers_used),
            warnings=(f"{cookie.m_internal.errors} errors while painting",) if cookie.m_internal.errors else (),
            images=device.images.held() if keep_images else (),
        )
    finally:
        device.close()


def _run(page: Any, device: PaintDevice, frame: PageFrame, cookie: Any) -> None:
    matrix = _engine_to_trim(page, frame)
    device.expects_page_group = bool(page.m_internal.transparency)
    runs = (
        m.pdf_run_page_contents_with_usage,
        m.pdf_run_page_annots_with_usage,
        m.pdf_run_page_widgets_with_usage,
    )
    for index, run in enumerate(runs):
        if index == 1:
            device.expects_page_group = False
            device.on.enter("annotation")
        try:
            run(page, device, matrix, "Print", cookie)
        except Exception:
            if device.fault is None:
                raise
        if device.fault is not None:
            raise device.fault
    m.fz_close_device(device)


def _engine_to_trim(page: Any, frame: PageFrame) -> Any:
    """The engine draws in a space of its own (points, y down, page box at the origin): from there to trim space."""
    box, to_engine = m.FzRect(), m.FzMatrix()
    m.pdf_page_transform(page, box, to_engine)
    own = Matrix(to_engine.a, to_engine.b, to_engine.c, to_engine.d, to_engine.e, to_engine.f)
    return m.FzMatrix(*own.inverted().then(frame.to_trim_mm))


def _live_transparency(marks: list[Mark]) -> tuple[str, ...]:
    """The ways in which what shows on the page is transparent, each once; what is wholly covered later does not show."""
    reasons: dict[str, None] = {}
    for mark in marks:
        if mark.visible is None or mark.covered or mark.alpha <= 0.0 or mark.kind == "group":
            continue
        if mark.kind == "mask":
            reasons["soft mask"] = None
            continue
        if mark.alpha < 1.0:
            reasons["opacity under 100 %"] = None
        if mark.blend != "Normal":
            reasons[f"blend mode {mark.blend}"] = None
        if mark.image and mark.image.mask_bits and mark.image.mask_bits > 1:
            reasons["soft mask of a picture"] = None
    return tuple(reasons)


def _number_pictures(marks: list[Mark], numbers: dict[str, int]) -> None:
    for mark in marks:
        if mark.image is not None and mark.object_key in numbers:
            mark.image = replace(mark.image, object_number=numbers[mark.object_key])


def _page_group(page: Any) -> tuple[bool, Family | None]:
    """Whether the page has a group, and of what kind its blend space is."""
    group = m.pdf_page_group(page)
    if not m.pdf_is_dict(group):
        return False, None
    named = m.pdf_dict_gets(group, "CS")
    if m.pdf_is_null(named):
        return True, None
    try:
        space = m.pdf_load_colorspace(named)
        colour = described(space.m_internal)
    except Exception:
        return True, "unknown"
    return True, colour.family if colour else None


def _painted(mark: Mark, order: int, device: PaintDevice, fonts: dict[int, FontObject]) -> Painted:
    return Painted(
        order=order,
        kind=mark.kind,
        box_mm=_sound(mark.box),
        visible_mm=mark.visible,
        colour=mark.colour,
        covered=mark.covered,
        alpha=mark.alpha,
        blend=mark.blend,
        overprint=mark.overprint,
        overprint_mode=mark.overprint_mode,
        inside=mark.inside,
        layers=mark.layers,
        object_key=mark.object_key,
        stroke=mark.stroke,
        shape=mark.shape,
        text=_text_run(mark, device, fonts),
        image=mark.image,
        parts_mm=mark.pieces,
        ground_inks=mark.ground,
    )


def _sound(box: Box) -> Box:
    """Finite in any case: a file may hold any number."""
    if all(-FARTHEST_MM <= side <= FARTHEST_MM for side in box):
        return box
    return Box(*(min(FARTHEST_MM, max(-FARTHEST_MM, 0.0 if math.isnan(side) else side)) for side in box))


def _text_run(mark: Mark, device: PaintDevice, fonts: dict[int, FontObject]) -> TextRun | None:
    if mark.text is None:
        return None
    span, line = mark.text
    face = span.face
    found = fonts.get(face.address)
    stem = face.stem(device.paths) if mark.visible is not None else None
    x_height, cap_height = face.x_height(), face.cap_height()
    return TextRun(
        font=found.name if found else face.name,
        size_pt=span.size_mm / MM_PER_PT,
        glyphs=line.glyphs,
        inked_glyphs=line.inked,
        missing_glyphs=line.missing,
        x_height_mm=None if x_height is None else x_height * span.height_mm,
        cap_height_mm=None if cap_height is None else cap_height * span.height_mm,
        embedded=True if face.type3 else found.embedded if found else None,
        font_object=found.number if found else None,
        type3=face.type3,
        stem_pt=None if stem is None else stem * span.size_mm / MM_PER_PT,
        bitmap_ppi=mark.bitmap_ppi,
    )
