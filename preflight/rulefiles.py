"""Finds shop rules by name or path, reads each file of a chain of ``extends``, and checks it key by key.

A name is looked for among the shipped rules (installed data first, then the checkout), then beside the file that says it; anything with
a separator or ``.toml`` is a path, taken from the folder of the file that says it. What a file may hold is known from the checks themselves:
one table a check with the keys of its limits, and a severity for each of its kinds.
"""

from __future__ import annotations

import os
import typing
from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from preflight.checking import Check, all_checks
from preflight.data import data_folder
from preflight.findings import Severity
from preflight.ticket import Press
from preflight.tomlfile import Bounds, TomlFile, fault_in, nearest, read_toml, value_of

DEFAULT_RULES = "sheetfed-coated"
STANDARD = "standard"


@dataclass(frozen=True)
class Shop:
    """What a letter to the customer says about the shop; empty is left out."""

    name: str = ""
    contact: str = ""
    phone: str = ""
    email: str = ""
    address: str = ""
    web: str = ""
    upload: str = ""
    deadline: str = ""
    fees: str = ""


@dataclass(frozen=True)
class Cost:
    """What a fault costs that is found too late, in the shop's own currency; None is not filled in.

    Prices are of one plate, hour or sheet; the plurals say how many of them a fault found too late takes.
    """

    currency: str | None = None
    plate: float | None = None
    make_ready_hour: float | None = None
    make_ready_hours: float | None = None
    spoiled_sheet: float | None = None
    spoiled_sheets: float | None = None
    bindery_hour: float | None = None
    bindery_hours: float | None = None


#: A price and how many of it: one without the other cannot be reckoned with.
COST_PAIRS = (
    ("make_ready_hour", "make_ready_hours"),
    ("spoiled_sheet", "spoiled_sheets"),
    ("bindery_hour", "bindery_hours"),
)


@dataclass(frozen=True)
class Inks:
    """Words that make an ink a finishing plate by its name."""

    finishing_words: tuple[str, ...]


#: Tables that are no check's, and what each holds.
OTHER_TABLES: dict[str, type[Any]] = {"press": Press, "inks": Inks, "shop": Shop, "cost": Cost}
_LONGEST_NAME = 100
#: What a shop may say in other languages too, in a table of its own: ``[shop.de]``.
SHOP_WORDS = ("contact", "address", "deadline", "fees")
#: Texts that may run over several lines.
_SEVERAL_LINES = frozenset({"source", "address", "deadline", "fees"})


@dataclass(frozen=True)
class RulesFile:
    """One file of a chain, checked: what it gives by table and key, and its sources by table."""

    path: Path
    title: str | None
    extends: str | None
    values: dict[str, dict[str, Any]] = field(default_factory=dict)
    severity: dict[str, dict[str, Severity]] = field(default_factory=dict)
    sources: dict[str, str] = field(default_factory=dict)


def shipped_rules() -> dict[str, Path]:
    """The shipped rules by name."""
    return {path.stem: path for path in sorted(data_folder("rules").glob("*.toml"))}


def find_rules(rules: str | Path, *, beside: Path | None = None, key: str = "") -> Path:
    """The file that a name or path means; ``beside`` is the file that says it under ``key``."""
    text = str(rules)
    separators = {"/", os.sep, os.altsep or os.sep}
    if text.endswith(".toml") or any(sign in text for sign in separators):
        return beside.parent / text if beside else Path(text)
    shipped = shipped_rules()
    if text in shipped:
        return shipped[text]
    if beside and len(text) <= _LONGEST_NAME and (neighbour := beside.parent / f"{text}.toml").is_file():
        return neighbour
    problem = nearest(text, shipped, "rules name") + " (a path ends in .toml)"
    raise fault_in(beside or f'rules "{text}"', key, f'"{text}" is an {problem}' if beside else problem)


def chain_of(path: Path) -> list[RulesFile]:
    """A rules file after all it extends, the farthest parent first."""
    chain: list[RulesFile] = []
    seen: list[Path] = []
    while True:
        rules = read_rules(path)
        here = path.resolve()
        if here in seen:
            way = " -> ".join(step.name for step in [*seen[seen.index(here) :], here])
            raise fault_in(chain[0].path, "extends", f"goes round in a circle: {way}")
        seen.append(here)
        chain.insert(0, rules)
        if rules.extends is None:
            return chain
        path = find_rules(rules.extends, beside=path, key="extends")


