"""Draws the demo scene's pages: text in embedded fonts, flat and spot colours, leaves, ferns and crop marks.

Lengths are millimetres from the bottom left corner of the trim, type and line sizes points. A colour is four inks in
percent, three numbers 0 to 1 for RGB, or a spot ink's name with its tint in percent.
"""

from __future__ import annotations

import math
import re
import zlib
from pathlib import Path
from typing import Any

import pymupdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream

Colour = tuple[float, ...] | tuple[str, float]

PT_PER_MM = 72.0 / 25.4
PAPER: Colour = (0.0, 0.0, 0.0, 0.0)
BLACK: Colour = (0.0, 0.0, 0.0, 100.0)
MOSS: Colour = (75.0, 25.0, 90.0, 15.0)
SAGE: Colour = (30.0, 5.0, 40.0, 0.0)
CLAY: Colour = (10.0, 55.0, 75.0, 10.0)

#: The engine's own copies of the base fonts: free to embed, and on every machine that has the engine.
FONTS = {
    "text": ("tiro", "NimbusRoman-Regular", "Times-Roman"),
    "slant": ("tiit", "NimbusRoman-Italic", "Times-Italic"),
    "head": ("hebo", "NimbusSans-Bold", "Helvetica-Bold"),
    "plain": ("helv", "NimbusSans-Regular", "Helvetica"),
}
_LOADED: dict[str, pymupdf.Font] = {}


#: Modules of each digit in set A; set C is its opposite, set B is C backwards. Which sets the left digits are of tells the first one.
_DIGITS = ("0001101", "0011001", "0010011", "0111101", "0100011", "0110001", "0101111", "0111011", "0110111", "0001011")
_SETS = ("AAAAAA", "AABABB", "AABBAB", "AABBBA", "ABAABB", "ABBAAB", "ABBBAA", "ABABAB", "ABABBA", "ABBABA")


def _bars_of(number: str) -> list[tuple[int, int]]:
    """The bars of an EAN-13 number in modules: where each begins, and how wide it is."""
    opposite = [digit.translate(str.maketrans("01", "10")) for digit in _DIGITS]
    left = [
        _DIGITS[int(digit)] if kind == "A" else opposite[int(digit)][::-1]
        for digit, kind in zip(number[1:7], _SETS[int(number[0])], strict=True)
    ]
    right = [opposite[int(digit)] for digit in number[7:]]
    modules = "101" + "".join(left) + "01010" + "".join(right) + "101"
    return [(run.start(), len(run.group())) for run in re.finditer("1+", modules)]


def _font(role: str) -> pymupdf.Font:
    if role not in _LOADED:
        _LOADED[role] = pymupdf.Font(FONTS[role][0])
    return _LOADED[role]


def _pt(length_mm: float) -> str:
    return f"{length_mm * PT_PER_MM:.3f}"


