"""Settles shop rules and ticket into one frozen job before the artwork is opened; each value keeps the file it came from.

A shop's file holds only what differs from the file it extends: keys override, severities merge kind by kind. In the end
every check must have all its limits and the severity of each kind, or nothing runs: a limit is never filled in by code.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, NamedTuple

from preflight.checking import all_checks
from preflight.findings import Severity
from preflight.rulefiles import (
    COST_PAIRS,
    DEFAULT_RULES,
    OTHER_TABLES,
    STANDARD,
    Cost,
    Inks,
    RulesFile,
    Shop,
    chain_of,
    find_rules,
    hints_of,
    severity_keys,
    shipped_rules,
)
from preflight.ticket import Job, Press, Ticket
from preflight.ticketfile import load_ticket
from preflight.tomlfile import fault_in

__all__ = ["DEFAULT_RULES", "ShownValue", "list_rules", "settle", "show", "validate"]


class ShownValue(NamedTuple):
    """One effective value as ``rules show`` prints it."""

    key: str
    value: Any
    from_file: str
    source: str


@dataclass(frozen=True)
class _Value:
    """One effective value, and the file of the chain that gives it."""

    value: Any
    rules: RulesFile
    source: str


class _Effective(dict[tuple[str, str], _Value]):
    """The values in force, by table and key (severities under ``severity.<kind>``)."""

    def table(self, name: str) -> dict[str, Any]:
        return {key: held.value for (table, key), held in self.items() if table == name}

    def limits(self, name: str, holder: type[Any]) -> dict[str, Any]:
        wanted = hints_of(holder)
        return {key: value for key, value in self.table(name).items() if key in wanted}

    def severities(self, name: str) -> dict[str, Severity]:
        table = self.table(name).items()
        return {key.removeprefix("severity."): value for key, value in table if key.startswith("severity.")}


def settle(rules: str | Path | None = None, ticket: Path | None = None) -> Job:
    """The job to check by: rules (by name or path; None: ``sheetfed-coated``) and the ticket, where there is one.

    Raises ``UsageFault`` with one line on anything wrong in either file.
    """
    path = find_rules(DEFAULT_RULES if rules is None else rules)
    order, ticket_sha256 = (None, "") if ticket is None else load_ticket(ticket)
    return _settled(path, order, ticket_sha256)


def validate(path: str | Path) -> Job:
    """Settles the rules of one file, whatever it is called; raises ``UsageFault`` where something is wrong in it."""
    return _settled(Path(path), None, "")


def show(job: Job) -> list[ShownValue]:
    """Every effective value with the file it comes from and the source given for it there."""
    return [ShownValue(key, held["value"], held["from"], held["source"]) for key, held in job.values.items()]


def list_rules() -> list[tuple[str, str, Path]]:
    """Name, title and file of the shipped rules."""
    return [(name, _title(chain_of(path)), path) for name, path in shipped_rules().items()]


def _settled(path: Path, ticket: Ticket | None, ticket_sha256: str) -> Job:
    chain = chain_of(path)
    effective = _merged(chain)
    _refuse_gaps(chain, effective)
    checks = all_checks()
    press = _press(effective)
    severity = {name: effective.severities(name) for name in checks}
    inks = Inks(**effective.limits("inks", Inks))
    return Job(
        ticket=ticket,
        press=press,
        limits={name: check.limits(**effective.limits(name, check.limits)) for name, check in checks.items()},
        severity=severity,
        sources={name: _sources(effective, name) for name in checks},
        origins={f"{table}.{key}": held.rules.path.name for (table, key), held in effective.items()},
        values={f"{table}.{key}": _reported(held) for (table, key), held in effective.items()},
        rules_name=path.stem,
        rules_title=_title(chain),
        rules_sha256=_sha256(effective, press),
        ticket_sha256=ticket_sha256,
        changed_severities=_changed_severities(chain, effective),
        shop=_shop(effective),
        cost=asdict(_cost(effective)),
        finishing_words=tuple(dict.fromkeys(word.casefold() for word in inks.finishing_words)),
    )


def _merged(chain: list[RulesFile]) -> _Effective:
    effective = _Effective()
    for name in [*OTHER_TABLES, *all_checks()]:
        for rules in chain:
            source = rules.sources.get(name, "")
            for kind, severity in rules.severity.get(name, {}).items():
                effective[name, f"severity.{kind}"] = _Value(severity, rules, source)
            for key, value in rules.values.get(name, {}).items():
                effective[name, key] = _Value(value, rules, source)
    return effective


def _refuse_gaps(chain: list[RulesFile], effective: _Effective) -> None:
    lacking = [f"[{name}] {key}" for name, key in _wanted() if (name, key) not in effective]
    if lacking:
        more = f" and {len(lacking) - 5} more" if len(lacking) > 5 else ""
        whole = any(rules.path.stem == STANDARD for rules in chain)
        hint = "" if whole else f'; extends = "{STANDARD}" would give what is not set'
        raise fault_in(chain[-1].path, "", f"lacks {', '.join(lacking[:5])}{more}{hint}")


def _wanted() -> list[tuple[str, str]]:
    wanted = [("press", "screen_lpi"), ("inks", "finishing_words")]
    for name, check in all_checks().items():
        wanted += [(name, item.name) for item in fields(check.limits)]
        wanted += [(name, f"severity.{kind}") for kind in severity_keys(check)]
    return wanted


def _press(effective: _Effective) -> Press:
    """The press, its profile as a path that can be opened: it is written from the folder of the file that names it."""
    values = effective.limits("press", Press)
    if values.get("profile"):
        rules = effective["press", "profile"].rules
        values["profile"] = str(_profile(rules.path.parent / values["profile"], rules))
    return Press(**values)


def _cost(effective: _Effective) -> Cost:
    """What the shop says a fault costs; a price and its number stand together or not at all."""
    values = effective.limits("cost", Cost)
    for pair in COST_PAIRS:
        for given, other in (pair, pair[::-1]):
            if given in values and other not in values:
                rules = effective["cost", given].rules
                raise fault_in(rules.path, f"[cost] {other}", f"is needed too: {given} alone says nothing")
    return Cost(**values)


def _shop(effective: _Effective) -> dict[str, Any]:
    """What the shop says of itself; what it says in other languages by language."""
    said: dict[str, Any] = asdict(Shop(**effective.limits("shop", Shop)))
    for key, value in effective.table("shop").items():
        language, dot, word = key.partition(".")
        if dot:
            said.setdefault(language, {})[word] = value
    return said


def _profile(path: Path, rules: RulesFile) -> Path:
    """An ICC profile of a CMYK press: signature and colour space stand in its header (ICC.1, 7.2)."""
    try:
        with path.open("rb") as stream:
            header = stream.read(128)
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or fault
        raise fault_in(rules.path, "[press] profile", f"{path} cannot be read ({reason})") from None
    if header[36:40] != b"acsp" or header[16:20] != b"CMYK":
        raise fault_in(rules.path, "[press] profile", f"expected an ICC profile of a CMYK press; {path} is none")
    return path


def _title(chain: list[RulesFile]) -> str:
    return next((rules.title for rules in reversed(chain) if rules.title), "")


def _sources(effective: _Effective, name: str) -> str:
    """The sources of a check's limits, each once, in the order of the chain."""
    sources = dict.fromkeys(held.source for (table, _), held in effective.items() if table == name and held.source)
    return "; ".join(sources)


