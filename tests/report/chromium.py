"""A real browser for the tests: where it is, how it is started, and a page of it that must stay silent."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

Open = Callable[..., Any]


def needs_browser(*modules: str) -> pytest.MarkDecorator:
    """The mark of tests that need the browser and these modules: skipped with a word, or failed in CI, where one is missing."""
    missing = [name for name in ("playwright", *modules) if importlib.util.find_spec(name) is None]
    word = f"no browser at {CHROMIUM}" if not CHROMIUM.exists() else f"not installed: {', '.join(missing)}"
    lacks = bool(missing) or not CHROMIUM.exists()
    if lacks and os.environ.get("CI") == "true":
        pytest.fail(f"{word}; it is needed here", pytrace=False)
    return pytest.mark.skipif(lacks, reason=word)


@contextmanager
def silent_pages(browser: Any) -> Iterator[Open]:
    """Opens addresses; in the end nothing was said on the console and no request left the files opened."""
    contexts: list[Any] = []
    opened, said, asked = set[str](), list[str](), list[str]()

    def open_page(address: str, *, width: int = 1280, **options: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": 900}, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("dialog", lambda dialog: (said.append(f"dialog {dialog.message}"), dialog.dismiss()))
        page.on("request", lambda request: asked.append(request.url))
        opened.add(address)
        page.goto(address)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert said == []
    assert [url for url in asked if not url.startswith("data:") and url.partition("#")[0] not in opened] == []
