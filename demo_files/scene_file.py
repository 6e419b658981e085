"""What the demo scene hands out: a file, its ticket, and what must be said about it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class DemoFile:
    """One file of the scene. ``expects`` are the ids that must at least be found; empty: nothing above a note."""

    path: Path
    ticket: Path | None
    rules: str
    expects: tuple[str, ...]
    story: str


CMYK = ["Cyan", "Magenta", "Yellow", "Black"]


def handed_in(path: Path, expects: tuple[str, ...], story: str, title: str, **order: Any) -> DemoFile:
    """The file with its ticket; the job number is made from the file's name."""
    order.setdefault("inks", CMYK)
    job = f"FBG-{sum(path.stem.encode()) % 900 + 100:04d}"
    ticket = write_ticket(path, job=job, customer="Fernhollow Botanic Garden", title=title, **order)
    return DemoFile(path, ticket, "sheetfed-coated", expects, story)


def write_ticket(artwork: Path, **order: Any) -> Path:
    """The order of a file as ``NAME.ticket.toml`` beside it."""
    path = artwork.with_name(f"{artwork.stem}.ticket.toml")
    lines = [f"{key} = {_toml(value)}" for key, value in order.items()]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    return path


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return json.dumps(value)
