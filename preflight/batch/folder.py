"""Finds the artwork below a folder, and the ticket that belongs to each.

Artwork is known by its first bytes, or by a name that claims to be artwork (an HTML page named ``.pdf`` is the customer's
fault to hear of). Tickets lie beside it: ``NAME.ticket.toml`` (with or without the artwork's own ending), else the nearest
``ticket.toml`` in the same or a parent folder, up to the folder of the run. Links are followed once: no loop runs for ever. A
folder that cannot be looked into is told of: what lies in it was not checked.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

#: Endings that claim to be artwork, whatever is inside.
ARTWORK_ENDINGS = frozenset({".pdf", ".tif", ".tiff", ".jpg", ".jpeg", ".png", ".psd", ".psb", ".eps", ".webp", ".ai"})
#: Endings of files that are still being written by somebody's upload.
PART_ENDINGS = (".part", ".filepart", ".tmp", ".crdownload", ".partial", ".download")
_FIRST_BYTES = (
    b"II*\x00",
    b"MM\x00*",
    b"II+\x00",
    b"MM\x00+",
    b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n",
    b"8BPS",
    b"%!PS",
)


@dataclass(frozen=True)
class Candidate:
    """One artwork found: its path, its name as seen from the folder of the run, its size, and its ticket."""

    path: Path
    name: str
    bytes: int
    ticket: Path | None


def find_artwork(
    folder: Path, leave_out: tuple[Path | None, ...] = (), closed: Callable[[Path, str], None] | None = None
) -> Iterator[Candidate]:
    """All artwork below ``folder``, in order of name; the folders of ``leave_out`` (the run's own output) are not entered.

    ``closed`` is told of each folder that cannot be looked into, and each link to artwork that leads nowhere, with the reason.
    """
    seen = {identity for path in leave_out if path is not None and (identity := _identity(path)) is not None}
    for path in _files(folder, seen, closed):
        try:
            if is_artwork(path):
                yield Candidate(path, str(path.relative_to(folder)), path.stat().st_size, ticket_of(path, folder))
        except OSError:
            # Unreadable or gone since: it is reported by the check itself, not lost here.
            yield Candidate(path, str(path.relative_to(folder)), 0, ticket_of(path, folder))


def _identity(path: Path) -> tuple[int, int] | None:
    """Which folder this is, under whatever name; None where there is none yet."""
    try:
        about = path.stat()
    except OSError:
        return None
    return about.st_dev, about.st_ino


def _files(root: Path, seen: set[tuple[int, int]], closed: Callable[[Path, str], None] | None) -> Iterator[Path]:
    # A list of what is still to look at, not a function within itself: strangers nest deeper than a stack goes.
    ahead: list[tuple[Path, bool]] = [(root, True)]
    while ahead:
        path, is_folder = ahead.pop()
        if not is_folder:
            yield path
            continue
        try:
            about = path.stat()
            if (about.st_dev, about.st_ino) in seen:
                continue
            seen.add((about.st_dev, about.st_ino))
            with os.scandir(path) as listing:
                entries = sorted(listing, key=lambda entry: os.fsencode(entry.name), reverse=True)
        except OSError as fault:
            if closed is not None:
                closed(path, fault.strerror or str(fault))
            continue
        for entry in entries:
            try:
                if entry.is_dir():
                    ahead.append((path / entry.name, True))
                elif entry.is_file() and not entry.name.startswith(".") and not _still_arriving(entry.name):
                    ahead.append((path / entry.name, False))
                elif _leads_nowhere(path / entry.name) and closed is not None:
                    closed(path / entry.name, "a link that leads nowhere")
            except OSError:  # a link that leads round in circles to itself
                if _leads_nowhere(path / entry.name) and closed is not None:
                    closed(path / entry.name, "a link that leads nowhere")


def _leads_nowhere(path: Path) -> bool:
    """Whether a link that claims to be artwork has nothing at its end: somebody meant a file to be there."""
    return path.suffix.lower() in ARTWORK_ENDINGS and path.is_symlink() and not path.exists()


def _still_arriving(name: str) -> bool:
    return name.lower().endswith(PART_ENDINGS)


def is_artwork(path: Path) -> bool:
    """Whether a file is artwork by its first bytes, or claims to be by its name."""
    if path.suffix.lower() in ARTWORK_ENDINGS:
        return True
    with path.open("rb") as file:
        head = file.read(1024)
    return head.startswith(_FIRST_BYTES) or b"%PDF-" in head or (head[:4] == b"RIFF" and head[8:12] == b"WEBP")


def is_there(path: Path) -> bool:
    """Whether a file is there; a name longer than the file system takes is not, nor what may not be looked at."""
    try:
        return path.is_file()
    except OSError:
        return False


def ticket_of(path: Path, root: Path) -> Path | None:
    """The ticket that belongs to an artwork, or None."""
    for name in (f"{path.name}.ticket.toml", f"{path.stem}.ticket.toml"):
        if is_there(path.parent / name):
            return path.parent / name
    folder = path.parent
    while True:
        if is_there(folder / "ticket.toml"):
            return folder / "ticket.toml"
        if folder in (root, folder.parent):
            return None
        folder = folder.parent