def read_rules(path: Path) -> RulesFile:
    """Reads one rules file and checks every table, key, kind and value in it."""
    file = read_toml(path, "rules file")
    checks = all_checks()
    tables = [*OTHER_TABLES, *checks]
    top: dict[str, str] = {}
    rules = RulesFile(path, None, None)
    for name, content in file.table.items():
        if name in ("title", "extends"):
            top[name] = value_of(str, content, file, name, Bounds(blank=False))
        elif name not in tables:
            raise file.fault(f"[{name}]" if isinstance(content, dict) else name, _unknown_table(name, content, tables))
        elif not isinstance(content, dict):
            raise file.fault(name, f"expected a table [{name}]")
        elif name in checks:
            _read_check(rules, file, checks[name], content)
        else:
            _read_other(rules, file, name, content)
    return RulesFile(path, top.get("title"), top.get("extends"), rules.values, rules.severity, rules.sources)


def _unknown_table(name: str, content: Any, tables: list[str]) -> str:
    if isinstance(content, dict):
        return nearest(name, tables, "table")
    return nearest(name, ["title", "extends", *tables], "key")


def _read_check(rules: RulesFile, file: TomlFile, check: Check, content: dict[str, Any]) -> None:
    hints = hints_of(check.limits)
    values = rules.values.setdefault(check.name, {})
    for key, value in content.items():
        where = f"[{check.name}] {key}"
        if key == "severity":
            rules.severity[check.name] = _read_severity(file, check, where, value)
        elif key == "source":
            rules.sources[check.name] = value_of(str, value, file, where, Bounds(blank=False, several_lines=True))
        elif key in hints:
            values[key] = value_of(hints[key], value, file, where)
        else:
            raise file.fault(where, nearest(key, [*hints, "severity", "source"], "key"))


def _read_severity(file: TomlFile, check: Check, where: str, table: Any) -> dict[str, Severity]:
    if not isinstance(table, dict):
        raise file.fault(where, f'expected a table such as {{ {next(iter(check.kinds))} = "ask" }}')
    kinds = severity_keys(check)
    result = {}
    for kind, word in table.items():
        if kind not in kinds:
            raise file.fault(f"{where}.{kind}", nearest(kind, kinds, "kind"))
        choice = value_of(typing.Literal["off", "note", "ask", "stop"], word, file, f"{where}.{kind}")
        result[kind] = Severity(choice)
    return result


def _read_other(rules: RulesFile, file: TomlFile, name: str, content: dict[str, Any]) -> None:
    hints = hints_of(OTHER_TABLES[name])
    values = rules.values.setdefault(name, {})
    for key, value in content.items():
        where = f"[{name}] {key}"
        if key == "source":
            rules.sources[name] = value_of(str, value, file, where, Bounds(blank=False, several_lines=True))
        elif name == "shop" and isinstance(value, dict):
            for word, said in _read_shop_words(file, key, value):
                values[f"{key}.{word}"] = said
        elif key in hints:
            bounds = Bounds(
                above_zero=key == "screen_lpi",
                several_lines=key in _SEVERAL_LINES,
                blank=key not in ("finishing_words", "intents", "ink_order"),
            )
            values[key] = value_of(hints[key], value, file, where, bounds)
        else:
            raise file.fault(where, nearest(key, [*hints, "source"], "key"))


def _read_shop_words(file: TomlFile, language: str, table: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """What the shop says in another language than that of its table."""
    where = f"[shop.{language}]"
    if len(language) != 2 or not (language.isascii() and language.isalpha() and language.islower()):
        raise file.fault(where, "expected a language as two small letters, such as [shop.de]")
    for word, said in table.items():
        if word not in SHOP_WORDS:
            raise file.fault(f"{where} {word}", nearest(word, SHOP_WORDS, "key"))
        yield word, value_of(str, said, file, f"{where} {word}", Bounds(several_lines=word in _SEVERAL_LINES))


def hints_of(holder: type[Any]) -> dict[str, Any]:
    """The keys of a table and the type of each, from the class that holds its values."""
    hints = typing.get_type_hints(holder)
    return {item.name: hints[item.name] for item in fields(holder)}


def severity_keys(check: Check) -> list[str]:
    """The keys of a check's severity table: its kinds, and the milder case of those that have one."""
    return list(_severity_keys(check))


def _severity_keys(check: Check) -> Iterator[str]:
    for kind in check.kinds:
        yield kind
        if kind in check.mild_kinds:
            yield f"{kind}-mild"
