"""The proof of the comparison: a re-export with pages in another order, pictures compressed and fonts subset anew.

One fault is mended and one real fault is added; nothing else may be called fixed, new, changed or better.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from fontTools import subset
from fontTools.ttLib import TTFont
from pikepdf import Name
from PIL import Image
from whole import report_of

from preflight.findings import Report
from preflight.report.changes import render_comparison, summary_words
from preflight.report.compare import Comparison, compare

FONT = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
pytestmark = pytest.mark.skipif(not FONT.exists(), reason=f"no font at {FONT}")

TRIM_MM = (148.0, 210.0)


def photograph(seed: int, width: int, height: int) -> Image.Image:
    """A picture with soft tones and fine grain, as a camera gives."""
    noise = np.random.default_rng(seed)
    rows, columns = np.mgrid[0:height, 0:width] / max(width, height)
    tones = [128 + 90 * np.sin(7 * rows * (seed % 3 + 1) + part + 5 * columns) for part in range(4)]
    data = np.stack(tones, axis=-1) * 0.55 + noise.normal(0, 9, (height, width, 4))
    return Image.fromarray(np.clip(data, 0, 255).astype(np.uint8), "CMYK")


def compressed(book: Book, picture: Image.Image, quality: int) -> Any:
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=quality)
    # The image library writes CMYK upside down, as the marker in the file says; Decode turns it back.
    return book.stream(
        file.getvalue(), Type=Name.XObject, Subtype=Name.Image, Width=picture.width, Height=picture.height,
        ColorSpace=Name.DeviceCMYK, BitsPerComponent=8, Filter=Name.DCTDecode, Decode=[1, 0] * 4,
    )  # fmt: skip


def subset_font(book: Book, tag: str, letters: str, folder: Path) -> Any:
    """The font cut down to some letters, under a subset tag of its own."""
    font = TTFont(FONT)
    options = subset.Options(notdef_outline=True, glyph_names=False)
    cutter = subset.Subsetter(options)
    cutter.populate(text=letters)
    cutter.subset(font)
    path = folder / f"{tag}.ttf"
    font.save(path)
    embedded = book.embedded_font(path)
    for holder, key in ((embedded, "/BaseFont"), (embedded.FontDescriptor, "/FontName")):
        holder[key] = Name(f"/{tag}+DejaVuSans")
    return embedded


def placed(name: str, x: float, y: float, width: float, height: float) -> str:
    return f"q {mm(width)} 0 0 {mm(height)} {mm(x)} {mm(y)} cm /{name} Do Q\n"


def lines_of_type(seed: int, top: float) -> str:
    words = ["fern", "moss", "reed", "sedge", "heath", "bog", "oak", "lime"]
    lines = [" ".join(words[(seed * 3 + row * 5 + at) % 8] for at in range(7)) for row in range(12)]
    shown = "".join(f"BT /F 10 Tf {mm(14)} {mm(top - 5 * row)} Td ({line}) Tj ET\n" for row, line in enumerate(lines))
    return f"0 0 0 1 k {shown}"


LETTERS = "abdefghiklmnorst "


def guide(
    folder: Path, name: str, *, order: tuple[int, ...], quality: int, tag: str, letters: str, mended: bool, added: bool
) -> Report:
    """The spring guide, pages in some order; the content of a page does not depend on its place."""
    book = Book()
    font = subset_font(book, tag, letters, folder)
    white = photograph(3, 60, 60)
    for which in order:
        resources: dict[str, Any] = {"F": font}
        if which == 1:  # a cover picture with bleed, sharp enough
            resources["P"] = compressed(book, photograph(1, 1365, 1950), quality)
            content = placed("P", -3, -3, 154, 216)
        elif which == 2:  # a picture too small for its size, and type
            resources["P"] = compressed(book, photograph(2, 260, 200), quality)
            content = placed("P", 14, 110, 110, 84) + lines_of_type(2, 95)
        elif which == 3:  # two small pictures that are too coarse: the left one is mended
            left = photograph(5, 600, 500) if mended else photograph(5, 100, 84)
            resources["P"], resources["Q"] = compressed(book, left, quality), compressed(book, white, quality)
            content = placed("P", 14, 120, 50, 42) + placed("Q", 84, 120, 50, 50) + lines_of_type(3, 100)
        elif which == 4:  # a ground that stops at the trim on the left: no ink in the bleed
            content = f"0.4 0 0.5 0 k {rectangle(0, -3, 151, 216)} f " + lines_of_type(4, 150)
        elif which == 5:  # type, and in the new version a line that is too thin
            content = lines_of_type(5, 180)
            if added:
                content += f"0 0 0 1 K 0.1 w {mm(20)} {mm(60)} m {mm(120)} {mm(60)} l S"
        else:  # type with a spot colour nobody ordered
            resources["S"] = book.spot("Fern Green")
            content = f"/S cs 1 scn {rectangle(30, 30, 60, 25)} f " + lines_of_type(6, 190)
        book.page(content, trim_mm=TRIM_MM, resources=resources)
    book.output_intent("FOGRA39")
    return report_of(book.save(folder / name))


@pytest.fixture(scope="module")
def versions(tmp_path_factory: pytest.TempPathFactory) -> tuple[Report, Report, Report]:
    """The file, its re-export with nothing mended, and the new version."""
    folder = tmp_path_factory.mktemp("versions")
    anew = {"order": (3, 6, 1, 5, 4, 2), "quality": 93, "tag": "ZYXWVU", "letters": LETTERS + "cpuvw"}
    first = guide(
        folder, "first.pdf", order=(1, 2, 3, 4, 5, 6), quality=82, tag="ABCDEF", letters=LETTERS, mended=False, added=False
    )  # fmt: skip
    return (
        first,
        guide(folder, "again.pdf", mended=False, added=False, **anew),  # type: ignore[arg-type]
        guide(folder, "second.pdf", mended=True, added=True, **anew),  # type: ignore[arg-type]
    )


def ids(comparison: Comparison) -> dict[str, list[str]]:
    return {
        name: sorted(finding.id for finding in getattr(comparison, name))
        for name in ("fixed", "added", "open", "left_out")
    }


def test_the_file_has_the_faults_it_was_given(versions: tuple[Report, Report, Report]) -> None:
    found = {(finding.id, finding.page) for finding in versions[0].findings}

    assert {("resolution.low", 2), ("resolution.low", 3), ("bleed.empty", 4)} <= found
    assert sum(finding.id == "resolution.low" for finding in versions[0].findings) == 3
    assert not [finding for finding in versions[0].findings if finding.id == "line.hairline"]
    assert not versions[0].unchecked


def test_a_mere_re_export_changes_nothing(versions: tuple[Report, Report, Report]) -> None:
    comparison = compare(versions[0], versions[1])

    assert ids(comparison) == {"fixed": [], "added": [], "open": [], "left_out": []}
    assert len(comparison.still) == len(versions[0].findings) == len(versions[1].findings)
    assert {entry.change for entry in comparison.still} == {"same"}
    assert comparison.sizes == []
    assert {(fate.old, fate.new) for fate in comparison.pages} == {(3, 1), (6, 2), (1, 3), (5, 4), (4, 5), (2, 6)}
    assert {fate.fate for fate in comparison.pages} == {"moved"}


def test_keys_outlive_the_re_export(versions: tuple[Report, Report, Report]) -> None:
    """Most of them, since a field may lie between two steps; the comparison does not hang on all."""
    first, again = ({finding.key for finding in version.findings} for version in versions[:2])

    assert len(first & again) >= 0.7 * len(first)


def test_what_was_mended_is_fixed_and_what_was_added_is_new(versions: tuple[Report, Report, Report]) -> None:
    comparison = compare(versions[0], versions[2])

    assert ids(comparison) == {"fixed": ["resolution.low"], "added": ["line.hairline"], "open": [], "left_out": []}
    [fixed] = comparison.fixed
    assert fixed.page == 3
    assert fixed.box_mm is not None
    assert fixed.box_mm[0] == pytest.approx(14, abs=1)
    [added] = comparison.added
    assert added.page == 4  # where page 5 stands now
    assert {entry.change for entry in comparison.still} == {"same"}
    # The mended picture shows the same thing, and a thin line does not make another page.
    assert {fate.fate for fate in comparison.pages} <= {"moved", "changed"}
    assert summary_words(comparison).startswith(f"1 fixed, {len(comparison.still)} still there, 1 new")
    assert "NEW\n  stop   line.hairline  page 4" in render_comparison(comparison)
