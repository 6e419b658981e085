"""Whether a file has arrived whole: it has stopped growing, no partner part file lies beside it, and it has its end.

Stability alone is not proof (slow senders pause), an end mark alone neither (some programs write none), so both are asked
for; a file that keeps still but never shows its end is taken after ``patience_s`` all the same, and the check then says what is
wrong with it.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from pathlib import Path

from preflight.batch.folder import PART_ENDINGS, is_there

_TAIL_BYTES = 2048


@dataclass
class _Seen:
    size: int
    mtime_ns: int
    since: float


@dataclass
class Arrivals:
    """Remembers each file's size and time from look to look. ``still_s``: how long they must not change."""

    still_s: float = 2.0
    patience_s: float = 60.0
    _seen: dict[Path, _Seen] = field(default_factory=dict)

    def is_whole(self, path: Path) -> bool:
        """Whether a file may be opened now. Raises ``OSError`` where it is gone."""
        about = path.stat()
        now = time.monotonic()  # a clock that nobody sets back
        seen = self._seen.get(path)
        if seen is None or (seen.size, seen.mtime_ns) != (about.st_size, about.st_mtime_ns):
            self._seen[path] = _Seen(about.st_size, about.st_mtime_ns, now)
            return False
        still_s = now - seen.since
        if still_s < self.still_s or _has_part_file(path):
            return False
        return still_s >= self.patience_s or (about.st_size > 0 and has_its_end(path))

    def forget(self, path: Path) -> None:
        self._seen.pop(path, None)


def _has_part_file(path: Path) -> bool:
    names = [f"{path.name}{ending}" for ending in PART_ENDINGS] + [f"{path.stem}{ending}" for ending in PART_ENDINGS]
    return any(is_there(path.parent / name) or is_there(path.parent / f".{name}") for name in names)


def has_its_end(path: Path) -> bool:
    """Whether the end mark of its kind stands at the end of a file; kinds without one are taken as ended."""
    with path.open("rb") as file:
        head = file.read(1024)
        file.seek(max(0, path.stat().st_size - _TAIL_BYTES))
        tail = file.read().rstrip(b"\x00\r\n \t")
    if b"%PDF-" in head:
        return b"%%EOF" in tail
    if head.startswith(b"\xff\xd8\xff"):
        return b"\xff\xd9" in tail
    if head.startswith(b"\x89PNG"):
        return b"IEND" in tail
    return True
