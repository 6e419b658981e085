"""The letter as plain text: 72 columns, so that it reads well in every mail program and can be quoted in a reply."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from preflight.report.letter_parts import Letter, Point, Section
from preflight.report.letter_values import without_fixed_spaces

COLUMNS = 72
_INDENT = "   "


def letter_text(letter: Letter) -> str:
    """The whole letter as text."""
    lines = [*_head(letter), *(line for section in letter.sections for line in _section(section, letter))]
    lines += ["", *letter.close]
    return without_fixed_spaces("\n".join(line.rstrip() for line in lines)).strip("\n") + "\n"


def _head(letter: Letter) -> Iterator[str]:
    for label, value in letter.facts:
        yield from _wrapped(f"{letter.label(label)} {value}", hang="    ")
    yield ""
    yield letter.greeting
    if letter.thanks:
        yield ""
        yield from _wrapped(" ".join(letter.thanks))
    yield ""
    yield from _wrapped(letter.verdict)


def _section(section: Section, letter: Letter) -> Iterator[str]:
    yield ""
    yield ""
    yield section.heading
    yield "-" * min(COLUMNS, len(section.heading))
    for line in section.before:
        yield from _wrapped(line)
    for line in section.listed:
        yield from _wrapped(f"- {line}", hang="  ")
    for point in section.points:
        yield ""
        yield from _point(point, letter)
    if section.after:
        yield ""
    for line in section.after:
        yield from _wrapped(line)


def _point(point: Point, letter: Letter) -> Iterator[str]:
    words = letter.words
    yield from _wrapped(point.what, first=f"{point.mark}." if point.mark else "-")
    yield from _wrapped(f"{letter.label(words['where'])} {point.where}", indent=_INDENT)
    if point.in_print:
        yield from _wrapped(f"{letter.label(words['in_print'])} {point.in_print}", indent=_INDENT)
    if point.do:
        yield from _wrapped(f"{letter.label(words['do'])} {point.do}", indent=_INDENT)
    if point.choices:
        yield f"{_INDENT}{letter.label(words['choices'])}"
        for mark, text in point.choices:
            yield from _wrapped(text, indent=_INDENT, first=mark)


def _wrapped(text: str, *, indent: str = "", first: str = "", hang: str = "") -> list[str]:
    """Lines of at most 72 columns; ``first`` stands before the first, the others are set in as far."""
    start = f"{indent}{first} " if first else indent
    start = start.ljust(len(indent) + len(_INDENT)) if first else start
    rest = " " * len(start) + hang
    lines = textwrap.wrap(text, COLUMNS, initial_indent=start, subsequent_indent=rest, break_on_hyphens=False)
    return lines or [start]