class Artwork:
    """One PDF under construction; with ``embed`` off its fonts are only named, as base fonts."""

    def __init__(self, title: str, *, intent: str | None = "FOGRA39", embed: bool = True) -> None:
        self.pdf = Pdf.new()
        self.embed = embed
        self.pdf.docinfo["/Title"] = title
        self._fonts: dict[str, Any] = {}
        if intent:
            self.pdf.Root.OutputIntents = Array(
                [
                    Dictionary(
                        Type=Name.OutputIntent,
                        S=Name.GTS_PDFX,
                        OutputConditionIdentifier=intent,
                        RegistryName="http://www.color.org",
                    )
                ]
            )

    def page(
        self,
        trim_mm: tuple[float, float],
        *,
        bleed_mm: float | tuple[float, float, float, float] = 3.0,
        margin_mm: float | tuple[float, float, float, float] = 10.0,
    ) -> Page:
        """A page; bleed and margin past the trim are left, top, right, bottom, or one figure for all."""
        left, top, right, bottom = margin_mm if isinstance(margin_mm, tuple) else (margin_mm,) * 4
        past = bleed_mm if isinstance(bleed_mm, tuple) else (bleed_mm,) * 4
        width, height = trim_mm
        size = ((left + width + right) * PT_PER_MM, (bottom + height + top) * PT_PER_MM)
        page = self.pdf.add_blank_page(page_size=size)
        x, y = left * PT_PER_MM, bottom * PT_PER_MM
        far_x, far_y = x + width * PT_PER_MM, y + height * PT_PER_MM
        ends = [edge * PT_PER_MM for edge in past]
        page.obj.TrimBox = _box(x, y, far_x, far_y)
        page.obj.BleedBox = _box(x - ends[0], y - ends[3], far_x + ends[2], far_y + ends[1])
        return Page(self, page.obj, trim_mm, (x, y))

    def font(self, role: str) -> Any:
        """A font embedded whole, with the widths it really has (or only named)."""
        if role not in self._fonts:
            self._fonts[role] = self._embedded(role) if self.embed else self._named(role)
        return self._fonts[role]

    def _named(self, role: str) -> Any:
        base = Name("/" + FONTS[role][2])
        plain = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=base, Encoding=Name.WinAnsiEncoding)
        return self.pdf.make_indirect(plain)

    def _embedded(self, role: str) -> Any:
        font, name = _font(role), Name("/" + FONTS[role][1])
        program = self.stream(font.buffer, Subtype=Name.Type1C)
        box = [round(1000 * edge) for edge in (font.bbox.x0, font.bbox.y0, font.bbox.x1, font.bbox.y1)]
        descriptor = Dictionary(
            Type=Name.FontDescriptor,
            FontName=name,
            Flags=96 if font.is_italic else 32,
            FontBBox=Array(box),
            ItalicAngle=-12 if font.is_italic else 0,
            Ascent=round(1000 * font.ascender),
            Descent=round(1000 * font.descender),
            CapHeight=700,
            StemV=140 if font.is_bold else 80,
            FontFile3=program,
        )
        widths = [round(1000 * font.glyph_advance(ord(bytes([code]).decode("cp1252", "replace")))) for code in _CODES]
        return self.pdf.make_indirect(
            Dictionary(
                Type=Name.Font,
                Subtype=Name.Type1,
                BaseFont=name,
                Encoding=Name.WinAnsiEncoding,
                FirstChar=_CODES.start,
                LastChar=_CODES.stop - 1,
                Widths=Array(widths),
                FontDescriptor=self.pdf.make_indirect(descriptor),
            )
        )

    def picture(self, data: bytes, size_px: tuple[int, int], inks: int = 4) -> Any:
        """A JPEG as a picture object (four inks stand inverted in it)."""
        space = {4: Name.DeviceCMYK, 3: Name.DeviceRGB, 1: Name.DeviceGray}[inks]
        extra = {"Decode": Array([1, 0] * 4)} if inks == 4 else {}
        return self.stream(
            data,
            packed=False,
            Type=Name.XObject,
            Subtype=Name.Image,
            Width=size_px[0],
            Height=size_px[1],
            BitsPerComponent=8,
            ColorSpace=space,
            Filter=Name.DCTDecode,
            **extra,
        )

    def stream(self, data: bytes, *, packed: bool = True, **entries: Any) -> Any:
        stream = Stream(self.pdf, zlib.compress(data, 9) if packed else data)
        for key, value in entries.items():
            stream[Name("/" + key)] = value
        if packed:
            stream.Filter = Name.FlateDecode
        return self.pdf.make_indirect(stream)

    def save(self, path: Path, **options: Any) -> Path:
        """Writes the file: same content, same bytes."""
        self.pdf.save(path, **{"deterministic_id": True, **options})
        self.pdf.close()
        return path


_CODES = range(32, 256)


def _box(*corners: float) -> Array:
    return Array([round(corner, 3) for corner in corners])


