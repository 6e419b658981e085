"""What the glyphs of a Type 3 font paint: they are little drawings, and may hold bitmaps and lines of their own.

Each glyph procedure is watched once for each scale and colour it is shown in, standing at the origin, and set down wherever it
is shown (ISO 32000-2, 9.6.4: ``d1`` glyphs take the text's colour, ``d0`` glyphs bring their own).
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass
from typing import Any

from pymupdf import mupdf as m

from preflight.inventory.model import Colour
from preflight.inventory.paint_colour import address_of
from preflight.inventory.paint_marks import Mark
from preflight.inventory.paint_sheet import EVERYWHERE, Clip, Sheet, Sheets
from preflight.inventory.paint_text import Line, Span
from preflight.units import Box

#: So many parts of glyphs are noted on one page; past that only the lines of text themselves are.
MOST_PARTS = 30_000
NEAR_MM = 0.01
#: What the engine notes of a glyph that takes the text's colour (d1; fitz/device.h, FZ_DEVFLAG_MASK).
_UNCOLOURED = 1


@dataclass(frozen=True, slots=True)
class GlyphInk:
    """What a glyph without colours of its own is painted with."""

    colour: Colour | None
    alpha: float = 1.0
    overprint: bool = False
    overprint_mode: int = 0


class GlyphWatcher:
    """Runs glyph procedures on the device that watches the page."""

    def __init__(self, on: Sheets, device: Any) -> None:
        self.on = on
        self.device = device
        self._known: dict[tuple[Any, ...], tuple[list[Mark], bool]] = {}
        self._parts = 0

    def close(self) -> None:
        self._known.clear()

    def note_line(self, span: Span, line: Line, mark: Mark) -> None:
        """Notes a line of text, then what its glyphs paint."""
        ink = GlyphInk(mark.colour, mark.alpha, mark.overprint, mark.overprint_mode)
        parts: list[Mark] = []
        line.inked, box = 0, None
        for glyph, x, y in line.places:
            marks, coloured = self._glyph(span, glyph, ink)
            line.inked += bool(marks)
            for part in marks:
                moved = part.moved(x, y)
                box = moved.box if box is None else box.union(moved.box)
                if coloured:
                    mark.colour = part.colour
                thin = part.shape is not None and part.shape.thickness_pt is not None
                if coloured or part.image or part.stroke or part.text or thin:
                    parts.append(moved)
        self._note_text(mark, parts, box, line)
        self._parts += len(parts)
        if self._parts <= MOST_PARTS:
            for part in parts:
                self.on.set_down(part, inherits=True, within=("type3",))

    def note_direct(self, span: Span, line: Line) -> None:
        """Text in a Type 3 font announced as invisible: either it is (render mode 3), or the engine has run its glyphs itself.

        In the second case what they painted stands last among the marks, glyph by glyph, where it should.
        """
        ink = GlyphInk(None)
        expected = [part.box.moved(x, y) for glyph, x, y in line.places for part in self._glyph(span, glyph, ink)[0]]
        marks = self.on.sheet.marks
        if not expected or len(marks) < len(expected):
            return
        parts = marks[-len(expected) :]
        agree = (
            part.box.contains(box, NEAR_MM) and box.contains(part.box, NEAR_MM)
            for part, box in zip(parts, expected, strict=True)
        )
        if not all(agree) or any("type3" in part.inside for part in parts):
            return
        whole = parts[0].box
        for part in parts:
            part.inside = (*part.inside, "type3")
            whole = whole.union(part.box)
        line.inked = len(line.places)
        first = parts[0]
        # The parts carry the strength of what they are nested in; noting the text adds it again.
        nested = self.on.alpha_in_force
        alpha = max(part.alpha for part in parts) / nested if nested > 0.0 else 0.0
        mark = Mark("text", whole, first.colour, alpha, first.overprint, first.overprint_mode, text=(span, line))
        mark.asks_ground = False  # its own parts lie under it already
        self._note_text(mark, parts, whole, line)

    def _note_text(self, mark: Mark, parts: list[Mark], box: Box | None, line: Line) -> None:
        mark.box = box or mark.box
        mark.leaves_mark = line.inked > 0
        ppis = [min(part.image.x_ppi, part.image.y_ppi) for part in parts if part.image is not None]
        mark.bitmap_ppi = min(ppis, default=None)
        self.on.note(mark)

    def _glyph(self, span: Span, glyph: int, ink: GlyphInk) -> tuple[list[Mark], bool]:
        """What one glyph paints, standing at the origin, and whether in colours of its own."""
        font = span.face.engine
        key = (address_of(font), glyph, *(round(number, 7) for number in span.scale), ink)
        known = self._known.get(key)
        if known is not None:
            return known
        on = self.on
        kept = on.nests, on.layers
        on.nests, on.layers = [], []
        on.settle()
        on.stack.append(Sheet([Clip(EVERYWHERE, None)]))
        try:
            m.ll_fz_run_t3_glyph(font, glyph, m.ll_fz_make_matrix(*span.scale, 0.0, 0.0), self.device)
        finally:
            sheet = on.stack.pop()
            on.nests, on.layers = kept
            on.settle()
        coloured = not _is_uncoloured(font, glyph)
        if not coloured:
            for part in sheet.marks:
                part.colour, part.alpha = ink.colour, part.alpha * ink.alpha
                part.overprint, part.overprint_mode = ink.overprint, ink.overprint_mode
        self._known[key] = sheet.marks, coloured
        return self._known[key]


def _is_uncoloured(font: Any, glyph: int) -> bool:
    """Whether a glyph begins with d1. The engine keeps one flag word (unsigned short) a glyph, which has no other door."""
    flags = font.t3flags
    if not flags or not 0 <= glyph < 256:
        return True
    return bool(ctypes.c_ushort.from_address(int(flags) + ctypes.sizeof(ctypes.c_ushort) * glyph).value & _UNCOLOURED)
