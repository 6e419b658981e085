"""Good files to spoil: the demo scene, and real files of other programs that lie on this machine.

The real ones come from packages (``.ci/setup`` installs one with 83 small PDFs) or from any folder that is named. They are copied to
where they cannot be harmed; what is large is left out, so that a run is about many files and not about long ones.
"""

from __future__ import annotations

import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: Where packages put PDFs of other programs.
PACKAGED = (Path("/usr/share/gocode/src/github.com/jung-kurt/gofpdf/pdf"), Path("/usr/share/doc/shared-mime-info"))
ENDINGS = frozenset({".pdf", ".tif", ".tiff", ".jpg", ".jpeg", ".png"})
MOST_BYTES = 400_000


@dataclass(frozen=True)
class Good:
    """A file before it is spoilt, with the rules and the ticket it is checked under."""

    path: Path
    rules: str | None = None
    ticket: Path | None = None


def good_files(folder: Path, also: list[Path]) -> list[Good]:
    """The demo scene made in ``folder``, and copies of the real files found."""
    sys.path[:0] = [str(ROOT / "demo_files")]
    from make import make_scene

    scene = [Good(item.path, item.rules, item.ticket) for item in make_scene(folder / "scene")]
    # A run over the scene's large files alone would take hours and meet the same code again.
    taken = [item for item in scene if item.path.stat().st_size <= 4 * MOST_BYTES]
    tickets = [(item.rules, item.ticket) for item in scene if item.ticket is not None] or [(None, None)]
    (folder / "real").mkdir(parents=True)
    for number, path in enumerate(real_files(also)):
        copy = folder / "real" / f"{number:04}{path.suffix.lower()}"
        shutil.copyfile(path, copy)
        taken.append(Good(copy, *tickets[number % len(tickets)]) if number % 3 == 0 else Good(copy))
    return taken


def real_files(also: list[Path]) -> list[Path]:
    """Artwork below the folders named and below those of packages, in order of path."""
    found = {
        path
        for folder in (*PACKAGED, *also)
        if folder.is_dir()
        for path in folder.rglob("*")
        if path.suffix.lower() in ENDINGS and path.is_file() and 0 < path.stat().st_size <= MOST_BYTES
    }
    return sorted(found)
