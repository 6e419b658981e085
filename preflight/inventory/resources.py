"""What a page really uses: every resource that its content names, through forms, patterns, Type 3 glyphs, soft masks and annotations.

A resource dictionary lists more than a page uses, so names are looked for in the content itself (``/Name Do``, ``/Name gs``, ``/Name 12
Tf`` ...; ISO 32000-2, 7.8 and Annex A). Each object is visited once; nesting and number are bounded, and what was cut off is
said (``cut``). Layers are not asked: a resource on a hidden layer is used.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from preflight.inventory.objects import (
    clean_text,
    entries_of,
    entry,
    is_array,
    is_dictionary,
    is_stream,
    items_of,
    keys_of,
    name_of,
    number_of,
    object_number,
    one_or_more,
    plain_key,
)

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

MOST_USES = 20_000
DEEPEST = 40

_NAMED = re.compile(
    rb"/([^\x00-\x20/<>\[\](){}%]+)\s+(?:(Do|gs|sh|cs|CS|scn|SCN)|[-+.0-9]+\s+(Tf))(?=[\x00-\x20/<>\[\](){}%]|$)"
)
_IN_INLINE_IMAGE = re.compile(rb"/(?:CS|ColorSpace)\s*/([^\x00-\x20/<>\[\](){}%]+)")
_MARKED = re.compile(rb"/OC\s*/([^\x00-\x20/<>\[\](){}%]+)\s+(?:BDC|DP)")
_CATEGORIES = {
    b"Do": "XObject", b"gs": "ExtGState", b"sh": "Shading", b"cs": "ColorSpace", b"CS": "ColorSpace",
    b"scn": "Pattern", b"SCN": "Pattern", b"Tf": "Font",
}  # fmt: skip
#: Colour spaces that need no resource (Table 62; the short ones inside inline images only, Table 90).
_BUILT_IN_SPACES = {
    "DeviceGray",
    "DeviceRGB",
    "DeviceCMYK",
    "Pattern",
    "G",
    "RGB",
    "CMYK",
    "I",
    "Indexed",
    "CalRGB",
    "CalGray",
    "CalCMYK",
}
_HEX = re.compile(rb"#([0-9A-Fa-f]{2})")


@dataclass(frozen=True)
class Use:
    """One resource in use. ``thing`` is ``None`` where the content names something that is not there."""

    category: str
    name: str
    thing: Any
    #: What it is nested in: ``form``, ``pattern``, ``type3``, ``soft-mask``, ``annotation``.
    inside: tuple[str, ...] = ()


@dataclass
class PageUses:
    """Everything one page uses; ``faults``: content that could not be read; ``cut``: why not everything was looked at."""

    uses: list[Use] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    cut: str | None = None

    def of(self, *categories: str) -> Iterator[Use]:
        return (use for use in self.uses if use.category in categories)


class UsesCutOff(Exception):
    """A page uses more, or nests deeper, than is looked through."""


def all_uses_of(artwork: Artwork, number: int) -> PageUses:
    """The same as ``uses_of``; raises ``UsesCutOff`` where that is not everything."""
    found = uses_of(artwork, number)
    if found.cut:
        raise UsesCutOff(f"page {number}: {found.cut}")
    return found


def uses_of(artwork: Artwork, number: int) -> PageUses:
    """What a page uses; kept until another page is asked for."""
    if artwork.last_uses is None or artwork.last_uses[0] != number:
        artwork.last_uses = number, _Walk(artwork, number).walked()
    uses: PageUses = artwork.last_uses[1]
    return uses


def content_of(thing: Any) -> bytes:
    """The content of a stream, or of an array of streams joined as ISO 32000-2, 7.8.2 says. Raises what the decoder raises."""
    return b"\n".join(stream.read_bytes() for stream in one_or_more(thing) if is_stream(stream))


def printing_appearances(page: Any) -> Iterator[Any]:
    """The appearance streams of annotations that print (Print set, Hidden and NoView as in ISO 32000-2, Table 167)."""
    for annotation in items_of(entry(page, "/Annots")):
        if will_print(annotation) and (appearance := appearance_of(annotation)) is not None:
            yield appearance


def will_print(annotation: Any) -> bool:
    """Flagged to print (bit 3) and not hidden (bit 2); popups never print (12.5.6.14)."""
    flags = int(number_of(entry(annotation, "/F")) or 0)
    return bool(flags & 4) and not flags & 2 and name_of(entry(annotation, "/Subtype")) != "Popup"


def appearance_of(annotation: Any) -> Any:
    """The normal appearance in its present state; ``None`` where there is none."""
    normal = entry(annotation, "/AP", "/N")
    if is_stream(normal):
        return normal
    state = name_of(entry(annotation, "/AS"))
    for key, value in entries_of(normal):
        if state is not None and plain_key(key) == state and is_stream(value):
            return value
    return None


class _Walk:
    """One look through a page. Objects wait in a list, so that nothing nests in Python itself."""

    def __init__(self, artwork: Artwork, number: int) -> None:
        self.page = artwork.page(number)
        self.result = PageUses()
        self.seen: set[tuple[str, int]] = set()
        self.waiting: list[tuple[Use, tuple[Any, ...]]] = []
        form = entry(artwork.pdf.Root if artwork.pdf else None, "/AcroForm", "/DR")
        self.form_resources = (form,) if form is not None else ()

    def walked(self) -> PageUses:
        resources = (self.page.value("/Resources"),)
        self._content("page content", entry(self.page.dictionary, "/Contents"), resources, ())
        self._group(self.page.dictionary, ())
        for appearance in printing_appearances(self.page.dictionary):
            self._add(Use("XObject", "appearance", appearance, ("annotation",)), (*self.form_resources, *resources))
        while self.waiting:
            if len(self.result.uses) > MOST_USES:
                self.result.cut = f"the page uses more than {MOST_USES} resources"
                break
            self._follow(*self.waiting.pop())
        return self.result

    def _add(self, use: Use, resources: tuple[Any, ...]) -> None:
        """Notes a use; its own parts are looked at later, once each."""
        number = object_number(use.thing)
        if number is not None:
            if (use.category, number) in self.seen:
                return
            self.seen.add((use.category, number))
        if len(use.inside) > DEEPEST:
            self.result.cut = f"resources nested deeper than {DEEPEST}"
            return
        self.result.uses.append(use)
        if use.thing is not None:
            self.waiting.append((use, resources))

    def _content(self, what: str, thing: Any, resources: tuple[Any, ...], inside: tuple[str, ...]) -> None:
        """Notes everything that a content stream names; ``resources`` are looked through from the last to the first."""
        for stream in one_or_more(thing):
            if is_stream(stream):
                self._add(Use("Content", what, stream, inside), ())
        try:
            content = content_of(thing)
        except MemoryError:
            raise
        except Exception:
            self.result.faults.append(f"{what} cannot be decoded")
            return
        named = {
            (_CATEGORIES[operator or font], _HEX.sub(_unescaped, name))
            for name, operator, font in _NAMED.findall(content)
        }
        named |= {("ColorSpace", _HEX.sub(_unescaped, name)) for name in _IN_INLINE_IMAGE.findall(content)}
        named |= {("Properties", _HEX.sub(_unescaped, name)) for name in _MARKED.findall(content)}
        for category, raw in sorted(named):
            self._named(category, clean_text(raw), resources, inside)
        for key, value in entries_of(entry(resources[-1] if resources else None, "/ColorSpace")):
            # These stand in for device colours without being named.
            if key in ("/DefaultGray", "/DefaultRGB", "/DefaultCMYK"):
                self._add(Use("ColorSpace", plain_key(key), value, inside), resources)

    def _named(self, category: str, name: str, resources: tuple[Any, ...], inside: tuple[str, ...]) -> None:
        for holder in reversed(resources):
            thing = _find(entry(holder, f"/{category}"), name)
            if thing is not None:
                self._add(Use(category, name, thing, inside), resources)
                return
        if category == "ColorSpace" and name in _BUILT_IN_SPACES:
            return
        if category != "Properties":
            self.result.uses.append(Use(category, name, None, inside))

    def _follow(self, use: Use, resources: tuple[Any, ...]) -> None:
        thing, inside = use.thing, use.inside
        if use.category == "XObject":
            if name_of(entry(thing, "/Subtype")) == "Image":
                self._image(use, resources)
            elif is_stream(thing):
                self._form(use, resources, "form" if "annotation" not in inside[-1:] else "")
        elif use.category == "Font":
            self._font(use, resources)
        elif use.category == "Pattern":
            if is_stream(thing):
                self._form(use, resources, "pattern")
            else:
                self._part("Shading", use, entry(thing, "/Shading"), resources)
                self._part("ExtGState", use, entry(thing, "/ExtGState"), resources)
        elif use.category == "ExtGState":
            mask = entry(thing, "/SMask")
            if is_dictionary(mask):
                self._add(Use("XObject", f"{use.name} soft mask", entry(mask, "/G"), (*inside, "soft-mask")), resources)
            font = items_of(entry(thing, "/Font"))
            if font:
                self._add(Use("Font", use.name, font[0], inside), resources)
        elif use.category == "Shading":
            self._space(use, entry(thing, "/ColorSpace"), resources)
        elif use.category == "ColorSpace":
            self._space_parts(use, resources)

    def _part(self, category: str, use: Use, thing: Any, resources: tuple[Any, ...]) -> None:
        if thing is not None:
            self._add(Use(category, use.name, thing, (*use.inside, "pattern")), resources)

    def _form(self, use: Use, resources: tuple[Any, ...], step: str) -> None:
        own = entry(use.thing, "/Resources")
        inside = (*use.inside, step) if step else use.inside
        self._content(
            f"the content of {use.name}", use.thing, (*resources, own) if own is not None else resources, inside
        )
        self._group(use.thing, inside)

    def _group(self, holder: Any, inside: tuple[str, ...]) -> None:
        space = entry(holder, "/Group", "/CS")
        if space is not None:
            self._space(Use("Group", "group", None, inside), space, ())

    def _image(self, use: Use, resources: tuple[Any, ...]) -> None:
        self._space(use, entry(use.thing, "/ColorSpace"), resources)
        for key in ("/SMask", "/Mask"):
            mask = entry(use.thing, key)
            if is_stream(mask):
                self._add(Use("Mask", f"{use.name} mask", mask, use.inside), resources)

    def _font(self, use: Use, resources: tuple[Any, ...]) -> None:
        if name_of(entry(use.thing, "/Subtype")) != "Type3":
            return
        own = entry(use.thing, "/Resources")
        inside = (*use.inside, "type3")
        for key, glyph in entries_of(entry(use.thing, "/CharProcs")):
            self._content(
                f"letter {plain_key(key)} of {use.name}",
                glyph,
                (*resources, own) if own is not None else resources,
                inside,
            )

    def _space(self, use: Use, space: Any, resources: tuple[Any, ...]) -> None:
        """A colour space given in place: an array, or the name of one among the resources."""
        if is_array(space):
            self._add(Use("ColorSpace", use.name, space, use.inside), resources)
        elif (name := name_of(space)) is not None and name not in _BUILT_IN_SPACES:
            self._named("ColorSpace", name, resources, use.inside)

    def _space_parts(self, use: Use, resources: tuple[Any, ...]) -> None:
        parts = items_of(use.thing)
        family = name_of(parts[0]) if parts else None
        inside = (*use.inside, "space")
        if family == "ICCBased" and len(parts) > 1 and is_stream(parts[1]):
            self._add(Use("Profile", use.name, parts[1], inside), resources)
        if family in ("Indexed", "I", "Pattern") and len(parts) > 1:
            self._space(Use("ColorSpace", use.name, None, inside), parts[1], resources)
        if family in ("Separation", "DeviceN") and len(parts) > 2:
            self._space(Use("ColorSpace", use.name, None, inside), parts[2], resources)
        if family == "DeviceN" and len(parts) > 4:
            for key, spot in entries_of(entry(parts[4], "/Colorants")):
                self._space(Use("ColorSpace", plain_key(key), None, inside), spot, resources)


def _find(holder: Any, name: str) -> Any:
    """A resource by its cleaned name."""
    plain = entry(holder, f"/{name}") if name.isascii() else None
    if plain is not None:
        return plain
    for key in keys_of(holder):
        if plain_key(key) == name:
            return entry(holder, key)
    return None


def _unescaped(found: re.Match[bytes]) -> bytes:
    return bytes([int(found[1], 16)])
