"""``preflight`` and ``python -m preflight``.

Loads nothing by itself: every child process looks up the program its parent is, and none of them needs the commands.
"""

from __future__ import annotations


def main() -> None:
    """Runs the command line."""
    from preflight.cli import main as commands

    commands()


if __name__ == "__main__":
    main()
