"""The sheet on the press in a real browser, from artwork made in code: plates lifted, the knife moved, ink outlined, a ruler laid on."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from PIL import Image
from report.chromium import Open, needs_browser, silent_pages

from preflight.isolate import check_file
from preflight.report.html import html_report
from preflight.rules import settle

pytestmark = needs_browser()

TRIM_MM = (100.0, 80.0)


@pytest.fixture(scope="module")
def report_html(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A card with a ground of cyan that bleeds, green where yellow lies on it, 400 % of ink, and a spot; and a second page in black."""
    folder = tmp_path_factory.mktemp("views")
    book = Book()
    green = book.spot("Fern Green")
    book.page(
        f"1 0 0 0 k {rectangle(-3, -3, 106, 40)} f"
        f" 1 0 1 0 k {rectangle(10, 10, 20, 20)} f"
        f" 1 1 1 1 k {rectangle(60, 50, 25, 20)} f"
        f" /Spot cs 1 scn {rectangle(10, 50, 20, 20)} f",
        trim_mm=TRIM_MM,
        resources={"Spot": green},
    )
    book.page(f"0 0 0 1 k {rectangle(10, 10, 20, 20)} f {mm(10)} {mm(60)} m", trim_mm=TRIM_MM)
    pictures = folder / "pictures"
    pictures.mkdir()
    report = check_file(book.save(folder / "card.pdf"), settle(), pictures=pictures)
    path = folder / "report.html"
    path.write_text(html_report(report, pictures), encoding="utf-8")
    return path


@pytest.fixture
def opened(browser: Any, report_html: Path) -> Iterator[Open]:
    """Opens the report at its first sheet, and holds that it stays silent."""
    with silent_pages(browser) as open_page:

        def at_first_sheet(**options: Any) -> Any:
            page = open_page(report_html.as_uri(), reduced_motion="reduce", **options)
            page.locator("#page-1").scroll_into_view_if_needed()
            return page

        yield at_first_sheet


def colour_at(page: Any, x_mm: float, y_mm: float, sheet: str = "#page-1") -> tuple[int, ...]:
    """What is seen of a place in trim space: the median of a few pixels, as JPEG is not quite flat."""
    drawing = page.locator(f"{sheet} .drawing")
    shot = np.asarray(Image.open(io.BytesIO(drawing.screenshot(animations="disabled"))).convert("RGB"))
    x, y = drawing.evaluate(
        """(svg, [x, y]) => {
          const box = svg.getBoundingClientRect(), at = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM());
          return [at.x - box.x, at.y - box.y];
        }""",
        [x_mm, y_mm],
    )
    part = shot[round(y) - 1 : round(y) + 2, round(x) - 1 : round(x) + 2].reshape(-1, 3)
    return tuple(int(value) for value in np.median(part, axis=0))


def look_of(page: Any, turn: int) -> tuple[int, ...]:
    """The colour that an ink's cylinder is drawn in: the ink at 100 % on paper."""
    style = page.locator("#page-1 .unit").nth(turn - 1).locator(".on .inked").get_attribute("style")
    return tuple(int(value) for value in re.findall(r"\d+", style))


def near(seen: tuple[int, ...], wanted: tuple[float, ...], by: float = 14) -> bool:
    return max(abs(one - other) for one, other in zip(seen, wanted, strict=True)) <= by


GREEN = (20, 60)  # cyan and yellow; from the trim's top left corner
CYAN = (50, 60)
DARK = (70, 20)
SPOT = (20, 20)
PAPER = (95, 20)


