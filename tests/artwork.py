"""Makes PDFs in code, so that a test knows the truth about its artwork.

Lengths are millimetres. Content streams are written in a space of points whose origin is the *bottom left corner of the
trim* (``Book.page`` shifts it there), so that numbers in tests stay readable. ``mm(10)`` is ten millimetres in points.
"""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream

PT_PER_MM = 72.0 / 25.4


def mm(value: float) -> float:
    """Points of a length in millimetres, rounded as a layout program would."""
    return round(value * PT_PER_MM, 4)


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> str:
    """A rectangle path, lower left corner and size in millimetres from the trim's lower left."""
    return f"{mm(x_mm)} {mm(y_mm)} {mm(width_mm)} {mm(height_mm)} re"


class Book:
    """A PDF under construction."""

    def __init__(self) -> None:
        self.pdf = Pdf.new()

    def page(
        self,
        content: str | bytes = "",
        *,
        trim_mm: tuple[float, float] | None = (100.0, 80.0),
        bleed_mm: float | None = 3.0,
        margin_mm: float = 10.0,
        resources: dict[str, Any] | None = None,
        boxes: dict[str, list[float]] | None = None,
        **entries: Any,
    ) -> pikepdf.Page:
        """Adds a page: trim box, bleed box (none where ``bleed_mm`` is None), media box ``margin_mm`` past the trim.

        ``boxes`` sets or (with None) removes boxes outright; ``entries`` go into the page dictionary (``Rotate=90``).
        """
        width, height = trim_mm or (100.0, 80.0)
        pad = mm(margin_mm)
        self.pdf.add_blank_page(page_size=(mm(width) + 2 * pad, mm(height) + 2 * pad))
        page = self.pdf.pages[-1]
        if trim_mm is not None:
            page.obj.TrimBox = Array([pad, pad, pad + mm(width), pad + mm(height)])
        if bleed_mm is not None:
            past = pad - mm(bleed_mm)
            page.obj.BleedBox = Array([past, past, 2 * pad + mm(width) - past, 2 * pad + mm(height) - past])
        for key, value in (boxes or {}).items():
            if value is None:
                if Name("/" + key) in page.obj:
                    del page.obj[Name("/" + key)]
            else:
                page.obj[Name("/" + key)] = Array(value)
        body = content.encode("latin-1") if isinstance(content, str) else content
        page.obj.Contents = self.stream(b"1 0 0 1 %.4f %.4f cm\n" % (pad, pad) + body)
        page.obj.Resources = self.resources(resources or {})
        for key, value in entries.items():
            page.obj[Name("/" + key)] = value
        return page

    def resources(self, named: dict[str, Any]) -> Dictionary:
        """A resource dictionary from names to objects, sorted into categories by what each object is."""
        result = Dictionary()
        for name, thing in named.items():
            category = _category(thing)
            if category not in result:
                result[category] = Dictionary()
            result[category][Name("/" + name)] = thing
        return result

    def stream(self, data: bytes, *, compress: bool = False, **entries: Any) -> Any:
        stream = Stream(self.pdf, zlib.compress(data) if compress else data)
        for key, value in entries.items():
            stream[Name("/" + key)] = value
        if compress:
            stream.Filter = Name.FlateDecode
        return self.pdf.make_indirect(stream)

    def image(
        self,
        width: int,
        height: int,
        *,
        space: Any = Name.DeviceCMYK,
        bits: int = 8,
        data: bytes | None = None,
        **entries: Any,
    ) -> Any:
        """An image XObject; without ``data`` a busy texture (so that it is not flat)."""
        parts = _components(space)
        if data is None:
            row = (width * parts * bits + 7) // 8
            data = bytes((x * 37 + y * 59 + x * y) % 251 for y in range(height) for x in range(row))
        extra: dict[str, Any] = {} if entries.get("ImageMask") else {"ColorSpace": space}
        return self.stream(
            data,
            compress=True,
            Type=Name.XObject,
            Subtype=Name.Image,
            Width=width,
            Height=height,
            BitsPerComponent=bits,
            **extra,
            **entries,
        )

    def form(self, content: str, *, resources: dict[str, Any] | None = None, **entries: Any) -> Any:
        """A form XObject; its BBox is large enough not to clip unless given."""
        entries.setdefault("BBox", Array([-5000, -5000, 5000, 5000]))
        return self.stream(
            content.encode("latin-1"),
            Type=Name.XObject,
            Subtype=Name.Form,
            Resources=self.resources(resources or {}),
            **entries,
        )

    def tiling(
        self, content: str, *, cell: tuple[float, float], resources: dict[str, Any] | None = None, **entries: Any
    ) -> Any:
        """A coloured tiling pattern with a cell of ``cell`` points."""
        return self.stream(
            content.encode("latin-1"),
            Type=Name.Pattern,
            PatternType=1,
            PaintType=1,
            TilingType=1,
            BBox=Array([0, 0, *cell]),
            XStep=cell[0],
            YStep=cell[1],
            Resources=self.resources(resources or {}),
            **entries,
        )

    def spot(self, name: str, recipe: tuple[float, ...] = (0.8, 0.1, 0.9, 0.2)) -> Array:
        """A Separation space with a linear tint transform into CMYK."""
        return Array([Name.Separation, Name("/" + name), Name.DeviceCMYK, _linear([0.0] * len(recipe), list(recipe))])

    def device_n(self, names: list[str]) -> Array:
        """A DeviceN space whose tint transform folds every ink into black (a preview only)."""
        drop = "pop " * len(names)
        function = self.stream(
            f"{{ {drop}0 0 0 0.5 }}".encode(),
            FunctionType=4,
            Domain=Array([0, 1] * len(names)),
            Range=Array([0, 1] * 4),
        )
        return Array([Name.DeviceN, Array([Name("/" + name) for name in names]), Name.DeviceCMYK, function])

    def state(self, **entries: Any) -> Dictionary:
        """An ExtGState dictionary: ``state(OP=True, op=True, OPM=1)``."""
        return Dictionary(Type=Name.ExtGState, **entries)

    def layer(self, name: str, *, on: bool = True, **entries: Any) -> Any:
        """An optional-content group, switched on or off in the default configuration."""
        group = self.pdf.make_indirect(Dictionary(Type=Name.OCG, Name=name, **entries))
        if "/OCProperties" not in self.pdf.Root:
            self.pdf.Root.OCProperties = Dictionary(OCGs=Array(), D=Dictionary(ON=Array(), OFF=Array(), Order=Array()))
        properties = self.pdf.Root.OCProperties
        properties.OCGs.append(group)
        (properties.D.ON if on else properties.D.OFF).append(group)
        return group

    def base_font(self, name: str = "Helvetica") -> Dictionary:
        """One of the base 14 fonts, not embedded."""
        return Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name("/" + name), Encoding=Name.WinAnsiEncoding)

    def embedded_font(self, path: Path) -> Any:
        """A TrueType font embedded whole, WinAnsi encoding, real widths."""
        import pymupdf

        font = pymupdf.Font(fontfile=str(path))
        data = path.read_bytes()
        widths = [round(font.glyph_advance(code) * 1000) for code in range(32, 127)]
        file = self.stream(data, compress=True, Length1=len(data))
        name = Name("/" + font.name.replace(" ", "-"))
        descriptor = self.pdf.make_indirect(
            Dictionary(
                Type=Name.FontDescriptor,
                FontName=name,
                Flags=32,
                FontBBox=Array([-500, -300, 1500, 1000]),
                ItalicAngle=0,
                Ascent=900,
                Descent=-250,
                CapHeight=700,
                StemV=80,
                FontFile2=file,
            )
        )
        return self.pdf.make_indirect(
            Dictionary(
                Type=Name.Font,
                Subtype=Name.TrueType,
                BaseFont=name,
                Encoding=Name.WinAnsiEncoding,
                FirstChar=32,
                LastChar=126,
                Widths=Array(widths),
                FontDescriptor=descriptor,
            )
        )

    def type3_font(self, glyphs: dict[str, str], *, resources: dict[str, Any] | None = None) -> Any:
        """A Type 3 font with glyph procedures by letter, 1000 units to the em (start them with d0 or d1)."""
        procs = Dictionary()
        for letter, content in glyphs.items():
            procs[Name("/" + letter)] = self.stream(content.encode("latin-1"))
        codes = [ord(letter) for letter in glyphs]
        differences = Array([item for letter in glyphs for item in (ord(letter), Name("/" + letter))])
        return self.pdf.make_indirect(
            Dictionary(
                Type=Name.Font,
                Subtype=Name.Type3,
                FontBBox=Array([0, 0, 1000, 1000]),
                FontMatrix=Array([0.001, 0, 0, 0.001, 0, 0]),
                CharProcs=procs,
                Encoding=Dictionary(Type=Name.Encoding, Differences=differences),
                FirstChar=min(codes),
                LastChar=max(codes),
                Widths=Array([1000] * (max(codes) - min(codes) + 1)),
                Resources=self.resources(resources or {}),
            )
        )

    def icc(self, path: Path, components: int) -> Array:
        """An ICCBased space from a profile file."""
        return Array([Name.ICCBased, self.stream(path.read_bytes(), compress=True, N=components)])

    def output_intent(self, identifier: str, profile: Path | None = None) -> None:
        """A PDF/X output intent for a CMYK condition."""
        intent = Dictionary(
            Type=Name.OutputIntent, S=Name.GTS_PDFX, OutputConditionIdentifier=identifier, Info=identifier
        )
        if profile is not None:
            intent.DestOutputProfile = self.stream(profile.read_bytes(), compress=True, N=4)
        self.pdf.Root.OutputIntents = Array([self.pdf.make_indirect(intent)])

    def save(self, path: Path) -> Path:
        self.pdf.save(path, deterministic_id=True)
        return path


def _components(space: Any) -> int:
    """Numbers a colour takes in a space given by name or as an array."""
    if not isinstance(space, Array):
        return {"/DeviceCMYK": 4, "/DeviceRGB": 3}.get(str(space), 1)
    family = str(space[0])
    if family == "/ICCBased":
        return int(space[1].N)
    if family == "/DeviceN":
        return len(space[1])
    return 3 if family in ("/CalRGB", "/Lab") else 1


def _linear(low: list[float], high: list[float]) -> Dictionary:
    return Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array(low), C1=Array(high), N=1)


def _category(thing: Any) -> str:
    if isinstance(thing, pikepdf.Array):
        return "/ColorSpace"
    kind = str(thing.get("/Type", ""))
    if kind == "/Font":
        return "/Font"
    if kind == "/ExtGState":
        return "/ExtGState"
    if kind in ("/OCG", "/OCMD"):
        return "/Properties"
    if kind == "/Pattern":
        return "/Pattern"
    if "/ShadingType" in thing:
        return "/Shading"
    return "/XObject"
