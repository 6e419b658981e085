r"""Looks into a stranger's PDF objects without stumbling: whatever stands there, the answer is a value or ``None``.

Names may hold any bytes (ISO 32000-2, 7.3.5 asks for UTF-8, files differ): bytes that are no UTF-8 come out as ``\xNN``, so
that a name can be shown, compared and written to any report. A reference to a missing object reads as ``None`` (7.3.10).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pikepdf

#: A stranger's array or dictionary is looked through up to this length; no print page needs more.
MOST_ITEMS = 100_000
_ESCAPED = re.compile(rb"#([0-9A-Fa-f]{2})")


def clean_text(raw: str | bytes) -> str:
    r"""A stranger's text as text that any report can hold: bytes that are no UTF-8 as ``\xNN``, nothing else changed."""
    if isinstance(raw, bytes):
        return raw.decode("utf-8", "backslashreplace")
    try:
        return raw.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    except UnicodeEncodeError:
        return raw.encode("utf-8", "backslashreplace").decode("utf-8")


def is_dictionary(thing: Any) -> bool:
    """Whether it has entries: a dictionary, or a stream's dictionary."""
    return isinstance(thing, (pikepdf.Dictionary, pikepdf.Stream))


def is_stream(thing: Any) -> bool:
    return isinstance(thing, pikepdf.Stream)


def is_array(thing: Any) -> bool:
    return isinstance(thing, pikepdf.Array)


def entry(holder: Any, *path: str) -> Any:
    """The value under a key (or a path of keys) such as ``/Resources``; ``None`` where there is none."""
    for key in path:
        if not is_dictionary(holder):
            return None
        try:
            holder = holder[key]  # not .get(): it stumbles over keys that are no UTF-8
        except Exception:
            return None
    return holder


def keys_of(holder: Any) -> list[str]:
    """The keys of a dictionary, each with its slash."""
    if not is_dictionary(holder):
        return []
    try:
        return [str(key) for key in holder.keys()][:MOST_ITEMS]  # noqa: SIM118 - iterating it differs between kinds
    except Exception:
        return []


def entries_of(holder: Any) -> Iterator[tuple[str, Any]]:
    """The entries of a dictionary; keys with their slash."""
    for key in keys_of(holder):
        yield key, entry(holder, key)


def items_of(thing: Any) -> list[Any]:
    """The items of an array; anything else is an array of none."""
    if not is_array(thing):
        return []
    items = []
    for index in range(min(len(thing), MOST_ITEMS)):
        try:
            items.append(thing[index])
        except Exception:
            items.append(None)
    return items


def one_or_more(thing: Any) -> list[Any]:
    """The items of an array, or the thing itself: many entries may be either."""
    if thing is None:
        return []
    return items_of(thing) if is_array(thing) else [thing]


def name_of(thing: Any) -> str | None:
    """A name without its slash; ``None`` for anything that is no name."""
    if not isinstance(thing, pikepdf.Name):
        return None
    raw = _ESCAPED.sub(lambda found: bytes([int(found[1], 16)]), thing.unparse(resolved=True)[1:])
    return clean_text(raw)


def plain_key(key: str) -> str:
    """A dictionary key as a name: no slash, cleaned."""
    return clean_text(key.removeprefix("/"))


def text_of(thing: Any) -> str | None:
    """A text string, or a name, as text."""
    if isinstance(thing, pikepdf.Name):
        return name_of(thing)
    if isinstance(thing, str):
        return clean_text(thing)
    if not isinstance(thing, pikepdf.String):
        return None
    try:
        return clean_text(str(thing))
    except Exception:
        return clean_text(bytes(thing))


def number_of(thing: Any) -> float | None:
    """A finite number; ``None`` for anything else."""
    if isinstance(thing, bool) or not isinstance(thing, (int, float, Decimal)):
        return None
    try:
        value = float(thing)
    except (OverflowError, ValueError):
        return None
    return value if math.isfinite(value) else None


def object_number(thing: Any) -> int | None:
    """The object number of an indirect object; ``None`` for a direct one."""
    try:
        number = int(thing.objgen[0])
    except Exception:
        return None
    return number or None
