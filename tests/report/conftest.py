"""What the tests in a real browser share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from report.chromium import CHROMIUM, FLAGS


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One browser with an empty profile of its own."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=str(CHROMIUM), headless=True, args=FLAGS)
        yield started
        started.close()
