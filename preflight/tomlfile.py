"""Reads a shop's own TOML file and says in one line what is wrong with it: file, key, what was expected, nearest name.

Rules and tickets are written by people, so every fault here is a ``UsageFault``: no TOML text, however odd, ends in anything
else. Numbers are finite and not below nothing; a whole number will do where a number is asked for, a text never does.
"""

from __future__ import annotations

import difflib
import math
import os
import tomllib
import types
import typing
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any, Literal, Union

from pydantic import PydanticUserError, TypeAdapter, ValidationError

from preflight.errors import UsageFault

# Validating means what is written here, whatever else is installed; looking for plug-ins also takes 10 ms.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

#: A rules file or ticket is a page or two of text; more is some other file.
MOST_BYTES = 256 * 1024
#: No length, count or price in this trade comes near it; larger ones only overflow later.
MOST = 1e12


@dataclass(frozen=True)
class TomlFile:
    """One file as read: ``data`` for its hash, ``table`` for its values."""

    path: Path
    data: bytes
    table: dict[str, Any]

    def fault(self, where: str, problem: str) -> UsageFault:
        """The fault that names this file and a place in it (``[resolution] low_below_ppi``; empty: the file as a whole)."""
        return fault_in(self.path, where, problem)


def fault_in(path: Path | str, where: str, problem: str) -> UsageFault:
    """One line: file, place, problem."""
    return UsageFault(": ".join(one_line(part) for part in (str(path), where, problem) if part))


def read_toml(path: Path, what: str) -> TomlFile:
    """Reads a TOML file; ``what`` it should be (``rules file``, ``ticket``) goes into the fault's words."""
    try:
        if not path.is_file():
            problem = f"no such {what}" if not path.exists() else f"not a file; expected a {what}"
            raise fault_in(path, "", problem)
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as fault:  # ValueError: a name that no file can have
        reason = getattr(fault, "strerror", None) or fault
        raise fault_in(path, "", f"the {what} cannot be read ({reason})") from None
    if len(data) > MOST_BYTES:
        raise fault_in(path, "", f"over {MOST_BYTES // 1024} KB; expected a {what}, a short TOML text")
    try:
        table = tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as fault:
        raise fault_in(path, "", f"not UTF-8 text (byte {fault.start + 1}); expected a {what} in TOML") from None
    except RecursionError:
        raise fault_in(path, "", f"nested too deeply; expected a {what} in TOML") from None
    except ValueError as fault:  # TOMLDecodeError, and numbers of thousands of digits
        raise fault_in(path, "", f"not valid TOML ({fault}); expected a {what}") from None
    return TomlFile(path, data, table)


def nearest(word: str, known: Iterable[str], what: str) -> str:
    """``unknown key; the nearest known key is low_below_ppi``, or the known ones where none is near."""
    names = list(known)
    # Small and capital letters are told apart in what is known, but they are what people mistake first.
    folded = {name.casefold(): name for name in reversed(names)}
    asked = word[:100].casefold()
    found = difflib.get_close_matches(asked, folded, n=1, cutoff=0.5)
    if found:
        return f"unknown {what}; the nearest known {what} is {folded[found[0]]}"
    if not names:
        return f"unknown {what}; none is known here"
    closest = folded[difflib.get_close_matches(asked, folded, n=1, cutoff=0.0)[0]]
    listed = f" of {', '.join(names)}" if len(names) <= 8 else ""
    return f"unknown {what}; the nearest known {what}{listed} is {closest}"


def shown(value: Any) -> str:
    """A value as a person would recognise it in a message: short, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "an empty list" if not value else f"a list of {len(value)}"
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except ValueError:  # a whole number of thousands of digits
        return "a number without end"
    return one_line(text if len(text) <= 60 else f"{text[:57]}...")


def one_line(text: str) -> str:
    """A text without line ends and signs that do not print: they are written as escapes."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii") for sign in text)


@dataclass(frozen=True)
class Bounds:
    """What a number or text of a key may be beyond its type."""

    above_zero: bool = False
    any_sign: bool = False
    several_lines: bool = False
    blank: bool = True

    def words(self, hint: Any) -> str:
        """What is expected, for a message."""
        kinds = _leaf_types(hint)
        if kinds & {int, float}:
            if self.any_sign:
                return " (finite)"
            return " above 0" if self.above_zero else " of 0 or more"
        if str in kinds:
            return " without line ends or control signs" if self.blank else ", not blank, without control signs"
        return ""


