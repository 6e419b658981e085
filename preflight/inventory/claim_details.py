"""What a file holds that a PDF/X part forbids or binds, found where it lies; looked for only where a file makes a claim.

Read, not judged. Structure (whatever the pages use, on layers that do not print too) is told by ``StructureSights``; what only the
painted page tells (the colours painted, fonts without a program) and where annotations lie, by ``page_sights``. Keys are those of
ISO 32000-2; tables and clauses are named beside them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from preflight.inventory.actions import every_action
from preflight.inventory.icc import Profile, read_profile
from preflight.inventory.model import ClaimSight, FontFact, PageBoxes, Painted, SightKind
from preflight.inventory.objects import (
    entries_of,
    entry,
    is_array,
    is_dictionary,
    is_stream,
    items_of,
    name_of,
    number_of,
    object_number,
    one_or_more,
)
from preflight.inventory.resources import PageUses, Use, content_of
from preflight.units import TOLERANCE_MM, Box, PageFrame, pt_from_mm

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

WATCHED_FILTERS = {"LZWDecode", "JPXDecode", "JBIG2Decode", "Crypt"}
#: Objects looked at for filters; ``ClaimFacts.details`` says where that is not all.
MOST_OBJECTS = 200_000
_DEFAULTS = {"DefaultGray": "gray", "DefaultRGB": "rgb", "DefaultCMYK": "cmyk"}
_SHORT_FILTERS = {"LZW": "LZWDecode"}
_EXCEPTED = ("PrinterMark", "TrapNet")
_NO_MARK = ("Link", "Popup")
#: Everything that a name may stand for in an inline picture, up to its data (8.9.7).
_INLINE = re.compile(rb"(?<![^\s])BI\s(.{1,2000}?)\sID\s", re.DOTALL)
_INLINE_FILTER = re.compile(rb"/F(?:ilter)?\s*(\[[^\]]*\]|/[^\s/\[\]<>(){}%]+)")
_NAME = re.compile(rb"/([^\s/\[\]<>(){}%]+)")
#: A string handed to PostScript, an operator of the first PDF versions.
_PS_OPERATOR = re.compile(rb"[)>]\s*PS(?=\s|$)")
_FAMILIES = {
    "DeviceGray": "gray", "DeviceRGB": "rgb", "DeviceCMYK": "cmyk", "CalGray": "cal-gray", "CalRGB": "cal-rgb", "Lab": "lab",
    "ICCBased": "icc", "Indexed": "indexed", "Separation": "separation", "DeviceN": "device-n", "Pattern": "pattern",
}  # fmt: skip


class StructureSights:
    """Collects what the structure shows, page by page and then of the whole file."""

    def __init__(self) -> None:
        self._found: dict[ClaimSight, None] = {}
        self._profiles: dict[int, Profile | None] = {}
        self._placed: set[tuple[str, int | None]] = set()
        self._defaults: set[str] = set()
        self._fault: Exception | None = None

    def add_page(self, number: int, dictionary: Any, uses: PageUses) -> None:
        """Takes note of everything that one page uses. A fault is kept for ``all_of``: others look through the same pages."""
        try:
            self._page(number, dictionary, uses)
        except MemoryError:
            raise
        except Exception as fault:
            self._fault = fault

    def _page(self, number: int, dictionary: Any, uses: PageUses) -> None:
        for intent in items_of(entry(dictionary, "/OutputIntents")):
            if name_of(entry(intent, "/S")) == "GTS_PDFX":
                components = number_of(entry(intent, "/DestOutputProfile", "/N"))
                self._note("page-intent", str(int(components or 0)), number, "page")
        # These stand in for the device colours of the page (8.6.5.6).
        self._defaults = {use.name for use in uses.of("ColorSpace")} & _DEFAULTS.keys()
        self._group(dictionary, number, "page", "")
        for use in uses.uses:
            self._use(use, number)

    def all_of(self, artwork: Artwork, filters: Iterable[str]) -> tuple[ClaimSight, ...]:
        """Everything, with what belongs to the file as a whole. ``filters``: those that the file has at all.

        Raises what kept a page from being looked through.
        """
        if self._fault is not None:
            raise self._fault
        for action in every_action(artwork):
            if action.by_itself or not action.only_goes:
                self._note("action", action.item.what, action.item.page, action.item.where)
        if artwork.pdf is not None and WATCHED_FILTERS.intersection(filters):
            for count, thing in enumerate(artwork.pdf.objects):
                if count >= MOST_OBJECTS:
                    break
                if is_stream(thing):
                    self._filters(thing, None, _kind_of(thing), "")
        return tuple(self._found)

    def _note(
        self, what: SightKind, name: str, page: int | None, thing: str, number: int | None = None, called: str = ""
    ) -> None:
        thing = f"{thing} {called}".strip()
        self._found[ClaimSight(what, name, page, thing, number)] = None

    def _use(self, use: Use, page: int) -> None:
        thing = use.thing
        if use.category == "ExtGState":
            self._state(use, page)
        elif use.category in ("ColorSpace", "Group"):
            self._alternates(use, page)
        elif use.category == "Profile":
            self._profile(use, page)
        elif use.category == "Content":
            self._content(use, page)
        elif use.category == "XObject" and name_of(entry(thing, "/Subtype")) == "Image":
            self._picture(use, page)
        elif use.category == "XObject":
            self._group(thing, page, "form", use.name)
        elif use.category == "Mask":
            self._depth(use, page)
        if is_stream(thing):
            self._filters(thing, page, _kind_of(thing) if use.category != "Content" else "content", use.name)

    def _state(self, use: Use, page: int) -> None:
        """Graphics states: Table 57."""
        thing = use.thing
        where = ("graphics state", object_number(thing), use.name)

        def note(what: SightKind, name: str) -> None:
            self._note(what, name, page, where[0], where[1], where[2])

        if is_dictionary(entry(thing, "/SMask")):
            note("transparency", "soft mask")
        modes = [name_of(mode) for mode in one_or_more(entry(thing, "/BM"))]
        if modes and modes[0] not in ("Normal", "Compatible", None):
            note("transparency", f"blend mode {modes[0]}")
        for key in ("/CA", "/ca"):
            alpha = number_of(entry(thing, key))
            if alpha is not None and alpha < 1.0:
                note("transparency", f"opacity {100.0 * alpha:g} %")
        curves = entry(thing, "/TR")
        if curves is not None and any(name_of(curve) != "Identity" for curve in one_or_more(curves)):
            note("transfer-curve", "TR")
        curves = entry(thing, "/TR2")
        if curves is not None and any(name_of(curve) != "Default" for curve in one_or_more(curves)):
            note("transfer-curve", "TR2")
        for kind in _halftone_types(entry(thing, "/HT")):
            note("halftone", str(kind))

    def _alternates(self, use: Use, page: int) -> None:
        parts = items_of(use.thing)
        family = name_of(parts[0]) if parts else None
        if family in ("Separation", "DeviceN") and len(parts) > 2:
            self._note("alternate", self._family(parts[2]), page, "spot colour", None, _ink_names(parts[1]))

    def _profile(self, use: Use, page: int) -> None:
        number = object_number(use.thing)
        if number is None or number not in self._profiles:
            try:
                profile = read_profile(bytes(use.thing.read_bytes()))
            except MemoryError:
                raise
            except Exception:
                profile = None
            if number is not None:
                self._profiles[number] = profile
        else:
            profile = self._profiles[number]
        if profile is None:
            self._note("profile-unreadable", "", page, "colour space", number, use.name)
            return
        words = f"{profile.device_class} {profile.space} {profile.version}"
        self._note("profile", words, page, "colour space", number, use.name)
        stated = number_of(entry(use.thing, "/N"))
        if profile.components is not None and stated != profile.components:
            count = "none" if stated is None else f"{stated:g}"
            self._note("profile-count", f"{count} for {profile.space}", page, "colour space", number, use.name)

    def _content(self, use: Use, page: int) -> None:
        try:
            content = content_of(use.thing)
        except MemoryError:
            raise
        except Exception:
            return  # told as damage of the page
        for inline in _INLINE.findall(content):
            for value in _INLINE_FILTER.findall(inline):
                for raw in _NAME.findall(value):
                    short = raw.decode("latin-1")
                    name = _SHORT_FILTERS.get(short, short)
                    if name in WATCHED_FILTERS:
                        self._note("filter", name, page, "inline picture")
        if _PS_OPERATOR.search(content):
            self._note("postscript", "PS", page, "content")

    def _picture(self, use: Use, page: int) -> None:
        """Pictures: Table 87."""
        number = object_number(use.thing)
        if is_stream(entry(use.thing, "/SMask")):
            self._note("transparency", "soft mask", page, "picture", number, use.name)
        if (number_of(entry(use.thing, "/SMaskInData")) or 0) > 0:
            self._note("transparency", "soft mask in its data", page, "picture", number, use.name)
        self._depth(use, page)

    def _depth(self, use: Use, page: int) -> None:
        if number_of(entry(use.thing, "/BitsPerComponent")) == 16:
            self._note("sixteen-bit", "16", page, "picture", object_number(use.thing), use.name)

    def _group(self, holder: Any, page: int, thing: str, name: str) -> None:
        group = entry(holder, "/Group")
        if name_of(entry(group, "/S")) != "Transparency":
            return
        number = object_number(holder)
        self._note("transparency", "transparency group", page, thing, number, name)
        space = entry(group, "/CS")
        if space is not None:
            self._note("blend-space", self._family(space), page, thing, number, name)

    def _family(self, space: Any) -> str:
        """The family of a colour space; a device space that the page replaces is ``replaced``."""
        family = _family_of(space)
        return "replaced" if any(_DEFAULTS[name] == family for name in self._defaults) else family

    def _filters(self, stream: Any, page: int | None, thing: str, called: str) -> None:
        """Where a stream lies on several pages it is told once, with the first; where on none, without a page."""
        for each in one_or_more(entry(stream, "/Filter")):
            name = name_of(each)
            number = object_number(stream)
            if name in WATCHED_FILTERS and (name, number) not in self._placed:
                self._placed.add((name, number))
                self._note("filter", name, page, thing, number, called)


def page_sights(
    artwork: Artwork,
    number: int,
    frame: PageFrame,
    boxes: PageBoxes,
    painted: Iterable[Painted],
    fonts: Iterable[FontFact],
) -> tuple[ClaimSight, ...]:
    """What the painted page shows, and the annotations inside its bleed area."""
    found = [*_colours(number, painted), *_annotations(artwork, number, frame, boxes)]
    found += [
        ClaimSight("font-missing", font.name, number, font.kind, font.object_number, font.box_mm)
        for font in fonts
        if font.used_visibly and font.embedded is False
    ]
    return tuple(found)


def _colours(number: int, painted: Iterable[Painted]) -> Iterator[ClaimSight]:
    """Each family of colours, pictures and the rest apart, with the box around all of it."""
    found: dict[tuple[str, str], ClaimSight] = {}
    for thing in painted:
        if thing.colour is None:
            continue
        kind = {"image": "picture", "shading": "gradient"}.get(thing.kind, "text" if thing.text else "drawing")
        key = (thing.colour.family, kind)
        box = thing.visible_mm or thing.box_mm
        known = found.get(key)
        if known is None:
            found[key] = ClaimSight("colour", thing.colour.family, number, kind, None, box)
        elif known.box_mm is not None:
            found[key] = replace(known, box_mm=known.box_mm.union(box))
    yield from found.values()


def _annotations(artwork: Artwork, number: int, frame: PageFrame, boxes: PageBoxes) -> Iterator[ClaimSight]:
    page = artwork.page(number)
    area = boxes.bleed or boxes.trim or boxes.art or boxes.crop or boxes.media
    inside = area.grow(-pt_from_mm(TOLERANCE_MM) / boxes.user_unit)
    for annotation in items_of(entry(page.dictionary, "/Annots")):
        kind = name_of(entry(annotation, "/Subtype")) or "unknown"
        if not is_dictionary(annotation) or kind in _EXCEPTED:
            continue
        box = _rectangle(annotation)
        if box is not None and box.intersect(inside).is_empty:
            continue
        told = frame.box_mm(box) if box is not None else None
        sight = ClaimSight("annotation", kind, number, "annotation", object_number(annotation), told)
        yield sight
        flags = int(number_of(entry(annotation, "/F")) or 0)
        if flags & 4 and not flags & 2 and kind not in _NO_MARK:
            yield replace(sight, what="printing-annotation")


def _rectangle(annotation: Any) -> Box | None:
    corners = [number_of(item) for item in items_of(entry(annotation, "/Rect"))]
    if len(corners) != 4 or any(corner is None for corner in corners):
        return None
    return Box.normal([corner for corner in corners if corner is not None])


def _halftone_types(halftone: Any) -> list[int]:
    """The type of a halftone, and of those that it holds for single colorants (Table 127, type 5)."""
    kind = number_of(entry(halftone, "/HalftoneType"))
    if kind is None:
        return []
    inner = (
        [entry(part, "/HalftoneType") for _, part in entries_of(halftone) if is_dictionary(part)] if kind == 5 else []
    )
    return [int(kind), *(int(value) for part in inner if (value := number_of(part)) is not None)]


def _family_of(space: Any) -> str:
    """The family of a colour space; ICC-based ones with the number of their components."""
    parts = items_of(space) if is_array(space) else [space]
    name = (name_of(parts[0]) if parts else None) or "unknown"
    family = _FAMILIES.get(name, name)
    if family == "icc":
        count = number_of(entry(parts[1], "/N")) if len(parts) > 1 else None
        return {1.0: "icc-gray", 3.0: "icc-rgb", 4.0: "icc-cmyk"}.get(count or 0.0, "icc-unknown")
    return family


def _ink_names(names: Any) -> str:
    return ", ".join(name_of(name) or "?" for name in one_or_more(names))


def _kind_of(stream: Any) -> str:
    kind = name_of(entry(stream, "/Subtype"))
    return {"Image": "picture", "Form": "form"}.get(kind or "", "stream")