@pytest.mark.parametrize("script", [True, False])
def test_lifted_plates_leave_what_the_others_print(opened: Open, script: bool) -> None:
    """Each ink alone is its own colour; two are the product of both, as for filters laid over one another."""
    page = opened(java_script_enabled=script)
    assert page.locator("#page-1 .unit .ink").all_text_contents() == [
        "Black",
        "Cyan",
        "Magenta",
        "Yellow",
        "Fern Green",
    ]
    cyan, yellow, spot = look_of(page, 2), look_of(page, 4), look_of(page, 5)

    page.locator("#page-1 .unit-switch-1").uncheck()  # black
    both = tuple(one * other / 255 for one, other in zip(cyan, yellow, strict=True))
    assert near(colour_at(page, *GREEN), both)
    assert near(colour_at(page, *CYAN), cyan)
    assert near(colour_at(page, *SPOT), spot)
    assert near(colour_at(page, *PAPER), (255, 255, 255))

    page.locator("#page-1 .unit-switch-4").uncheck()  # yellow
    assert near(colour_at(page, *GREEN), cyan)
    page.locator("#page-1 .unit-switch-2").uncheck()  # cyan
    assert near(colour_at(page, *GREEN), (255, 255, 255))
    assert near(colour_at(page, *SPOT), spot)
    page.locator("#page-1 .unit-switch-5").uncheck()
    assert near(colour_at(page, *SPOT), (255, 255, 255))
    # The other page's plates are still down.
    assert page.locator("#page-2 .composite").is_visible()


def test_with_all_plates_down_it_is_the_page_itself(opened: Open) -> None:
    page = opened()

    assert page.locator("#page-1 .separations").is_hidden()
    page.locator("#page-1 .unit-switch-2").uncheck()
    assert page.locator("#page-1 .separations").is_visible()
    assert page.locator("#page-1 .composite").is_hidden()
    page.locator("#page-1 .all-down").click()
    assert page.locator("#page-1 .composite").is_visible()
    # A plate with nothing on it takes no picture: page 2 prints in black only.
    assert page.locator("#page-2 .plate").count() == 1


def test_plates_are_lifted_by_keys_and_told_in_words(opened: Open) -> None:
    page = opened()
    switch = page.get_by_role("checkbox", name="Yellow").first

    switch.focus()
    page.keyboard.press("Space")

    assert not switch.is_checked()
    unit = page.locator("#page-1 .unit").nth(3)
    assert unit.locator(".up").is_visible()
    assert unit.locator(".down").is_hidden()
    page.locator("#page-1").get_by_role("button", name="Cyan alone").press("Enter")
    checked = page.locator("#page-1 .unit-switch").evaluate_all("all => all.map(one => one.checked)")
    assert checked == [False, True, False, False, False]
    page.locator("#page-1 .in-gray").check()
    assert near(colour_at(page, *CYAN), (0, 0, 0))


def test_the_knife_takes_off_what_lies_outside(opened: Open) -> None:
    page = opened()
    page.locator("#page-1 .without-marks").check()
    desk = colour_at(page, -5.5, 40)
    cyan = colour_at(page, *CYAN)

    assert near(colour_at(page, -1.6, 60), cyan)  # bleed
    page.locator("#page-1 .as-trimmed").check()
    assert near(colour_at(page, -1.6, 60), desk, 4)
    assert near(colour_at(page, 0.6, 60), cyan)
    page.locator("#page-1 .cut-inside").check()
    assert near(colour_at(page, 0.5, 60), desk, 4)
    assert near(colour_at(page, 1.8, 60), cyan)
    page.locator("#page-1 .cut-outside").check()
    assert near(colour_at(page, -0.5, 60), cyan)
    assert near(colour_at(page, -1.8, 60), desk, 4)


def test_the_knife_moves_by_tenths(opened: Open) -> None:
    page = opened()
    slider = page.locator("#page-1 .knife-off")

    slider.focus()
    for _ in range(3):
        page.keyboard.press("ArrowLeft")

    assert page.locator("#page-1 .as-trimmed").is_checked()
    assert slider.get_attribute("aria-valuetext") == "0.3 mm inside"
    assert "M0.3 0.3h99.4v79.4h-99.4z" in page.locator("#page-1 .knife").get_attribute("d")
    page.locator("#page-1 .cut-outside").check()
    assert slider.get_attribute("aria-valuetext") == "1 mm outside"


