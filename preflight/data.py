"""Where the files shipped with the tool lie: in the installed package, else in the checkout beside it."""

from __future__ import annotations

from pathlib import Path


def data_folder(name: str) -> Path:
    """The folder ``rules`` or ``demo_files``: ``preflight/data/NAME`` when installed, the checkout's ``NAME`` otherwise."""
    package = Path(__file__).parent
    installed = package / "data" / name
    return installed if installed.is_dir() else package.parent / name
