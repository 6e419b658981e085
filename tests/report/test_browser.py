"""The HTML report in a real browser: it opens, asks for nothing, works without script, in the dark, and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from report.chromium import Open, needs_browser, silent_pages
from report.sample import clean_report, hostile_report, illustrated

from preflight.report.html import html_report

pytestmark = needs_browser()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three reports as files."""
    folder = tmp_path_factory.mktemp("reports")
    pictures = folder / "pictures"
    whole = illustrated(pictures, pages={1, 3, 7, 9})
    for name, report in (("whole", whole), ("clean", clean_report()), ("hostile", hostile_report())):
        (folder / f"{name}.html").write_text(html_report(report, pictures), encoding="utf-8")
    return folder


@pytest.fixture
def opened(browser: Any, pages: Path) -> Iterator[Open]:
    """Opens a report by name, and holds that it stays silent."""
    with silent_pages(browser) as open_page:
        yield lambda name, **options: open_page((pages / f"{name}.html").as_uri(), **options)


@pytest.mark.parametrize("name", ["whole", "clean", "hostile"])
@pytest.mark.parametrize("width", [1280, 400])
def test_it_opens_in_silence_and_fits_the_window(opened: Open, name: str, width: int) -> None:
    page = opened(name, width=width)

    assert page.locator("h1").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_pictures_are_drawn(opened: Open) -> None:
    page = opened("whole")

    assert page.evaluate("[...document.images].every(image => image.decode && image.naturalWidth > 0)")
    # The page's picture is stored once and used in the strip and on the sheet.
    assert page.locator("#picture-3").count() == 1
    assert page.locator('use[href="#picture-3"]').count() == 2
    shot = page.locator(".strip a[href='#page-3'] svg").screenshot()
    assert len(shot) > 1500  # a blank tile of this size takes under 500 bytes


def test_without_script_everything_is_there(opened: Open) -> None:
    page = opened("whole", java_script_enabled=False)

    assert page.locator(".slip:visible").count() == 11
    assert page.locator(".tools:visible").count() == 0
    page.locator(".strip a[href='#page-7']").click()
    assert page.url.endswith("#page-7")
    page.locator("#page-7 .as-trimmed").check()
    assert page.locator("#page-7 .knife").evaluate("node => getComputedStyle(node).opacity") == "1"
    page.locator("#page-7 .without-marks").check()
    assert page.locator("#page-7 .marks a").first.is_hidden()


def test_a_finding_is_followed_to_its_place_and_back(opened: Open) -> None:
    page = opened("whole")

    page.locator(".slip:has-text('352.6')").get_by_role("link", name="page 7, 60 mm").click()
    assert page.url.endswith("#page-7")
    mark = page.locator("#page-7 .marks a[href='#finding-8']")
    mark.focus()
    page.keyboard.press("Enter")
    assert page.url.endswith("#finding-8")
    assert page.locator("#finding-8").get_by_text("352.6 %, limit 330 %").is_visible()


def test_what_is_shown_can_be_chosen(opened: Open) -> None:
    page = opened("whole")

    page.locator(".tools label", has_text="ask").locator("input").uncheck()
    assert page.locator(".slip-ask:visible").count() == 0
    assert page.locator(".slip-stop:visible").count() == 4
    # A link to a finding that is switched off shows it again.
    page.locator("#page-9 .found a", has_text="5").click()
    page.locator("#finding-5").wait_for(state="visible")  # the page hears of the link a moment later


def test_the_findings_are_walked_by_keys(opened: Open) -> None:
    page = opened("whole")
    focused = "document.activeElement.id"

    page.keyboard.press("j")
    page.keyboard.press("j")
    assert page.evaluate(focused) == "finding-2"
    page.keyboard.press("k")
    assert page.evaluate(focused) == "finding-1"
    page.keyboard.press("k")
    assert page.evaluate(focused) == "finding-1"