def test_too_much_ink_is_outlined_with_its_size(opened: Open) -> None:
    page = opened()

    assert page.locator("#page-1 .contours text").all_text_contents() == ["500 mm²"]  # 25 x 20 mm
    path = page.locator("#page-1 .contour").get_attribute("d")
    assert set(re.findall(r"[\d.]+ [\d.]+", path)) == {"60 10", "85 10", "85 30", "60 30"}
    page.locator("#page-1 .without-contours").check()
    assert page.locator("#page-1 .contours").is_hidden()
    assert page.locator("#page-2 .contours").count() == 0


def test_distances_are_shown_when_asked_for(opened: Open) -> None:
    page = opened()
    dark = page.locator("#page-1 .marks a[href^='#finding']", has_text="15 mm").first

    assert dark.locator(".reach").first.is_hidden()
    dark.focus()
    assert sorted(dark.locator(".reach:visible .reach-said").all_text_contents()) == [
        "10 mm",
        "15 mm",
        "50 mm",
        "60 mm",
    ]
    page.locator("#page-1 .with-distances").check()
    page.locator("#page-1 .with-distances").focus()
    assert sorted(dark.locator(".reach:visible .reach-said").all_text_contents()) == ["10 mm", "15 mm"]
    assert "left 60 mm" in dark.get_attribute("aria-label")


def test_a_ruler_by_mouse_and_by_keys(opened: Open) -> None:
    page = opened()
    button = page.locator("#page-1").get_by_role("button", name="measure")
    said = page.locator("#page-1 .measure output")
    drawing = page.locator("#page-1 .drawing")
    place = (
        "(svg, [x, y]) => { const at = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM()); return [at.x, at.y]; }"
    )

    button.click()
    address = page.url
    for point in ([60, 10], [85, 30]):  # over a marked place: the mark's link is not followed
        page.mouse.click(*drawing.evaluate(place, point))
    length, across, down = (float(value) for value in re.findall(r"[\d.]+", said.text_content()))
    # 25 across and 20 down; the hypotenuse of both; a pixel is about a third of a millimetre.
    assert (across, down, length) == pytest.approx((25, 20, 32.02), abs=0.4)
    assert page.url == address

    drawing.focus()
    for key in ("Escape", "Enter"):
        page.keyboard.press(key)  # off, and on again by the button that has the focus then
    for key in (
        "ArrowRight",
        "Enter",
        "ArrowRight",
        "ArrowRight",
        "ArrowRight",
        "ArrowDown",
        "Shift+ArrowDown",
        "Enter",
    ):
        page.keyboard.press(key)
    assert said.text_content() == "3.2 mm (3 mm across, 1.1 mm down)"
    page.keyboard.press("Escape")
    assert page.locator(".ruler").count() == 0


def test_without_script_there_is_nothing_that_needs_it(opened: Open) -> None:
    page = opened(java_script_enabled=False)

    assert page.locator("#page-1 button").count() == 0
    assert page.locator("#page-1 input[type=range]").count() == 0
    page.locator("#page-1 .as-trimmed").check()
    assert page.locator("#page-1 .knife").evaluate("node => getComputedStyle(node).opacity") == "1"


def test_plates_are_printed_as_they_stand(opened: Open, tmp_path: Path) -> None:
    import pymupdf

    page = opened()
    page.locator("#page-1 .unit-switch-2").uncheck()
    page.pdf(path=tmp_path / "printed.pdf", prefer_css_page_size=True)

    with pymupdf.open(tmp_path / "printed.pdf") as printed:
        text = " ".join(" ".join(sheet.get_text() for sheet in printed).split())
    assert "Press units in running order" in text
    assert "lifted" in text
    assert "untick" not in text
    assert "all plates down" not in text


def test_a_plates_picture_is_small_and_gray(report_html: Path) -> None:
    """Five on the first page and one on the second, each under the 24 kB that 64 pages allow."""
    text = report_html.read_text(encoding="utf-8")
    plates = re.findall(r'class="plate plate-\d"[^>]*href="data:image/jpeg;base64,([^"]+)"', text)

    assert len(plates) == 5 + 1
    for data in plates:
        raw = base64.b64decode(data)
        assert len(raw) < 24_000
        assert Image.open(io.BytesIO(raw)).mode == "L"
