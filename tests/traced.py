"""The paint trace of artwork made in code, without anything else of the tool around it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from artwork import Book
from plated import opened

from preflight.inventory.model import Painted
from preflight.inventory.paint import PaintTrace, trace_page


def traced_file(path: Path, number: int = 1, *, bleed_mm: float = 3.0, **how: Any) -> PaintTrace:
    """The trace of one page of a file."""
    it = opened(path, number)
    return trace_page(it.page, it.frame, it.zone(bleed_mm), **how)


def traced(book: Book, folder: Path, number: int = 1, **how: Any) -> PaintTrace:
    """The trace of one page of a book."""
    return traced_file(book.save(folder / f"{len(list(folder.iterdir()))}.pdf"), number, **how)


def painted(book: Book, folder: Path, kind: str | None = None, **how: Any) -> list[Painted]:
    """What a page paints, of one kind if asked."""
    return [thing for thing in traced(book, folder, **how).painted if kind in (None, thing.kind)]


def only(book: Book, folder: Path, kind: str | None = None, **how: Any) -> Painted:
    """The only thing of a kind that a page paints."""
    things = painted(book, folder, kind, **how)
    assert len(things) == 1, [(thing.kind, thing.box_mm) for thing in things]
    return things[0]