def _reported(held: _Value) -> dict[str, Any]:
    value = held.value
    plain = value.value if isinstance(value, Severity) else list(value) if isinstance(value, tuple) else value
    return {"value": plain, "from": held.rules.path.name, "source": held.source}


def _sha256(effective: _Effective, press: Press) -> str:
    """A hash of all that can move an answer: limits, severities, press (its profile by content) and ink words."""
    held: dict[str, Any] = {
        f"{table}.{key}": _reported(value)["value"]
        for (table, key), value in effective.items()
        if table not in ("shop", "cost")
    }
    if press.profile:
        held["press.profile"] = hashlib.sha256(Path(press.profile).read_bytes()).hexdigest()
    return hashlib.sha256(json.dumps(held, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def _changed_severities(chain: list[RulesFile], effective: _Effective) -> tuple[str, ...]:
    """The severities that differ from the shipped standard, as ``resolution.low: stop -> ask``."""
    path = find_rules(STANDARD)
    standard = _merged(chain[:1] if chain[0].path == path else chain_of(path))
    changed = []
    for name in all_checks():
        all_usual = standard.severities(name)
        for kind, severity in effective.severities(name).items():
            usual = all_usual.get(kind)
            if usual is not None and usual is not severity:
                changed.append(f"{name}.{kind}: {usual.value} -> {severity.value}")
    return tuple(changed)
