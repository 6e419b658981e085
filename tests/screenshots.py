"""The pictures of the README, taken anew: four demo reports in a real browser, each small enough for a page that loads at once.

    python tests/screenshots.py [FOLDER]

Makes the demo in a folder of its own, opens its reports in the system's Chromium and saves ``go.png``, ``ask.png``, ``stop.png`` and
``sheet.png`` (into ``.ci/screenshots`` where no folder is named), under 150 kB each. Look at them before they are kept.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / ".ci" / "screenshots"
CHROMIUM = Path("/usr/bin/chromium")
MOST_BYTES = 150_000
#: As wide as a report on a desk screen, with two pixels to each of the page's.
WIDTH_PX, SCALE = 1120, 1.5


@dataclass(frozen=True)
class Shot:
    """One picture: whose report, from the top of which element to the foot of which, and what is clicked first."""

    name: str
    artwork: str
    first: str
    last: str
    clicks: tuple[str, ...] = ()


SHOTS = (
    Shot("go", "spring-guide", "body > header", "nav[aria-labelledby=strip-title]"),
    Shot("ask", "flyer-plant-sale", "body > header", "main .slip >> nth=0"),
    Shot("stop", "shop-sign", "main .slip >> nth=0", "main .slip >> nth=0"),
    Shot("sheet", "card-lantern-night", "main .sheet >> nth=0", "main .sheet >> nth=0"),
)


def main(folder: Path) -> None:
    """Takes all pictures into ``folder``."""
    from playwright.sync_api import sync_playwright

    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="preflight-") as scratch, sync_playwright() as playwright:
        command = [sys.executable, "-m", "preflight", "demo", "--out", scratch]
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox", "--hide-scrollbars"])
        for shot in SHOTS:
            [report] = Path(scratch).glob(f"reports/{shot.artwork}-*/report.html")
            path = folder / f"{shot.name}.png"
            path.write_bytes(small_png(taken(browser, report, shot)))
            print(f"{path}: {path.stat().st_size // 1000} kB")
        browser.close()


def taken(browser: Any, report: Path, shot: Shot) -> bytes:
    """The part of a report that a picture shows, as PNG."""
    page = browser.new_page(viewport={"width": WIDTH_PX, "height": 900}, device_scale_factor=SCALE)
    page.goto(report.as_uri())
    for click in shot.clicks:
        page.locator(click).first.click()
    first, last = (page.locator(selector).first.bounding_box() for selector in (shot.first, shot.last))
    top, foot = first["y"] - 16, last["y"] + last["height"] + 16
    data: bytes = page.screenshot(
        full_page=True, clip={"x": 0, "y": max(0, top), "width": WIDTH_PX, "height": foot - max(0, top)}
    )
    page.close()
    return data


def small_png(data: bytes) -> bytes:
    """The picture with as many colours and pixels as fit into ``MOST_BYTES``."""
    image = Image.open(io.BytesIO(data)).convert("RGB")
    while True:
        for colours in (256, 128, 64, 32):
            file = io.BytesIO()
            image.quantize(colours, dither=Image.Dither.NONE).save(file, "PNG", optimize=True)
            if file.tell() < MOST_BYTES:
                return file.getvalue()
        image = image.resize((image.width * 9 // 10, image.height * 9 // 10), Image.Resampling.LANCZOS)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
