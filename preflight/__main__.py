"""``preflight`` and ``python -m preflight``.

Loads nothing by itself: every child process looks up the program its parent is, and none of them needs the commands.
"""

from __future__ import annotations

import atexit
import gc

#: New objects between two looks for rubbish. Loading makes tens of thousands that stay; looking through them costs 15 ms.
_LOOK_AFTER = 20_000


def main() -> None:
    """Runs the command line."""
    gc.set_threshold(_LOOK_AFTER)
    # Nor is all of it looked through once more at the very end (25 ms).
    atexit.register(gc.freeze)
    from preflight.cli import main as commands

    commands()


if __name__ == "__main__":
    main()
