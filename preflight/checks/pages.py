"""Whether the file has the pages that were ordered, in a number that can be bound, and none of them empty by mistake.

What it looks at
    The page count of the file against the ticket's; the count against the binding; and on the plates, whether anything shows
    inside the trim of each page.
Why it matters on press
    A sheet of a stitched booklet holds four pages and a leaf of a glued or wired book two: a missing page moves every
    page after it, or leaves white pages at the end. A page that came out empty is seen only in the bound book.
How it is measured
    Pages are counted as they stand in the file (frames of an image file). Saddle stitching needs a multiple of 4, perfect and
    wire binding an even count; the answer gives the blanks that would do and the count below. A page is blank where no plate
    carries ink inside its trim: white on white and hidden layers are nothing. Pages the ticket lists as blank are left alone,
    and so are the page counts of cover files and of loose sheets.
What to ask the customer for
    The missing pages, or a word on where blank pages may go.
Source
    Saddle stitch: arithmetic and trade rule; even counts for perfect and wire binding and asking about empty pages are common
    practice (the industry's magazine specifications have an item for empty pages).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, NotJudged, Stage
from preflight.inventory.model import DocumentFacts, Inventory, Page
from preflight.ticket import Job
from preflight.units import Box


@dataclass(frozen=True)
class PagesLimits:
    """The count of pages a binding takes at a time."""

    saddle_stitch_multiple: int
    perfect_multiple: int
    wire_multiple: int


def check_page(page: Page, document: DocumentFacts, job: Job, limits: PagesLimits) -> Iterator[Answer]:
    """Asks about a page without any ink inside its trim."""
    if page.plates is None or not page.plates.blank_trim or page.number in job.order.blank_pages:
        return
    box = Box(0.0, 0.0, *page.trim_mm) if page.trim_mm else None
    yield Found("blank", page.number, box, groups=False)


def check_file(inventory: Inventory, job: Job, limits: PagesLimits) -> Iterator[Answer]:
    """Counts the pages against the order and against the binding."""
    count = inventory.document.pages
    if not count:
        return
    order = job.order
    if order.part == "cover":
        yield NotJudged("pages", "a cover: the ordered page count is that of the book, not of this file")
        return
    if order.pages is None:
        yield NotJudged("pages", "no page count ordered")
    elif order.pages != count:
        yield Found(
            "wrong-count",
            None,
            measured=float(count),
            limit=float(order.pages),
            unit="pages",
            values={"supplied": _pages(count), "missing": _difference(count, order.pages)},
            details={"supplied": count, "ordered": order.pages},
        )
    if order.binding is None:
        yield NotJudged("pages", "no binding ordered: the page count is not held against one")
        return
    multiple = {
        "saddle-stitch": limits.saddle_stitch_multiple,
        "perfect": limits.perfect_multiple,
        "wire": limits.wire_multiple,
    }.get(order.binding)
    if multiple and count % multiple:
        yield _not_a_multiple(count, multiple, order.binding)


def _difference(count: int, ordered: int) -> str:
    return f"{_pages(abs(ordered - count))} too {'few' if count < ordered else 'many'}"


def _pages(number: int) -> str:
    return "1 page" if number == 1 else f"{number} pages"


def _not_a_multiple(count: int, multiple: int, binding: str) -> Found:
    above = -(-count // multiple) * multiple
    below = above - multiple
    blanks = above - count
    return Found(
        "binding-multiple",
        None,
        measured=float(count),
        limit=float(above),
        unit="pages",
        values={
            "supplied": _pages(count),
            "multiple": multiple,
            "blanks": "1 blank page" if blanks == 1 else f"{blanks} blank pages",
            "below": f" (or take out {count - below} for {below})" if below else "",
            "binding": {"saddle-stitch": "saddle stitching", "perfect": "perfect binding"}.get(binding, "wire binding"),
        },
        details={"multiple": multiple, "blanks": blanks, "above": above, "below": below, "binding": binding},
    )


CHECK = Check(
    name="pages",
    limits=PagesLimits,
    needs=frozenset({"plates"}),
    on_page=check_page,
    on_file=check_file,
    kinds={
        "wrong-count": Kind(
            Stage.INTAKE,
            "The file has {supplied}, ordered are {limit}: {missing}.",
            "Your file has {supplied}, but the order is for {limit} ({missing}). Please send all pages in one file, in order, "
            "or tell us if the order should change.",
        ),
        "binding-multiple": Kind(
            Stage.BINDERY,
            "{supplied}: {binding} needs a multiple of {multiple}. {blanks} would make {limit}{below}.",
            "With this binding the number of pages must be a multiple of {multiple}; your file has {measured}. Please add "
            "{blanks} to make {limit}{below}, and tell us where blank pages may stand.",
        ),
        "blank": Kind(
            Stage.INTAKE,
            "Page {page} carries no ink inside the trim.",
            "Page {page} is empty. If that is meant, please tell us; otherwise send the page with its content.",
        ),
    },
)
