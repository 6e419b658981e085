"""What a check looks at and why, for a terminal and as ``rules/CHECKS.md``; all of it from the check and the shipped rules.

Nothing is written twice: the words are the check's own docstring and texts, the figures those of the rules files. Fresh copy:
``python -m preflight.report.explain > rules/CHECKS.md`` (a test compares it).
"""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterator
from dataclasses import fields
from functools import cache
from typing import Any

from preflight.checking import HEADINGS, Check, all_checks, sections_of
from preflight.errors import UsageFault
from preflight.rules import list_rules, settle
from preflight.ticket import Job
from preflight.tomlfile import nearest, one_line

WIDTH = 80


def explain_list() -> str:
    """Every check with its first sentence and its kinds."""
    lines = []
    for name, check in all_checks().items():
        lines += textwrap.wrap(f"{name}: {_summary(check)}", WIDTH, subsequent_indent="  ", break_on_hyphens=False)
        kinds = ", ".join(f"{name}.{kind}" for kind in check.kinds)
        lines += textwrap.wrap(kinds, WIDTH, initial_indent="    ", subsequent_indent="    ", break_on_hyphens=False)
    lines += ["", "More about one: preflight explain CHECK"]
    return "\n".join(lines)


def explain_text(name: str) -> str:
    """All about a check (``resolution``), or about the check of a finding's id (``resolution.low``)."""
    check, only = _asked(name)
    parts = sections_of(check)
    lines = _paragraph(f"{check.name}: {parts['']}", 0)
    for heading in HEADINGS:
        lines += ["", heading, *_paragraph(parts[heading], 4)]
    lines += ["", "Answers (severity of the shipped standard rules; stage where a miss would hurt)"]
    for kind in check.kinds:
        if only in ("", kind):
            lines += _kind_lines(check, kind)
    table = _limits_table(check)
    if len(table) > 1:
        lines += ["", "Limits of the shipped rules", *_columns(table)]
    lines += ["", "Sources of the limits", *_sources_lines(check)]
    return "\n".join(lines)


def explain_all_markdown() -> str:
    """``rules/CHECKS.md``: every check with its answers, severities, limits and sources."""
    checks = all_checks()
    lines = [
        "# What is checked",
        "",
        "Made from the checks and the rules files by `python -m preflight.report.explain`; do not edit it by hand. Severities",
        "are those of `standard`; other shipped rules are named where they differ. In the texts a word in brackets, such as",
        "[measured], stands for what is found in the artwork.",
        "",
    ]
    for name, check in checks.items():
        lines.append(f"- [{name}](#{name}): {_summary(check)}")
    for check in checks.values():
        lines += ["", *_markdown_of(check)]
    return "\n".join(lines) + "\n"


def _asked(name: str) -> tuple[Check, str]:
    checks = all_checks()
    check_name, _, kind = name.partition(".")
    if check_name not in checks:
        raise UsageFault(f"explain {one_line(name)}: {nearest(check_name, checks, 'check')}")
    check = checks[check_name]
    if kind and kind not in check.kinds:
        raise UsageFault(f"explain {one_line(name)}: {nearest(kind, check.kinds, 'kind')}")
    return check, kind


def _summary(check: Check) -> str:
    return " ".join(sections_of(check)[""].split("\n\n")[0].split())


def _kind_lines(check: Check, kind: str) -> Iterator[str]:
    first = f"{check.name}.{kind}: {_severity_words(check, kind)}; {check.kinds[kind].stage.value}"
    yield from textwrap.wrap(first, WIDTH, initial_indent=" " * 4, subsequent_indent=" " * 8, break_on_hyphens=False)
    texts = check.kinds[kind]
    said = [("prepress", texts.message), ("customer", texts.remedy)]
    if texts.mild_remedy:
        said.append(("milder", texts.mild_remedy))
    for who, text in said:
        yield from textwrap.wrap(
            f"{who}: {in_brackets(text)}", WIDTH, initial_indent=" " * 8, subsequent_indent=" " * 18
        )


def _severity_words(check: Check, kind: str) -> str:
    """``stop``, with the milder case and the shipped rules that differ: ``note (newsprint: ask)``."""
    jobs = _shipped_jobs()
    return ", milder case ".join(
        _one_severity(jobs, check.name, key)
        for key in (kind, f"{kind}-mild")
        if key in jobs["standard"].severity[check.name]
    )


