"""What in a file acts by itself or on a click: scripts, launches, form submissions, automatic actions; and what is attached to it.

ISO 32000-2, 12.6. Links, bookmarks and other ways to go to a place are left alone, whoever sets them off; everything else that starts
by itself (on opening, on showing a page, on printing) is told, as is every script, launch, submission and import wherever it hangs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from preflight.inventory.model import ActiveItem
from preflight.inventory.objects import (
    entries_of,
    entry,
    is_array,
    is_dictionary,
    items_of,
    name_of,
    object_number,
    one_or_more,
    plain_key,
    text_of,
)

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

#: Told wherever they hang.
_ACTING = {"JavaScript", "Launch", "SubmitForm", "ImportData"}
#: Ways to go to a place (12.6.4.2 to 12.6.4.7) do nothing to a print.
_GOING = {"GoTo", "GoToR", "GoToE", "GoToDp", "GoTo3DView", "URI", "Thread"}
_MOST_NODES = 50_000
#: Automatic actions by key (Tables 198 to 201), in words.
_WHEN = {
    "O": "when the page is shown", "C": "when the page is left", "WC": "before closing", "WS": "before saving", "DS": "after saving",
    "WP": "before printing", "DP": "after printing", "K": "on typing", "F": "on formatting", "V": "on a change",
    "E": "under the pointer", "X": "when the pointer leaves", "D": "on pressing the button", "U": "on a click",
    "Fo": "on getting the focus", "Bl": "on losing the focus", "PO": "when the page is opened", "PC": "when the page is closed",
    "PV": "when the page is visible", "PI": "when the page is no longer visible",
}  # fmt: skip


@dataclass(frozen=True)
class Action:
    """An action of any kind, and whether it sets itself off."""

    item: ActiveItem
    by_itself: bool

    @property
    def only_goes(self) -> bool:
        """Whether it does no more than go to a place."""
        return self.item.what in _GOING


def read_actions(artwork: Artwork) -> tuple[ActiveItem, ...]:
    """Everything that acts, each kind and place once."""
    told = (
        action.item
        for action in every_action(artwork)
        if action.item.what in _ACTING or (action.by_itself and not action.only_goes)
    )
    return tuple(dict.fromkeys(told))


def every_action(artwork: Artwork) -> tuple[Action, ...]:
    """Every action of the file, harmless ones included, each kind and place once."""
    found: dict[Action, None] = {}
    root = artwork.pdf.Root if artwork.pdf else None
    for action in _of_document(root):
        found[action] = None
    for number, page in enumerate(artwork.pages, 1):
        for action in _of_page(page.dictionary, number):
            found[action] = None
    return tuple(found)


def read_attachments(artwork: Artwork) -> tuple[str, ...]:
    """The names of embedded files: those in the file's list, those that hang on a page and those that belong to the file or a page."""
    root = artwork.pdf.Root if artwork.pdf else None
    found: dict[str, None] = {}
    for name, specification in _name_tree(entry(root, "/Names", "/EmbeddedFiles")):
        found[_file_name(specification) or name] = None
    for page in artwork.pages:
        for annotation in items_of(entry(page.dictionary, "/Annots")):
            if name_of(entry(annotation, "/Subtype")) == "FileAttachment":
                found[_file_name(entry(annotation, "/FS")) or "without a name"] = None
    for holder in (root, *(page.dictionary for page in artwork.pages)):
        for specification in items_of(entry(holder, "/AF")):
            if entry(specification, "/EF") is not None:
                found[_file_name(specification) or "without a name"] = None
    return tuple(found)


def _of_document(root: Any) -> Iterator[Action]:
    yield from _automatic(entry(root, "/OpenAction"), "on opening the file", None)
    for key, action in entries_of(entry(root, "/AA")):
        yield from _automatic(action, _WHEN.get(plain_key(key), "by itself"), None)
    for name, action in _name_tree(entry(root, "/Names", "/JavaScript")):
        yield from _automatic(action, f"on opening the file ({name})" if name else "on opening the file", None)
    form = entry(root, "/AcroForm")
    if entry(form, "/XFA") is not None:
        yield Action(ActiveItem("XFA form", "in the file's form", None), by_itself=True)
    for field in _branches(entry(form, "/Fields"), "/Kids"):
        yield from _of_holder(field, "in a form field", None)
    for bookmark in _outline(entry(root, "/Outlines", "/First")):
        yield from _on_click(entry(bookmark, "/A"), "at a bookmark", None)


def _of_page(page: Any, number: int) -> Iterator[Action]:
    for key, action in entries_of(entry(page, "/AA")):
        yield from _automatic(action, _WHEN.get(plain_key(key), "by itself"), number)
    for annotation in items_of(entry(page, "/Annots")):
        what = "in a form field" if name_of(entry(annotation, "/Subtype")) == "Widget" else "at an annotation"
        yield from _of_holder(annotation, what, number)


def _of_holder(holder: Any, where: str, page: int | None) -> Iterator[Action]:
    yield from _on_click(entry(holder, "/A"), where, page)
    for key, action in entries_of(entry(holder, "/AA")):
        yield from _on_click(action, f"{where} {_WHEN.get(plain_key(key), '')}".strip(), page)


def _automatic(action: Any, where: str, page: int | None) -> Iterator[Action]:
    for what in _chain(action):
        yield Action(ActiveItem(what, where, page), by_itself=True)


def _on_click(action: Any, where: str, page: int | None) -> Iterator[Action]:
    for what in _chain(action):
        yield Action(ActiveItem(what, where, page), by_itself=False)


def _chain(action: Any) -> Iterator[str]:
    """The kinds of an action and of those that follow it (``Next``)."""
    waiting = [action]
    seen: set[int] = set()
    for _ in range(_MOST_NODES):
        if not waiting:
            return
        action = waiting.pop()
        number = object_number(action)
        if not is_dictionary(action) or (number is not None and number in seen):
            continue  # an array is a destination
        seen.add(number or 0)
        kind = name_of(entry(action, "/S"))
        if kind:
            yield kind
        waiting += one_or_more(entry(action, "/Next"))


def _branches(start: Any, key: str) -> Iterator[Any]:
    """A tree's nodes, each once."""
    waiting = items_of(start)
    seen: set[int] = set()
    for _ in range(_MOST_NODES):
        if not waiting:
            return
        node = waiting.pop()
        number = object_number(node)
        if not is_dictionary(node) or (number is not None and number in seen):
            continue
        if number is not None:
            seen.add(number)
        yield node
        waiting += items_of(entry(node, key))


def _outline(first: Any) -> Iterator[Any]:
    waiting = [first]
    seen: set[int] = set()
    for _ in range(_MOST_NODES):
        if not waiting:
            return
        node = waiting.pop()
        number = object_number(node)
        if not is_dictionary(node) or (number is not None and number in seen):
            continue
        if number is not None:
            seen.add(number)
        yield node
        waiting += [entry(node, "/Next"), entry(node, "/First")]


def _name_tree(root: Any) -> Iterator[tuple[str, Any]]:
    """The pairs of a name tree (7.9.6), without running in a circle."""
    for node in [root, *_branches(entry(root, "/Kids"), "/Kids")]:
        names = items_of(entry(node, "/Names"))
        yield from ((text_of(name) or "", value) for name, value in zip(names[::2], names[1::2], strict=False))


def _file_name(specification: Any) -> str | None:
    if is_dictionary(specification) and not is_array(specification):
        for key in ("/UF", "/F", "/Desc"):
            name = text_of(entry(specification, key))
            if name:
                return name
    return text_of(specification)
