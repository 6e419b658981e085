"""Every page that is written (report, comparison, letter, the night's summary) under axe-core in a real browser, by day and night.

None says anything on the console, asks for anything outside its file, or is wider than the screen of a telephone.

Rules of WCAG 2.2 A and AA and axe's own good practice; what axe itself cannot decide (it needs a person's eye) is not counted.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from report.chromium import needs_browser, silent_pages
from report.sample import clean_report, finding, hostile_report, illustrated

from preflight.batch.ledger import Result
from preflight.batch.summary import Summary
from preflight.batch.summary_html import summary_html
from preflight.report.changes import comparison_html
from preflight.report.compare import compare
from preflight.report.html import html_report
from preflight.report.letter import letter
from preflight.report.letter_html import letter_html
from preflight.rules import settle

pytestmark = needs_browser("axe_playwright_python")

NAMES = ("whole", "clean", "hostile", "compare", "summary", "letter-en", "letter-de", "letter-fr", "letter-es")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
#: What to look into, and what is said of each element that does not pass.
LOOK = """
async tags => {
  for (const details of document.querySelectorAll("details")) details.open = true;
  const found = await axe.run(document, {runOnly: {type: "tag", values: tags}, resultTypes: ["violations"]});
  return {
    passed: found.passes.length,
    said: found.violations.flatMap(rule => rule.nodes.map(node => `${rule.id}: ${node.html.slice(0, 160)} - ${node.failureSummary}`)),
  };
}
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages")
    pictures = folder / "pictures"
    whole = illustrated(pictures, pages={1, 3, 7, 9})
    fewer = replace(whole, findings=whole.findings[1:], file=replace(whole.file, sha256="77" * 32))
    added = replace(fewer, findings=[*fewer.findings, finding("line.hairline", page=2, box=[9, 9, 20, 9.2])])
    texts = {
        "whole": html_report(whole, pictures),
        "clean": html_report(clean_report(), None),
        "hostile": html_report(hostile_report(), None),
        "compare": comparison_html(compare(whole, added), pictures),
        "summary": summary_html(_night().as_data()),
    }
    texts |= {f"letter-{tag}": letter_html(letter(whole, tag, pictures=pictures)) for tag in ("en", "de", "fr", "es")}
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return folder


def _night() -> Summary:
    """A night with something in each pile."""
    summary = Summary("/srv/artwork", settle(), total=4)
    for verdict in ("go", "ask", "stop", "unchecked"):
        summary.add(
            Result(
                verdict, f"{verdict}.pdf", verdict, "ab" * 32, 1000, 4, 0.4, {"stop": 1, "waived": 1}, ["line.hairline"],
                "A line of 0.1 pt.", ["page 3: not finished"] if verdict == "unchecked" else [], f"reports/{verdict}",
                waived=["resolution.soft  page 3; by M. Alder on 2026-03-02: no better original"], marked="",
            )
        )  # fmt: skip
    return summary


@pytest.fixture(scope="module")
def axe() -> str:
    from importlib.resources import files

    return (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


def look(browser: Any, axe: str, address: str, scheme: str) -> dict[str, Any]:
    with silent_pages(browser) as open_page:
        page = open_page(address, color_scheme=scheme)
        page.set_viewport_size({"width": 380, "height": 800})
        too_wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        page.set_viewport_size({"width": 1280, "height": 900})
        page.evaluate(axe)
        found: dict[str, Any] = page.evaluate(LOOK, TAGS)
        found["too_wide"] = too_wide
    return found


@pytest.mark.parametrize(
    ("name", "scheme"),
    [(name, "light") for name in NAMES] + [(name, "dark") for name in ("whole", "compare", "summary", "letter-en")],
)
def test_nobody_is_shut_out(browser: Any, axe: str, pages: Path, name: str, scheme: str) -> None:
    found = look(browser, axe, (pages / f"{name}.html").as_uri(), scheme)

    assert found["said"] == []
    assert found["too_wide"] <= 0
    assert found["passed"] > 5


def test_what_is_wrong_would_be_seen(browser: Any, axe: str, tmp_path: Path) -> None:
    """The same look at a page with a picture without words, pale text and no language."""
    bad = tmp_path / "bad.html"
    bad.write_text('<title>Bad</title><main><h1>Bad</h1><img src="data:,"><p style="color:#bbb">pale</p></main>')
    said = look(browser, axe, bad.as_uri(), "light")["said"]

    assert {line.partition(":")[0] for line in said} >= {"image-alt", "color-contrast", "html-has-lang"}