def _one_severity(jobs: dict[str, Job], check: str, key: str) -> str:
    usual = jobs["standard"].severity[check][key]
    other = [
        f"{name}: {job.severity[check][key].value}" for name, job in jobs.items() if job.severity[check][key] != usual
    ]
    return usual.value + (f" ({', '.join(other)})" if other else "")


def _limits_table(check: Check) -> list[list[str]]:
    """A row a limit, a column for each of the shipped rules; columns equal to standard's are left out."""
    jobs = _shipped_jobs()
    keys = [item.name for item in fields(check.limits)]
    rows = {name: [_plain(getattr(job.limits[check.name], key)) for key in keys] for name, job in jobs.items()}
    columns = [name for name in rows if name == "standard" or rows[name] != rows["standard"]]
    columns.sort(key=lambda name: name != "standard")
    return [["", *columns], *([key, *(rows[name][number] for name in columns)] for number, key in enumerate(keys))]


def _sources_of(check: Check) -> dict[str, str]:
    """Each source once, with the files that give it."""
    sources: dict[str, list[str]] = {}
    for job in _shipped_jobs().values():
        for key, held in job.values.items():
            if (
                key.startswith(f"{check.name}.")
                and held["source"]
                and held["from"] not in sources.setdefault(held["source"], [])
            ):
                sources[held["source"]].append(held["from"])
    return {source: ", ".join(files) for source, files in sources.items()}


def _sources_lines(check: Check) -> Iterator[str]:
    for source, files in _sources_of(check).items():
        yield from _paragraph(f"{files}: {source}", 4)


@cache
def _shipped_jobs() -> dict[str, Job]:
    return {name: settle(name) for name, _, _ in list_rules()}


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"
    if isinstance(value, tuple):
        return ", ".join(_plain(item) for item in value) or "none"
    return str(value)


def in_brackets(template: str) -> str:
    """A message template with its blanks as a reader sees them: ``{measured}`` as ``[measured]``."""
    return re.sub(r"\{([^{}:!]*)[^{}]*\}", r"[\1]", template)


def _paragraph(text: str, indent: int) -> list[str]:
    space = " " * indent
    lines: list[str] = []
    for block in text.split("\n\n"):
        lines += textwrap.wrap(
            " ".join(block.split()), WIDTH, initial_indent=space, subsequent_indent=space, break_on_hyphens=False
        )
    return lines


def _columns(table: list[list[str]]) -> Iterator[str]:
    """A table in columns; rows whose values are long lists run below each other instead."""
    if any(len(cell) > 24 for row in table[1:] for cell in row[1:]):
        for row in table[1:]:
            for name, cell in zip(table[0][1:], row[1:], strict=True):
                yield from _paragraph(f"{row[0]} ({name}): {cell}", 4)
        return
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    for row in table:
        yield "    " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _markdown_of(check: Check) -> Iterator[str]:
    parts = sections_of(check)
    yield f"## {check.name}"
    yield ""
    yield " ".join(parts[""].split())
    for heading in HEADINGS:
        yield ""
        yield f"**{heading}.** {' '.join(parts[heading].split())}"
    yield ""
    yield "| answer | severity | stage | for prepress | for the customer |"
    yield "|---|---|---|---|---|"
    for kind, texts in check.kinds.items():
        words = [f"`{check.name}.{kind}`", _severity_words(check, kind), texts.stage.value]
        milder = f" (milder case) {in_brackets(texts.mild_remedy)}" if texts.mild_remedy else ""
        words += [in_brackets(texts.message), in_brackets(texts.remedy) + milder]
        yield "| " + " | ".join(_cell(word) for word in words) + " |"
    table = _limits_table(check)
    if len(table) > 1:
        yield ""
        yield "| limit | " + " | ".join(table[0][1:]) + " |"
        yield "|---" * len(table[0]) + "|"
        for row in table[1:]:
            yield f"| `{row[0]}` | " + " | ".join(_cell(cell) for cell in row[1:]) + " |"
    yield ""
    yield from (f"- {files}: {source}" for source, files in _sources_of(check).items())


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").split())


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.write(explain_all_markdown())
