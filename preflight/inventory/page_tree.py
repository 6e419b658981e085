"""Which pages a PDF has, in order, found without ever running in a circle.

ISO 32000-2, 7.7.3: the pages are the leaves of a tree; media box, crop box, rotation and resources are inherited from the nodes on the way
down (7.7.3.4), nothing else is. A leaf that is named but missing is a page all the same: one that is not there.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pikepdf

from preflight.inventory.objects import MOST_ITEMS, entry, is_array, is_dictionary, items_of, object_number

INHERITED = ("/MediaBox", "/CropBox", "/Rotate", "/Resources")
#: More nodes than this is no print job but an attack, or a fault of its own.
MOST_NODES = 200_000
_DEEPEST = 100


class PageTreeFault(Exception):
    """The list of pages cannot be followed; the message says why, in words for prepress."""


@dataclass(frozen=True)
class PageEntry:
    """A page's dictionary (``None`` where the file names a page that is not there) and what it inherits."""

    dictionary: Any
    inherited: dict[str, Any] = field(default_factory=dict)

    def value(self, key: str) -> Any:
        """An entry of the page, inherited where that entry may be."""
        own = entry(self.dictionary, key)
        return self.inherited.get(key) if own is None and key in INHERITED else own


def pages_of(pdf: pikepdf.Pdf) -> list[PageEntry]:
    """All pages in order. Raises ``PageTreeFault`` where the tree runs in a circle, shares a branch or has no end."""
    root = entry(pdf.Root, "/Pages")
    if not is_dictionary(root):
        raise PageTreeFault("the file has no list of pages")
    pages: list[PageEntry] = []
    seen: set[int] = set()
    nodes = 0
    waiting: list[tuple[Any, dict[str, Any], int]] = [(root, {}, 0)]
    while waiting:
        node, inherited, depth = waiting.pop()
        nodes += 1
        if nodes > MOST_NODES or depth > _DEEPEST:
            raise PageTreeFault(
                f"the list of pages has no end (over {MOST_NODES} entries, or nested deeper than {_DEEPEST})"
            )
        if not is_dictionary(node):
            pages.append(PageEntry(None, inherited))
            continue
        number = object_number(node)
        kids = entry(node, "/Kids")
        if not is_array(kids):
            if node is not root:
                pages.append(PageEntry(node, inherited))
            continue
        if number is not None:
            if number in seen:
                raise PageTreeFault("the list of pages runs in a circle")
            seen.add(number)
        if len(kids) > MOST_ITEMS:
            raise PageTreeFault(f"the list of pages has no end (over {MOST_ITEMS} entries in one node)")
        passed_on = inherited | {key: value for key in INHERITED if (value := entry(node, key)) is not None}
        waiting += [(kid, passed_on, depth + 1) for kid in reversed(items_of(kids))]
    return pages
