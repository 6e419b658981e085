"""Reads a job ticket (TOML) into the job as ordered, and refuses what it does not know with one line.

Lengths are millimetres. A key that is not given is not judged; a key that is given wrongly is never passed over in silence.
Orders that contradict each other are no fault of the file: the checks say so where it matters.
"""

from __future__ import annotations

import hashlib
import typing
from dataclasses import MISSING, fields
from datetime import date
from pathlib import Path
from typing import Any

from preflight.checking import all_checks
from preflight.ticket import Finishing, SideInks, Ticket, Waive
from preflight.tomlfile import Bounds, TomlFile, day_of, nearest, read_toml, shown, value_of

_POSITIVE = Bounds(above_zero=True, blank=False)
_NOT_BLANK = Bounds(blank=False)
#: Keys whose figure may be 0; every other number of a ticket is above it.
_MAY_BE_ZERO = frozenset({"bleed_mm", "spine_mm"})
#: Texts that a form may leave empty: not given.
_MAY_BE_BLANK = frozenset({"job", "customer", "title", "stock"})
#: No sheet, web or banner is longer (100 m); a larger figure is a slip of the unit.
_LONGEST_MM = 100_000.0


def read_ticket(path: Path) -> Ticket:
    """The job as ordered. Raises ``UsageFault`` with one line on anything wrong in the file."""
    return load_ticket(path)[0]


def load_ticket(path: Path) -> tuple[Ticket, str]:
    """The job as ordered, and the sha256 of the file it was read from."""
    file = read_toml(path, "ticket")
    hints = typing.get_type_hints(Ticket)
    known = [item.name for item in fields(Ticket)]
    given: dict[str, Any] = {}
    for key, value in file.table.items():
        if key not in known:
            raise file.fault(key, nearest(key, known, "key"))
        if key == "inks":
            given[key] = _inks(file, value)
        elif key == "finishing":
            given[key] = tuple(_finishing(file, where, item) for where, item in _tables(file, key, value))
        elif key == "waive":
            given[key] = tuple(_waive(file, where, item) for where, item in _tables(file, key, value))
        else:
            given[key] = value_of(hints[key], value, file, key, _bounds_of(key))
            _refuse_too_long(file, key, given[key])
            if key in _MAY_BE_BLANK and not given[key].strip():
                given[key] = None
    return Ticket(**given), hashlib.sha256(file.data).hexdigest()


def _bounds_of(key: str) -> Bounds:
    return Bounds(above_zero=key not in _MAY_BE_ZERO, blank=key in _MAY_BE_BLANK)


def _refuse_too_long(file: TomlFile, key: str, value: Any) -> None:
    lengths = value if isinstance(value, tuple) else (value,)
    if key.endswith("_mm") and any(length > _LONGEST_MM for length in lengths):
        raise file.fault(key, f"expected millimetres, at most {_LONGEST_MM:.0f}, found {shown(max(lengths))}")


def _inks(file: TomlFile, value: Any) -> tuple[str, ...] | SideInks:
    if isinstance(value, dict):
        sides = {}
        for side, inks in value.items():
            if side not in ("front", "back"):
                raise file.fault(f"inks.{side}", nearest(side, ["front", "back"], "key"))
            sides[side] = _ink_names(file, f"inks.{side}", inks)
        result = SideInks(front=sides.get("front", ()), back=sides.get("back", ()))
        if not result.front + result.back:
            raise file.fault("inks", 'expected at least one ink, such as { front = ["Black"], back = [] }')
        return result
    if not isinstance(value, list):
        raise file.fault(
            "inks", f"expected a list of ink names or {{ front = [...], back = [...] }}, found {shown(value)}"
        )
    names = _ink_names(file, "inks", value)
    if not names:
        raise file.fault("inks", "expected at least one ink name, found an empty list")
    return names


def _ink_names(file: TomlFile, where: str, value: Any) -> tuple[str, ...]:
    names: tuple[str, ...] = value_of(tuple[str, ...], value, file, where, _NOT_BLANK)
    return names


def _tables(file: TomlFile, key: str, value: Any) -> list[tuple[str, dict[str, Any]]]:
    """A list of tables, each with its place for messages: ``waive[2]`` is the second."""
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise file.fault(key, f"expected a list of tables ([[{key}]]), found {shown(value)}")
    return [(f"{key}[{number}]", item) for number, item in enumerate(value, 1)]


def _finishing(file: TomlFile, where: str, table: dict[str, Any]) -> Finishing:
    given = _given(file, where, table, Finishing, {})
    return Finishing(**given)


def _waive(file: TomlFile, where: str, table: dict[str, Any]) -> Waive:
    bounds = {"why": Bounds(blank=False, several_lines=True), "measured": Bounds(any_sign=True)}
    given = _given(file, where, table, Waive, bounds)
    checks = all_checks()
    known = [f"{name}.{kind}" for name, check in checks.items() for kind in check.kinds]
    if given["id"] not in known:
        raise file.fault(f"{where}.id", f"{shown(given['id'])}: {nearest(given['id'], known, 'id')}")
    digest = given.get("sha256")
    if digest is not None:
        given["sha256"] = digest.lower()
        if len(digest) != 64 or set(digest.lower()) - set("0123456789abcdef"):
            raise file.fault(f"{where}.sha256", f"expected 64 hexadecimal digits, found {shown(digest)}")
    return Waive(**given)


def _given(
    file: TomlFile, where: str, table: dict[str, Any], holder: type[Any], bounds: dict[str, Bounds]
) -> dict[str, Any]:
    """The values of one table of a list, checked against the class that holds them; what it must have is there."""
    hints = typing.get_type_hints(holder)
    given: dict[str, Any] = {}
    for key, value in table.items():
        if key not in hints:
            raise file.fault(f"{where}.{key}", nearest(key, hints, "key"))
        if hints[key] is date:
            given[key] = _day(file, f"{where}.{key}", value)
        else:
            given[key] = value_of(hints[key], value, file, f"{where}.{key}", bounds.get(key, _POSITIVE))
    for item in fields(holder):
        if item.name not in given and not _has_default(item):
            raise file.fault(where, f"lacks {item.name}")
    return given


def _has_default(item: Any) -> bool:

    return item.default is not MISSING or item.default_factory is not MISSING


def _day(file: TomlFile, where: str, value: Any) -> date:
    day = day_of(value)
    if day is None:
        raise file.fault(where, f"expected a date such as 2026-11-25, found {shown(value)}")
    return day
