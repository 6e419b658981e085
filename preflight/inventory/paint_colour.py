"""What colour a thing is painted in: the engine's colour spaces in the words of the inventory.

Values are those of the file (0 to 1; Lab: L* 0 to 100), rounded to five decimals. A device space that the page replaces
(DefaultRGB, DefaultCMYK, DefaultGray; ISO 32000-2, 8.6.5.6) is told as the profiled space it stands for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from pymupdf import mupdf as m

from preflight.inventory.model import PROCESS_INKS, Colour, Family

# The engine's own numbers for kinds of colour spaces (fitz/color.h).
_GRAY, _RGB, _BGR, _CMYK, _LAB, _INDEXED, _SEPARATION = 1, 2, 3, 4, 5, 6, 7
_ICC_FAMILY: dict[int, Family] = {
    _GRAY: "icc-gray",
    _RGB: "icc-rgb",
    _BGR: "icc-rgb",
    _CMYK: "icc-cmyk",
    _LAB: "icc-lab",
}
_DEVICE_FAMILY: dict[int, Family] = {_GRAY: "gray", _RGB: "rgb", _BGR: "rgb", _CMYK: "cmyk", _LAB: "lab"}


@dataclass(slots=True)
class _Space:
    """A colour space as met, kept alive while the page is traced so that its address stays its own."""

    engine: Any
    parts: int
    template: Colour
    device: int


class ColourReader:
    """Reads colour spaces and colours while one page is traced; ``close`` lets go of the engine's objects."""

    def __init__(self) -> None:
        self._spaces: dict[int, _Space] = {}
        self._colours: dict[tuple[int, tuple[float, ...]], Colour] = {}
        #: Device spaces that the page replaces by another, by kind.
        self._instead: dict[int, Colour] = {}

    def close(self) -> None:
        for space in self._spaces.values():
            m.ll_fz_drop_colorspace(space.engine)
        self._spaces.clear()
        self._colours.clear()

    def set_defaults(self, defaults: Any) -> None:
        """Takes note of what the page (or a form) says the device spaces stand for."""
        instead: dict[int, Colour] = {}
        intent = m.ll_fz_default_output_intent(defaults)
        intent_address = address_of(intent) if intent else 0
        for kind, ask in ((_GRAY, m.ll_fz_default_gray), (_RGB, m.ll_fz_default_rgb), (_CMYK, m.ll_fz_default_cmyk)):
            space = ask(defaults)
            if not space or m.ll_fz_colorspace_is_device(space) or address_of(space) == intent_address:
                continue  # an output intent for the device space is what device colours are made for
            instead[kind] = self._space(space).template
        if instead != self._instead:
            self._instead = instead
            self._colours.clear()

    def read(self, space: Any, values: Any) -> Colour | None:
        """The colour of a thing, from the engine's colour space and list of values."""
        if not space:
            return None
        known = self._space(space)
        item = m.floats_getitem
        numbers = tuple([round(item(values, index), 5) for index in range(known.parts)])
        key = (address_of(known.engine), numbers)
        found = self._colours.get(key)
        if found is None:
            template = self._instead.get(known.device, known.template) if known.device else known.template
            found = replace(template, values=() if template.indexed else numbers)
            self._colours[key] = found
        return found

    def space_of(self, space: Any) -> Colour | None:
        """A colour space without a colour in it: of an image, a shading, a group."""
        if not space:
            return None
        known = self._space(space)
        return self._instead.get(known.device, known.template) if known.device else known.template

    def _space(self, space: Any) -> _Space:
        address = address_of(space)
        known = self._spaces.get(address)
        if known is None:
            kept = m.ll_fz_keep_colorspace(space)
            kind = m.ll_fz_colorspace_type(space)
            device = kind if m.ll_fz_colorspace_is_device(space) and kind in (_GRAY, _RGB, _CMYK) else 0
            known = _Space(kept, m.ll_fz_colorspace_n(space), _described(space, kind), device)
            self._spaces[address] = known
        return known


def address_of(pointer: Any) -> int:
    """The address of an engine object: its identity while it is kept alive."""
    return int(getattr(pointer, "this", pointer))


def described(space: Any) -> Colour | None:
    """A colour space on its own (the page's blend space)."""
    return _described(space, m.ll_fz_colorspace_type(space)) if space else None


def _described(space: Any, kind: int) -> Colour:
    name = str(m.ll_fz_colorspace_name(space) or "")
    if kind == _INDEXED:
        base = m.ll_fz_base_colorspace(space)
        if not base:
            return Colour(family="unknown", space=name, indexed=True)
        return replace(_described(base, m.ll_fz_colorspace_type(base)), indexed=True)
    if kind == _SEPARATION:
        inks = tuple(str(m.ll_fz_colorspace_colorant(space, index)) for index in range(m.ll_fz_colorspace_n(space)))
        if inks and all(ink == "None" for ink in inks):
            return Colour(family="none", space=name, inks=inks)
        single = len(inks) == 1 and not name.startswith("DeviceN")
        return Colour(family="separation" if single else "device-n", space=name, inks=inks)
    inks = {_CMYK: PROCESS_INKS, _GRAY: ("Black",)}.get(kind, ())
    if name.startswith("CalRGB"):
        return Colour(family="cal-rgb", space=name)
    if name.startswith("CalGray"):
        return Colour(family="cal-gray", space=name, inks=inks)
    if m.ll_fz_colorspace_is_device(space) or not m.ll_fz_colorspace_is_icc(space):
        return Colour(family=_DEVICE_FAMILY.get(kind, "unknown"), space=name, inks=inks)
    return Colour(
        family=_ICC_FAMILY.get(kind, "unknown"),
        space=name,
        inks=inks,
        profile_md5=_md5_of(space),
        profile_description=_profile_name(name),
    )


def _md5_of(space: Any) -> str | None:
    digest = m.new_bytes(16)
    try:
        m.ll_fz_colorspace_digest(space, digest)
        return bytes(m.bytes_getitem(digest, index) for index in range(16)).hex()
    except Exception:
        return None
    finally:
        m.delete_bytes(digest)


def _profile_name(name: str) -> str | None:
    """``ICCBased(CMYK,Name of the profile)`` holds the profile's own description."""
    _, comma, rest = name.partition(",")
    return rest.removesuffix(")") if comma and name.startswith("ICCBased(") else None
