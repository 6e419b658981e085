"""Makes the demo scene: what Fernhollow Botanic Garden sends to its printer, good and faulty, with the tickets.

    python demo_files/make.py FOLDER

The same files, byte for byte, each time. May be loaded by its path from wherever it is installed.
"""

from __future__ import annotations

import sys
from pathlib import Path

_HERE = str(Path(__file__).resolve().parent)
# Its neighbours are found beside it, also where this file was loaded by its path.
sys.path.insert(0, _HERE)
try:
    import fernhollow_faults
    import fernhollow_guide
    import fernhollow_oddments
    from scene_file import DemoFile
finally:
    sys.path.remove(_HERE)

__all__ = ["DemoFile", "make_scene"]


def make_scene(folder: Path) -> list[DemoFile]:
    """Writes all files of the scene into ``folder``; the first is the good one."""
    folder.mkdir(parents=True, exist_ok=True)
    return [make(folder) for make in (fernhollow_guide.make, *fernhollow_faults.ALL, *fernhollow_oddments.ALL)]


def main() -> None:
    if len(sys.argv) != 2:
        raise SystemExit("usage: python make.py FOLDER")
    for file in make_scene(Path(sys.argv[1])):
        print(f"{file.path.name:26} {file.story}")


if __name__ == "__main__":
    main()
