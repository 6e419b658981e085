"""The pictures of a letter: crops from beside the report, few and small enough that the mail stays under a megabyte.

Read by their bare names from one folder, taken only where they are JPEG or PNG. A letter without any is as good.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

#: Each point to be changed has its picture; a decision has one where there are fewer than this.
MOST_PICTURES = 3
#: All together, before encoding for mail, which makes a third more of them.
MOST_BYTES = 600_000
_KINDS = {b"\xff\xd8\xff": "jpeg", b"\x89PNG\r\n\x1a\n": "png"}


@dataclass(frozen=True)
class LetterPicture:
    """One picture: its number in the letter, its kind (``jpeg`` or ``png``), its bytes."""

    number: int
    kind: str
    data: bytes

    @property
    def file_name(self) -> str:
        return f"picture-{self.number}.{'jpg' if self.kind == 'jpeg' else 'png'}"


class PictureShelf:
    """Hands out pictures until there are enough."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.taken: list[LetterPicture] = []
        self.left = MOST_BYTES

    def take(self, name: str | None, *, must: bool = False) -> LetterPicture | None:
        """The picture of a name; None where there are enough (unless it ``must`` be), or it is missing, too large, or no picture."""
        if not name or self.folder is None or (len(self.taken) >= MOST_PICTURES and not must):
            return None
        try:
            # The name alone counts: a report never reaches out of the folder of its pictures.
            path = self.folder / Path(name).name
            if not path.is_file() or path.stat().st_size > self.left:
                return None
            data = path.read_bytes()
        except (OSError, ValueError):
            return None
        kind = next((kind for magic, kind in _KINDS.items() if data.startswith(magic)), None)
        if kind is None or len(data) > self.left:
            return None
        shown = next((picture for picture in self.taken if picture.data == data), None)
        if shown is not None:  # the same whole page once more: said again only where a picture must be
            return shown if must else None
        self.left -= len(data)
        picture = LetterPicture(len(self.taken) + 1, kind, data)
        self.taken.append(picture)
        return picture
