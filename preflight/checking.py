"""What a check is, how checks are found, and how one is run safely.

A check is a module in ``checks/`` with a ``CHECK``. Its module docstring is what ``preflight explain`` prints and has the
five headings of ``HEADINGS``. It judges facts and reads nothing; it chooses no severity: the shop's rules do. A broken or
incomplete check module stops the program: an install that silently checks less must not exist.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from preflight.findings import Found, NotJudged, Stage, Unchecked
from preflight.inventory.model import DocumentFacts, Inventory, Page
from preflight.ticket import Job

HEADINGS = (
    "What it looks at",
    "Why it matters on press",
    "How it is measured",
    "What to ask the customer for",
    "Source",
)

#: The facts a check may need. Page facts are looked up in ``Page.unknown``, file facts in ``DocumentFacts.unknown``.
PAGE_FACTS = ("boxes", "damage", "paint", "fonts", "annotations", "plates", "overprint", "trap", "barcodes", "pictures")
FILE_FACTS = ("document", "intents", "layers", "spots", "claim", "actions")

Answer = Found | NotJudged | Unchecked


@dataclass(frozen=True)
class Kind:
    """One kind of answer: where it hurts, the words for prepress, and what the customer is asked for (no jargon).

    All texts are ``str.format`` templates; they see ``values`` of the finding and ``measured``, ``limit``, ``unit``, ``page``.
    """

    stage: Stage
    message: str
    remedy: str
    #: What to ask for in the milder case, where that is something else.
    mild_remedy: str = ""


@dataclass(frozen=True)
class Check:
    """One question asked of the inventory. ``on_page`` sees one page at a time, ``on_file`` the summaries of all."""

    name: str
    kinds: dict[str, Kind]
    limits: type[Any]
    needs: frozenset[str] = frozenset()
    on_page: Callable[[Page, DocumentFacts, Job, Any], Iterable[Answer]] | None = None
    on_file: Callable[[Inventory, Job, Any], Iterable[Answer]] | None = None
    #: Kinds that may have a milder second case (rules key ``<kind>-mild``).
    mild_kinds: frozenset[str] = frozenset()
    doc: str = field(default="", compare=False)


@dataclass(frozen=True)
class NoLimits:
    """For a check whose answers need no figure."""


@cache
def all_checks() -> dict[str, Check]:
    """Every check in ``checks/``, by name, in order of name. Raises ``RuntimeError`` on an incomplete or doubled one."""
    from preflight import checks

    found: dict[str, Check] = {}
    for info in sorted(pkgutil.iter_modules(checks.__path__), key=lambda info: info.name):
        module = importlib.import_module(f"{checks.__name__}.{info.name}")
        check = getattr(module, "CHECK", None)
        if not isinstance(check, Check):
            raise RuntimeError(f"{module.__name__} has no CHECK")
        doc = inspect.getdoc(module) or ""
        missing = [heading for heading in HEADINGS if f"\n{heading}\n" not in doc]
        if missing or check.name in found or not check.kinds:
            raise RuntimeError(f"{module.__name__}: headings missing {missing}, doubled name, or no kinds")
        if check.name != info.name.replace("_", "-"):
            raise RuntimeError(f"{module.__name__} holds a check named {check.name}")
        object.__setattr__(check, "doc", doc)
        found[check.name] = check
    return found


def sections_of(check: Check) -> dict[str, str]:
    """A check's docstring by heading; the first paragraph under ``""``."""
    parts: dict[str, list[str]] = {"": []}
    current = ""
    for line in check.doc.splitlines():
        if line in HEADINGS:
            current = line
            parts[current] = []
        else:
            parts[current].append(line)
    return {heading: inspect.cleandoc("\n" + "\n".join(lines)).strip() for heading, lines in parts.items()}


def enabled_checks(job: Job) -> list[Check]:
    """The checks with at least one kind that the shop's rules switch on."""
    return [check for check in all_checks().values() if job.is_enabled(check.name)]


def needs_of(job: Job) -> frozenset[str]:
    """The facts that the enabled checks need, so that nothing else is read."""
    return frozenset().union(*(check.needs for check in enabled_checks(job)))


def run_on_page(page: Page, document: DocumentFacts, job: Job) -> Iterator[tuple[str, Answer]]:
    """Runs every enabled page check on one page; yields ``(check, answer)``.

    A check whose facts are unknown, or that fails itself, answers ``Unchecked``: never silence.
    """
    for check in enabled_checks(job):
        if check.on_page is None:
            continue
        unknown = _unknown(check, page.unknown, PAGE_FACTS) or _unknown(check, document.unknown, FILE_FACTS)
        if unknown:
            yield check.name, Unchecked(check.name, page.number, unknown)
            continue
        yield from _run(check, page.number, lambda c=check: c.on_page(page, document, job, job.limits[c.name]))  # type: ignore[misc]


def run_on_file(inventory: Inventory, job: Job) -> Iterator[tuple[str, Answer]]:
    """Runs every enabled file-wide check on the summaries of all pages; yields ``(check, answer)``."""
    for check in enabled_checks(job):
        if check.on_file is None:
            continue
        unknown = _unknown(check, inventory.document.unknown, FILE_FACTS)
        if unknown:
            yield check.name, Unchecked(check.name, None, unknown)
            continue
        yield from _run(check, None, lambda c=check: c.on_file(inventory, job, job.limits[c.name]))  # type: ignore[misc]


def _unknown(check: Check, unknown: dict[str, str], facts: tuple[str, ...]) -> str:
    return "; ".join(dict.fromkeys(unknown[fact] for fact in facts if fact in check.needs and fact in unknown))


def _run(check: Check, page: int | None, ask: Callable[[], Iterable[Answer]]) -> Iterator[tuple[str, Answer]]:
    try:
        for answer in ask():
            yield check.name, answer
    except MemoryError:
        raise
    except Exception as fault:  # a fault of one check must not take the others' answers along
        yield check.name, Unchecked(check.name, page, f"the check itself failed ({type(fault).__name__}: {fault})")
