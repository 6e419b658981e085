"""How large the letters really are: type after every scale, line by line, without keeping what it says.

Sizes in points after every matrix: the smaller of the size along the line and the height across it. Heights of x and H are
taken from the font's own outlines. Boxes hold the ink of the glyphs, not the room the font reserves.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pymupdf import mupdf as m

from preflight.inventory.paint_colour import address_of
from preflight.inventory.paint_paths import CHORD_MM, EMPTY, STROKE_CHORD_MM, Numbers, PathReader, Point, box_of
from preflight.inventory.text_items import ItemReader
from preflight.inventory.thin_run import thin_run
from preflight.units import Box, Matrix

#: A glyph off the line by more than this part of the size begins a new line; so does a gap of this many sizes.
NEW_LINE = 0.1
NEW_COLUMN = 3.0
#: A glyph flatter or narrower than this part of the size holds no ink (some fonts give the space an outline without area).
NO_INK = 1e-4
#: Type flatter or narrower than this has no ink at all: set at size 0, or condensed to nothing.
FLAT_MM = 1e-4
#: Type that leans less than this is taken by its boxes.
SLANTED = 0.002
#: Letters whose height is the x-height, and whose height is the cap height (flat tops and feet, best first).
X_LETTERS, CAP_LETTERS, STEM_LETTERS = "xzvwu", "HITEZ", "lIiHtn"
_NO_LETTER = 0xFFFD
_SPACES = frozenset((0x09, 0x0A, 0x0D, 0x20, 0xA0, 0xAD, 0x200B, 0x202F, 0x3000, 0xFEFF, *range(0x2000, 0x200B)))

GlyphBox = tuple[float, float, float, float]
Scale = tuple[float, float, float, float]


@dataclass(slots=True)
class Face:
    """One font as the engine holds it, with what was learnt of its glyphs; kept alive while the page is traced."""

    engine: Any
    name: str
    type3: bool
    #: Glyph boxes in sizes (1 = the font size); None for a glyph without ink.
    boxes: dict[int, GlyphBox | None] = field(default_factory=dict)
    letters: dict[int, int] = field(default_factory=dict)
    spaces: set[int] = field(default_factory=set)
    _stand_in: int | None = None
    _heights: dict[str, float | None] = field(default_factory=dict)
    _turned: dict[tuple[float, ...], Box] = field(default_factory=dict)
    #: The ink of glyphs standing at the origin, by scale and glyph.
    at_scale: dict[Scale, dict[int, Box]] = field(default_factory=dict)

    def glyph_box(self, glyph: int, letter: int) -> GlyphBox | None:
        """The ink of a glyph, size 1."""
        if letter in _SPACES:
            self.spaces.add(glyph)
        elif letter > 0:
            self.letters.setdefault(letter, glyph)
        rect = m.ll_fz_bound_glyph(self.engine, glyph, UPRIGHT)
        box = (rect.x0, rect.y0, rect.x1, rect.y1)
        inked = min(box[2] - box[0], box[3] - box[1]) > NO_INK and all(map(math.isfinite, box))
        self.boxes[glyph] = box if inked else None
        return self.boxes[glyph]

    def stands_in(self, glyph: int, letter: int) -> bool:
        """Whether the engine shows the sign for what has none (U+FFFD): its code names a glyph that the font does not hold."""
        if letter != _NO_LETTER:
            return False
        if self._stand_in is None:
            self._stand_in = m.ll_fz_encode_character(self.engine, _NO_LETTER)
        return glyph == self._stand_in

    @property
    def address(self) -> int:
        return address_of(self.engine)

    def x_height(self) -> float | None:
        """The height of an x, size 1."""
        return self._height(X_LETTERS)

    def cap_height(self) -> float | None:
        """The height of an H, size 1."""
        return self._height(CAP_LETTERS)

    def _height(self, letters: str) -> float | None:
        if letters not in self._heights:
            box = next((box for _, box in self._outlines_of(letters)), None)
            self._heights[letters] = box[3] if box else None
        return self._heights[letters]

    def stem(self, reader: PathReader) -> float | None:
        """The thinnest steady piece of an upright letter, size 1 (looked for at 10 mm, so that curves keep)."""
        if "stem" not in self._heights:
            found: list[float] = []
            for glyph, _ in self._outlines_of(STEM_LETTERS):
                path = m.ll_fz_outline_glyph(self.engine, glyph, UPRIGHT)
                if not path:
                    continue
                try:
                    runs = reader.read(path, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), CHORD_MM / 10.0)
                finally:
                    m.ll_fz_drop_path(path)
                rings = [[(10.0 * x, 10.0 * y) for x, y in run.points] for run in runs if len(run.points) > 2]
                found += [thin for ring in rings if (thin := thin_run([ring], most_mm=5.0)) is not None]
                break
            self._heights["stem"] = min(found) / 10.0 if found else None
        return self._heights["stem"]

    def placed(self, glyph: int, box: GlyphBox, scale: Scale, reader: PathReader) -> Box:
        """The ink of a glyph standing at the origin. Set at a slant, its outline is asked: its box would reach too far."""
        a, b, c, d = scale
        slanted = min(abs(a) + abs(d), abs(b) + abs(c)) > SLANTED * (abs(a) + abs(b) + abs(c) + abs(d))
        if not slanted or self.type3:
            return Matrix(a, b, c, d).box(Box(*box))
        key = (glyph, *[round(number, 6) for number in scale])
        if key not in self._turned:
            path = m.ll_fz_outline_glyph(self.engine, glyph, UPRIGHT)
            try:
                found = box_of(reader.read(path, (*scale, 0.0, 0.0), STROKE_CHORD_MM)) if path else EMPTY
            finally:
                m.ll_fz_drop_path(path)
            self._turned[key] = Matrix(a, b, c, d).box(Box(*box)) if found.is_empty else found
        return self._turned[key]

    def _outlines_of(self, letters: str) -> Iterator[tuple[int, GlyphBox]]:
        if self.type3:
            return
        for letter in map(ord, letters):
            glyph = self.letters.get(letter) or m.ll_fz_encode_character(self.engine, letter)
            if glyph > 0:
                box = self.boxes[glyph] if glyph in self.boxes else self.glyph_box(glyph, letter)
                if box:
                    yield glyph, box


UPRIGHT = m.ll_fz_make_matrix(1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


@dataclass(slots=True)
class Line:
    """Glyphs of one line: counts, the box of their ink (a point without ink), and where each glyph stands, for Type 3."""

    glyphs: int = 0
    inked: int = 0
    missing: int = 0
    box: Box = EMPTY
    at: Point = (0.0, 0.0)
    places: list[tuple[int, float, float]] = field(default_factory=list)

    def settled(self, x0: float, y0: float, x1: float, y1: float) -> Line:
        """With the box of its ink, or where it stands if it has none."""
        self.box = Box(x0, y0, x1, y1) if self.inked else Box(*self.at, *self.at)
        return self


@dataclass(slots=True)
class Span:
    """One font at one size: its face, its scale after every matrix, and its lines."""

    face: Face
    size_mm: float
    #: Height across the line of one size.
    height_mm: float
    #: The four scale numbers from size 1 to the page.
    scale: Scale
    lines: list[Line]


class TextReader:
    """Reads shown text while one page is traced; ``close`` lets go of the engine's fonts."""

    def __init__(self, paths: PathReader) -> None:
        self.paths = paths
        self.items = ItemReader()
        self.faces: dict[int, Face] = {}

    def close(self) -> None:
        for face in self.faces.values():
            m.ll_fz_drop_font(face.engine)
        self.faces.clear()

    def spans(self, text: Any, matrix: Numbers) -> Iterator[Span]:
        """The spans of one shown text; ``matrix`` leads from the text's space to the page."""
        span = text.head
        while span:
            if span.len:
                yield self._span(span, matrix)
            span = span.next

    def _face(self, font: Any) -> Face:
        address = address_of(font)
        face = self.faces.get(address)
        if face is None:
            kept = m.ll_fz_keep_font(font)
            name = str(m.ll_fz_font_name(font) or "")
            face = Face(kept, name, type3=bool(m.ll_fz_font_t3_procs(font)))
            self.faces[address] = face
        return face

    def _span(self, span: Any, matrix: Numbers) -> Span:
        face = self._face(span.font)
        trm = span.trm
        a, b, c, d, e, f = matrix
        ta, tb, tc, td = trm.a, trm.b, trm.c, trm.d
        sa, sb, sc, sd = a * ta + c * tb, b * ta + d * tb, a * tc + c * td, b * tc + d * td
        along = math.hypot(sa, sb)
        across = abs(sa * sd - sb * sc) / along if along else math.hypot(sc, sd)
        lines: list[Line] = []
        line = Line()
        x0, y0, x1, y1 = EMPTY
        # Unit vector of the line's direction, to tell lines and columns apart.
        ux, uy = (sa / along, sb / along) if along else (1.0, 0.0)
        if span.wmode:
            ux, uy = uy, -ux
        size = max(along, across, 1e-9)
        is_flat = min(along, across) < FLAT_MM
        off_last = far_last = math.inf
        boxes, letters_of = face.boxes, face.glyph_box
        placed = face.at_scale.setdefault((sa, sb, sc, sd), {})
        for x, y, glyph, letter in self.items.items(span):
            if glyph < 0:
                continue  # a second letter of one glyph: nothing is drawn for it
            px, py = a * x + c * y + e, b * x + d * y + f
            off, far = py * ux - px * uy, px * ux + py * uy
            if line.glyphs and (abs(off - off_last) > NEW_LINE * size or abs(far - far_last) > NEW_COLUMN * size):
                lines.append(line.settled(x0, y0, x1, y1))
                line = Line()
                x0, y0, x1, y1 = EMPTY
            off_last, far_last = off, far
            if not line.glyphs:
                line.at = px, py
            line.glyphs += 1
            box = boxes[glyph] if glyph in boxes else letters_of(glyph, letter)
            if not face.type3 and (_is_lost(letter, box) if glyph == 0 else face.stands_in(glyph, letter)):
                line.missing += 1
            if face.type3:
                line.places.append((glyph, px, py))
            if box is None or is_flat:
                continue
            line.inked += 1
            ink = placed.get(glyph)
            if ink is None:
                ink = placed[glyph] = face.placed(glyph, box, (sa, sb, sc, sd), self.paths)
            left, top, right, bottom = ink
            x0, y0 = min(x0, px + left), min(y0, py + top)
            x1, y1 = max(x1, px + right), max(y1, py + bottom)
        if line.glyphs:
            lines.append(line.settled(x0, y0, x1, y1))
        return Span(face, min(along, across), across, (sa, sb, sc, sd), lines)


def _is_lost(letter: int, box: GlyphBox | None) -> bool:
    """Whether glyph 0 stands where a letter should: it shows its own box, or nothing where a letter or digit is meant."""
    if letter in _SPACES:
        return False
    return box is not None or (letter > 0x20 and letter != _NO_LETTER and chr(letter).isalnum())