def value_of(hint: Any, value: Any, file: TomlFile, where: str, bounds: Bounds = Bounds()) -> Any:
    """A TOML value as the type a field is declared with; lists become tuples. Raises ``UsageFault``."""
    try:
        result = _adapter(hint).validate_python(_with_tuples(value), strict=True)
        fits = all(_leaf_fits(leaf, bounds) for leaf in _leaves(result))
    except (ValidationError, RecursionError, OverflowError, ValueError):
        fits = False
    if not fits:
        raise file.fault(where, f"expected {_expected(hint, bounds)}, found {_first_wrong(hint, value)}")
    return result


@cache
def _adapter(hint: Any) -> TypeAdapter[Any]:
    try:
        return TypeAdapter(hint)
    except PydanticUserError as fault:  # a fault of the code that declares the field
        raise RuntimeError(f"no way to read a {hint}") from fault


def _with_tuples(value: Any) -> Any:
    return tuple(_with_tuples(item) for item in value) if isinstance(value, list) else value


def _leaves(value: Any) -> Iterable[Any]:
    if isinstance(value, tuple):
        for item in value:
            yield from _leaves(item)
    else:
        yield value


def _leaf_fits(leaf: Any, bounds: Bounds) -> bool:
    if isinstance(leaf, str):
        plain = leaf.replace("\n", "").replace("\t", "") if bounds.several_lines else leaf
        return (bounds.blank or bool(leaf.strip())) and not any(_is_control(sign) for sign in plain)
    if isinstance(leaf, (int, float)) and not isinstance(leaf, bool):
        if not math.isfinite(leaf) or abs(leaf) > MOST:
            return False
        return bounds.any_sign or (leaf > 0 if bounds.above_zero else leaf >= 0)
    return True


def _is_control(sign: str) -> bool:
    """Line ends, control signs, and the signs that turn the direction of writing."""
    return sign < " " or "\x7f" <= sign <= "\x9f" or sign in "\u2028\u2029" or "\u202a" <= sign <= "\u202e"


def _leaf_types(hint: Any) -> set[Any]:
    arguments = typing.get_args(hint)
    if typing.get_origin(hint) is Literal:
        return {Literal}
    if not arguments:
        return {hint}
    return set().union(*(_leaf_types(argument) for argument in arguments if argument is not Ellipsis))


_ONE = {bool: "true or false", int: "a whole number", float: "a number", str: "a text", date: "a date"}
_MANY = {bool: "true or false", int: "whole numbers", float: "numbers", str: "texts"}


def _expected(hint: Any, bounds: Bounds) -> str:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (Union, types.UnionType):
        return " or ".join(_expected(part, bounds) for part in arguments if part is not type(None))
    if origin is Literal:
        return f"one of {', '.join(str(choice) for choice in arguments)}"
    if origin is tuple:
        count = "" if arguments[-1] is Ellipsis else f"{len(arguments)} "
        return f"a list of {count}{_MANY.get(arguments[0], 'values')}{bounds.words(hint)}"
    return f"{_ONE.get(hint, 'another value')}{bounds.words(hint)}"


def _first_wrong(hint: Any, value: Any) -> str:
    """What was found; for a list of the right kind the item that does not fit, when it can be told apart."""
    if isinstance(value, str):
        near = difflib.get_close_matches(value[:100].casefold(), _choices(hint), n=1, cutoff=0.5)
        return shown(value) + (f"; the nearest is {near[0]}" if near else "")
    if not isinstance(value, list) or not value:
        return shown(value)
    return f"[{', '.join(shown(item) for item in value[:4])}{', ...' if len(value) > 4 else ''}]"


def _choices(hint: Any) -> list[str]:
    """The words that a field takes, where it takes only some."""
    if typing.get_origin(hint) is Literal:
        return [str(choice) for choice in typing.get_args(hint)]
    return [choice for part in typing.get_args(hint) for choice in _choices(part)]


def day_of(value: Any) -> date | None:
    """A TOML date, date and time, or ISO text as a day; None for anything else."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            return None
    return None
