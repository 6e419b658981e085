"""Print settings that a file brings along and that would change plates behind the shop's back.

Transfer curves, own halftones, black generation and undercolour removal (ISO 32000-2, Table 57: TR, TR2, HT, BG, BG2, UCR, UCR2; the names
Identity and Default change nothing), PostScript objects (8.8.2), OPI proxies (14.11.7) and content kept in other files
(7.11.4; reference objects 8.10.4). Only what a page uses counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from preflight.inventory.model import ForeignSetting
from preflight.inventory.objects import entry, is_array, is_stream, items_of, name_of, number_of
from preflight.inventory.resources import PageUses, Use

_STATE_KEYS = {
    "/TR": "transfer curve", "/TR2": "transfer curve", "/HT": "own halftone", "/BG": "black generation", "/BG2": "black generation",
    "/UCR": "undercolour removal", "/UCR2": "undercolour removal",
}  # fmt: skip


def settings_on(number: int, uses: PageUses) -> dict[str, ForeignSetting]:
    """The foreign settings that a page uses, each kind once, with the name of the first that brings it."""
    found: dict[str, ForeignSetting] = {}
    for use in uses.uses:
        for what in _settings_of(use):
            found.setdefault(what, ForeignSetting(what, number, use.name))
    return found


def _settings_of(use: Use) -> Iterator[str]:
    if use.category == "ExtGState":
        yield from (what for key, what in _STATE_KEYS.items() if _changes_something(_in_force(use.thing, key)))
    if not is_stream(use.thing):
        return
    if entry(use.thing, "/F") is not None and use.category in (
        "XObject",
        "Mask",
        "Content",
        "Profile",
        "Shading",
        "Pattern",
    ):
        yield "content in another file"
    if use.category != "XObject":
        return
    if name_of(entry(use.thing, "/Subtype")) == "PS" or name_of(entry(use.thing, "/Subtype2")) == "PS":
        yield "PostScript object"
    if entry(use.thing, "/OPI") is not None:
        yield "OPI proxy"
    if entry(use.thing, "/Ref") is not None:
        yield "content in another file"


def _in_force(state: Any, key: str) -> Any:
    """An entry of a graphics state; of two for one thing the newer (TR2, BG2, UCR2) holds (ISO 32000-2, Table 57)."""
    newer = entry(state, f"{key}2")
    return entry(state, key) if newer is None else newer


def _changes_something(value: Any) -> bool:
    if value is None or name_of(value) in ("Identity", "Default"):
        return False
    if is_array(value):
        return any(_changes_something(part) for part in items_of(value))
    # A function that happens to be linear from 0 to 1 is an identity in all but name.
    return not _is_straight(value)


def _is_straight(value: Any) -> bool:
    """An exponential function with exponent 1 from 0 to 1, or an identity calculator: a curve that changes nothing."""
    if is_stream(value):
        if entry(value, "/FunctionType") != 4:
            return False
        try:
            return bytes(value.read_bytes()).translate(None, b"{} \t\r\n") == b""
        except Exception:
            return False
    return bool(
        entry(value, "/FunctionType") == 2
        and entry(value, "/N") == 1
        and [number_of(part) for part in items_of(entry(value, "/C0")) or [0]] == [0.0]
        and [number_of(part) for part in items_of(entry(value, "/C1")) or [1]] == [1.0]
    )