def test_the_keyboard_reaches_the_findings_at_once(opened: Open) -> None:
    page = opened("whole")

    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the findings"
    page.keyboard.press("Enter")
    assert page.url.endswith("#answer")


def test_a_screen_reader_hears_verdict_gaps_and_findings(opened: Open) -> None:
    page = opened("whole")
    heard = page.locator("body").aria_snapshot()

    for words in (
        'heading "Verdict stop: No plates from this file yet" [level=1]',
        'navigation "Findings by stage"',
        'navigation "Pages"',
        'region "unchecked Not checked"',
        'link "stop page 3"',
        'img "Measured 352.6 %; the limit is at most 330 %"',
        'article "The picture prints at 71.9 ppi; the least for this screen ruling is 150 ppi."',
    ):
        assert words in heard, words


#: Text and its ground by selector; large text is 24 px, or 18.66 px bold (WCAG 2.2, 1.4.3).
CONTRAST = """
() => {
  const light = colour => {
    const [r, g, b] = colour.match(/[\\d.]+/g).slice(0, 3).map(Number).map(v => v / 255)
      .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ground = node => {
    for (let at = node; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (at.classList.contains("tab")) {
        const fill = getComputedStyle(at, "::before").backgroundColor;
        if (!/, 0\\)$/.test(fill)) return fill;
      } else if (!/, 0\\)$/.test(colour)) return colour;
    }
    return "rgb(255,255,255)";
  };
  const poor = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let seen = 0;
  while (walker.nextNode()) {
    const node = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || node.closest("svg,script,style,.unseen,.skip") || !node.offsetParent) continue;
    const style = getComputedStyle(node);
    const [a, b] = [light(style.color), light(ground(node))].sort((x, y) => y - x);
    const size = parseFloat(style.fontSize);
    const wanted = size >= 24 || (size >= 18.66 && style.fontWeight >= 700) ? 3 : 4.5;
    seen += 1;
    if ((a + 0.05) / (b + 0.05) < wanted) poor.push([node.className || node.tagName, style.color, ground(node)].join(" "));
  }
  return {seen, poor};
}
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_contrast_is_enough_by_day_and_night(opened: Open, scheme: str) -> None:
    page = opened("whole", color_scheme=scheme)

    found = page.evaluate(CONTRAST)

    assert found["seen"] > 200
    assert found["poor"] == []


def test_the_dark_page_is_dark(opened: Open) -> None:
    page = opened("whole", color_scheme="dark")

    colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert max(map(int, re.findall(r"\d+", colour))) < 60


@pytest.mark.parametrize("name", ["whole", "clean"])
def test_it_prints_on_a4(opened: Open, name: str, tmp_path: Path) -> None:
    import pymupdf

    page = opened(name, color_scheme="dark")
    path = tmp_path / "printed.pdf"
    page.pdf(path=path, prefer_css_page_size=True)

    with pymupdf.open(path) as printed:
        # A4 in points, ISO 216.
        assert {(round(sheet.rect.width), round(sheet.rect.height)) for sheet in printed} == {(595, 842)}
        text = " ".join(" ".join(sheet.get_text() for sheet in printed).split())
        first = printed[0].get_pixmap(dpi=50)
    assert "1 of" in text
    assert "no contract proof" in text
    # What works on a screen only is not printed, and paper is white even for those who read in the dark.
    assert "as trimmed" not in text
    assert "next finding" not in text
    assert first.pixel(2, first.height // 2) == (255, 255, 255)


def test_headings_stay_with_what_they_head(opened: Open, tmp_path: Path) -> None:
    import pymupdf

    page = opened("whole")
    path = tmp_path / "printed.pdf"
    page.pdf(path=path, prefer_css_page_size=True)

    with pymupdf.open(path) as printed:
        for sheet in printed:
            for word in ("what would go wrong on the plates", "what would go wrong in ink and paper"):
                for place in sheet.search_for(word):
                    assert place.y1 < sheet.rect.height - 120, (
                        f"{word} stands alone at the foot of page {sheet.number + 1}"
                    )