class Page:
    """One page as it is drawn; every call adds to it, ``done`` closes it."""

    def __init__(
        self, artwork: Artwork, obj: Any, trim_mm: tuple[float, float], origin_pt: tuple[float, float]
    ) -> None:
        self.artwork, self.obj, self.trim_mm = artwork, obj, trim_mm
        self._operators = [f"1 0 0 1 {origin_pt[0]:.3f} {origin_pt[1]:.3f} cm"]
        self._named: dict[str, dict[str, Any]] = {}

    def done(self) -> None:
        self.obj.Contents = self.artwork.stream("\n".join(self._operators).encode("cp1252"))
        self.obj.Resources = Dictionary(
            {
                f"/{category}": Dictionary({f"/{name}": thing for name, thing in things.items()})
                for category, things in self._named.items()
            }
        )

    def raw(self, operators: str) -> Page:
        self._operators.append(operators)
        return self

    def name(self, category: str, name: str, thing: Any) -> str:
        """Enters a thing into the page's resources."""
        self._named.setdefault(category, {})[name] = thing
        return f"/{name}"

    def state(self, name: str, **entries: Any) -> Page:
        """Switches a graphics state on, such as overprint."""
        self.name("ExtGState", name, Dictionary(Type=Name.ExtGState, **entries))
        return self.raw(f"/{name} gs")

    def colour(self, colour: Colour, *, line: bool = False) -> Page:
        if isinstance(colour[0], str):
            ink = self._ink(colour[0])
            return self.raw(f"/{ink} CS {colour[1] / 100:.4g} SCN" if line else f"/{ink} cs {colour[1] / 100:.4g} scn")
        if len(colour) == 3:
            return self.raw(" ".join(f"{part:.4g}" for part in colour) + (" RG" if line else " rg"))
        return self.raw(" ".join(f"{part / 100:.4g}" for part in colour) + (" K" if line else " k"))

    def _ink(self, ink: str) -> str:
        name = "Ink" + "".join(letter for letter in ink if letter.isalnum())
        if name not in self._named.get("ColorSpace", {}):
            full = [1, 1, 1, 1] if ink == "All" else [0.1, 0.9, 0.1, 0] if "Line" in ink else [0.8, 0.2, 0.9, 0.1]
            recipe = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0, 0]), C1=Array(full), N=1)
            self.name("ColorSpace", name, Array([Name.Separation, Name("/" + ink), Name.DeviceCMYK, recipe]))
        return name

    def panel(self, x: float, y: float, width: float, height: float, colour: Colour) -> Page:
        return self.colour(colour).raw(f"{_pt(x)} {_pt(y)} {_pt(width)} {_pt(height)} re f")

    def ground(self, colour: Colour, past_mm: float = 3.0) -> Page:
        """The whole page in one colour, running past the trim."""
        width, height = self.trim_mm
        return self.panel(-past_mm, -past_mm, width + 2 * past_mm, height + 2 * past_mm, colour)

    def frame(self, x: float, y: float, width: float, height: float, colour: Colour, line_pt: float) -> Page:
        corners = f"{_pt(x)} {_pt(y)} {_pt(width)} {_pt(height)}"
        return self.colour(colour, line=True).raw(f"{line_pt:g} w {corners} re S")

    def line(self, *points: tuple[float, float], colour: Colour, line_pt: float) -> Page:
        path = " ".join(f"{_pt(x)} {_pt(y)} {'l' if turn else 'm'}" for turn, (x, y) in enumerate(points))
        return self.colour(colour, line=True).raw(f"{line_pt:g} w 1 J 1 j {path} S 0 J 0 j")

    def bars(self, x: float, y: float, number: str, module_mm: float, height: float) -> Page:
        """An EAN-13 code with its digits below (ISO/IEC 15420), lower left corner of the bars given."""
        self.colour(BLACK)
        for start, width in _bars_of(number):
            self.raw(f"{_pt(x + start * module_mm)} {_pt(y)} {_pt(width * module_mm)} {_pt(height)} re")
        size_pt = 30.0 * module_mm
        return self.raw("f").text(x + 9.0 * module_mm, y - 0.4 * size_pt, number, size_pt, BLACK, "plain")

    def picture(self, thing: Any, x: float, y: float, width: float, height: float) -> Page:
        named = self.name("XObject", f"Pic{len(self._named.get('XObject', {}))}", thing)
        return self.raw(f"q {_pt(width)} 0 0 {_pt(height)} {_pt(x)} {_pt(y)} cm {named} Do Q")

    def text(self, x: float, y: float, words: str, size_pt: float, colour: Colour = BLACK, role: str = "text") -> Page:
        self.name("Font", role, self.artwork.font(role))
        safe = words.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
        return self.colour(colour).raw(f"BT /{role} {size_pt:g} Tf {_pt(x)} {_pt(y)} Td ({safe}) Tj ET")

    def paragraph(
        self,
        x: float,
        y: float,
        width: float,
        words: str,
        size_pt: float = 10.0,
        colour: Colour = BLACK,
        role: str = "text",
    ) -> float:
        """Sets a paragraph ragged right from its first base line at ``y``; answers the height of the next line."""
        leading = size_pt * 1.35 / PT_PER_MM
        line = ""
        for word in words.split():
            longer = f"{line} {word}".strip()
            if line and _font(role).text_length(longer, size_pt) / PT_PER_MM > width:
                self.text(x, y, line, size_pt, colour, role)
                y, longer = y - leading, word
            line = longer
        self.text(x, y, line, size_pt, colour, role)
        return y - leading

    def leaf(self, x: float, y: float, length: float, turn_degrees: float, colour: Colour, swell: float = 1.0) -> Page:
        """A drawn leaf, its stalk at ``x``, ``y``; ``swell`` makes it broader or more slender."""
        turn = math.radians(turn_degrees)
        cos, sin = math.cos(turn), math.sin(turn)
        place = f"{cos:.4f} {sin:.4f} {-sin:.4f} {cos:.4f} {_pt(x)} {_pt(y)} cm"
        near, near_up = _pt(length * 0.25), length * 0.26 * swell
        far, far_up = _pt(length * 0.75), length * 0.2 * swell
        upper = f"{near} {_pt(near_up)} {far} {_pt(far_up)} {_pt(length)} 0 c"
        lower = f"{far} {_pt(-far_up)} {near} {_pt(-near_up)} 0 0 c"
        return self.colour(colour).raw(f"q {place} 0 0 m {upper} {lower} f Q")

    def fern(self, x: float, y: float, height: float, lean_degrees: float, colour: Colour) -> Page:
        """A fern frond: a stem that bends over, and leaflets that grow smaller towards the tip."""
        points = []
        for step in range(31):
            part = step / 30.0
            bend = math.radians(90.0 - lean_degrees * part * (1.0 + part))
            points.append((x, y, part))
            x, y = x + height / 30.0 * math.cos(bend), y + height / 30.0 * math.sin(bend)
        self.line(*[point[:2] for point in points], colour=colour, line_pt=max(1.0, height / 60.0))
        for stalk_x, stalk_y, part in points[4:]:
            # No leaflet so small that it would be a hairline.
            reach = max(3.0, height * 0.27 * math.sin(math.pi * (0.2 + 0.8 * part) ** 0.7))
            along = 90.0 - lean_degrees * part * (1.0 + part)
            self.leaf(stalk_x, stalk_y, reach, along + 64.0, colour, swell=0.36)
            self.leaf(stalk_x, stalk_y, reach, along - 64.0, colour, swell=0.36)
        return self

    def crop_marks(self, off_mm: float = 4.0, length_mm: float = 5.0) -> Page:
        """Crop marks in the colour All at the four corners, starting ``off_mm`` outside the trim."""
        width, height = self.trim_mm
        near, far = off_mm, off_mm + length_mm
        for x, away in ((0.0, -1.0), (width, 1.0)):
            for y, up in ((0.0, -1.0), (height, 1.0)):
                self.line((x + away * near, y), (x + away * far, y), colour=("All", 100.0), line_pt=0.3)
                self.line((x, y + up * near), (x, y + up * far), colour=("All", 100.0), line_pt=0.3)
        return self
