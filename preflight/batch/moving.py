"""Moves artwork into the folder of its verdict: never over another file, never half of one, whatever the file system can do."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

_MOST_NAME_BYTES = 255


def move_without_overwriting(path: Path, folder: Path) -> Path:
    """Moves a file into a folder under its own name, or with a number where that is taken; returns the new path.

    Raises ``OSError``; the file is then where it was, and only there. The file comes to its new name by a link, which fails where
    there is something already; to another file system it is first copied, under a name that tells that it is not whole.
    """
    folder.mkdir(parents=True, exist_ok=True)
    try:
        moved = _linked(path, path, folder)
    except FileExistsError:
        raise
    except OSError:
        moved = _copied(path, folder)
    try:
        path.unlink()
    except OSError:
        moved.unlink(missing_ok=True)
        raise
    return moved


def _linked(source: Path, named_as: Path, folder: Path) -> Path:
    for target in _names(named_as, folder):
        try:
            os.link(source, target, follow_symlinks=False)
        except FileExistsError:
            continue
        return target
    raise FileExistsError(f"no free name for {named_as.name} in {folder}")


def _copied(path: Path, folder: Path) -> Path:
    """A copy in another file system."""
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name[:50]}.", suffix=".part", dir=folder)
    os.close(descriptor)
    part = Path(name)
    try:
        shutil.copy2(path, part)
        try:
            return _linked(part, path, folder)
        except FileExistsError:
            raise
        except OSError:  # a file system without links: claim the name, then move over the claim
            return _over_a_claim(part, path, folder)
    finally:
        part.unlink(missing_ok=True)


def _over_a_claim(part: Path, named_as: Path, folder: Path) -> Path:
    for target in _names(named_as, folder):
        try:
            target.touch(exist_ok=False)
        except FileExistsError:
            continue
        try:
            part.replace(target)
        except OSError:
            target.unlink(missing_ok=True)
            raise
        return target
    raise FileExistsError(f"no free name for {named_as.name} in {folder}")


def _names(path: Path, folder: Path) -> Iterator[Path]:
    yield folder / path.name
    for turn in range(2, 10_000):
        yield folder / _numbered(path, turn)


def _numbered(path: Path, turn: int) -> str:
    """``name (2).pdf``; a name as long as the file system takes gives up some of its own for the number."""
    number = f" ({turn}){path.suffix}"
    room = _MOST_NAME_BYTES - len(os.fsencode(number))
    return os.fsdecode(os.fsencode(path.stem)[:room]) + number
