"""The spring guide of Fernhollow Botanic Garden: a sixteen page stitched A5 booklet with nothing wrong in it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import fernhollow_pictures as pictures
from fernhollow_pages import BLACK, CLAY, MOSS, PAPER, SAGE, Artwork, Page
from scene_file import DemoFile, write_ticket

A5 = (148.0, 210.0)
MARGIN = 16.0
COLUMN = A5[0] - 2 * MARGIN

#: Titles and paragraphs, as the garden wrote them.
CHAPTERS = tuple(
    tuple(part.strip().replace("\n", " ") for part in chapter.split("\n\n"))
    for chapter in Path(__file__).with_name("fernhollow_chapters.md").read_text(encoding="utf-8")[2:].split("\n\n# ")
)


def make(folder: Path) -> DemoFile:
    book = Artwork("Spring guide")
    _cover(book)
    _chapter(book, 2, 0)
    _chapter(book, 3, 1)
    _picture_page(book, 4, seed=11, caption="Leaf litter under the limes, where the squills come through.")
    _chapter(book, 5, 2, fern=True)
    _chapter(book, 6, 3, seed=12)
    _picture_page(book, 7, seed=13, caption="The beech hedge in the week in which it turns.", palette=pictures.AUTUMN)
    _map(book, 8)
    _calendar(book, 9)
    _chapter(book, 10, 4, seed=14)
    _chapter(book, 11, 5)
    _fern_plate(book)
    _chapter(book, 13, 6)
    _chapter(book, 14, 7, fern=True)
    _opening_hours(book, 15)
    _back(book)
    path = book.save(folder / "spring-guide.pdf")
    ticket = write_ticket(
        path,
        job="FBG-0301",
        customer="Fernhollow Botanic Garden",
        title="Spring guide",
        trim_mm=A5,
        pages=16,
        bleed_mm=3.0,
        inks=["Cyan", "Magenta", "Yellow", "Black"],
        binding="saddle-stitch",
        stock="coated 115 g",
        caliper_mm=0.09,
        quantity=2500,
    )
    story = "A sixteen page stitched booklet, as it should be: straight to plates."
    return DemoFile(path, ticket, "sheetfed-coated", (), story)


def placed_picture(
    book: Artwork, width_mm: float, height_mm: float, seed: int, ppi: float = 300.0, **options: Any
) -> Any:
    """A four ink picture with the pixels that ``ppi`` asks for at this size."""
    size = (round(width_mm / 25.4 * ppi), round(height_mm / 25.4 * ppi))
    packed = pictures.jpeg(pictures.separated(pictures.leaves(*size, seed), **options))
    return book.picture(packed, size)


def _cover(book: Artwork) -> None:
    page = book.page(A5).crop_marks()
    page.picture(placed_picture(book, 154.0, 123.0, seed=10), -3.0, 90.0, 154.0, 123.0)
    page.panel(-3.0, -3.0, 154.0, 93.0, MOSS)
    page.fern(112.0, 12.0, 66.0, 20.0, SAGE)
    page.text(MARGIN, 62.0, "Fernhollow", 34, PAPER, "head")
    page.text(MARGIN, 49.0, "Botanic Garden", 20, PAPER, "head")
    page.text(MARGIN, 24.0, "Spring guide", 24, PAPER, "slant").done()


def _folio(page: Page, number: int) -> None:
    x = MARGIN if number % 2 == 0 else A5[0] - MARGIN - 4.0
    page.text(x, 12.0, str(number), 9)


def _chapter(book: Artwork, number: int, chapter: int, *, seed: int | None = None, fern: bool = False) -> None:
    title, *paragraphs = CHAPTERS[chapter]
    page = book.page(A5).crop_marks()
    page.text(MARGIN, 184.0, title, 22, MOSS, "head")
    page.line((MARGIN, 179.0), (MARGIN + 40.0, 179.0), colour=CLAY, line_pt=1.0)
    y = 168.0
    for words in paragraphs:
        y = page.paragraph(MARGIN, y, COLUMN, words, 11.0) - 3.0
    if seed is not None:
        page.picture(placed_picture(book, 64.0, 46.0, seed), MARGIN, 30.0, 64.0, 46.0)
        page.paragraph(
            MARGIN + 70.0, 72.0, COLUMN - 70.0, "Photographed on the first dry day of April.", 9.0, role="slant"
        )
    if fern:
        page.fern(40.0, 24.0, 66.0, -22.0, MOSS).fern(74.0, 24.0, 50.0, 26.0, SAGE).fern(104.0, 24.0, 60.0, 18.0, MOSS)
    if seed is None and not fern:
        for turn in range(6):
            page.leaf(
                38.0 + 13.0 * turn,
                40.0 + 5.0 * (turn % 2),
                20.0,
                65.0 - 31.0 * (turn % 3),
                (MOSS, SAGE, CLAY)[turn % 3],
            )
    _folio(page, number)
    page.done()


def _picture_page(book: Artwork, number: int, *, seed: int, caption: str, **options: Any) -> None:
    page = book.page(A5).crop_marks()
    page.picture(placed_picture(book, 154.0, 78.0, seed, **options), -3.0, 135.0, 154.0, 78.0)
    page.text(MARGIN, 120.0, caption, 10.0, BLACK, "slant")
    y = page.paragraph(MARGIN, 104.0, COLUMN, CHAPTERS[1][1], 11.0) - 3.0
    page.paragraph(MARGIN, y, COLUMN, CHAPTERS[5][2], 11.0)
    page.panel(-3.0, -3.0, 154.0, 9.0, SAGE)
    _folio(page, number)
    page.done()


def _map(book: Artwork, number: int) -> None:
    page = book.page(A5).crop_marks()
    page.text(MARGIN, 184.0, "The garden at a glance", 22, MOSS, "head")
    page.panel(MARGIN, 60.0, COLUMN, 112.0, SAGE)
    page.line((20.0, 66.0), (50.0, 90.0), (70.0, 118.0), (128.0, 140.0), colour=PAPER, line_pt=7.0)
    page.line((50.0, 90.0), (100.0, 78.0), (126.0, 66.0), colour=PAPER, line_pt=5.0)
    page.line((70.0, 118.0), (40.0, 150.0), (24.0, 168.0), colour=PAPER, line_pt=5.0)
    for x, y, width, height in ((26.0, 100.0, 22.0, 28.0), (86.0, 88.0, 34.0, 18.0), (60.0, 146.0, 26.0, 16.0)):
        page.panel(x, y, width, height, (55.0, 10.0, 70.0, 0.0))
    for turn in range(14):
        x, y = 92.0 + 5.5 * (turn % 6), 150.0 + 7.0 * (turn // 6)
        page.leaf(x, y, 5.0, 60.0 + 47.0 * turn, MOSS)
    # Black names on a tint print over it, so that no white rim shows if the plates shift.
    page.raw("q").state("Over", OP=True, op=True, OPM=1)
    for x, y, name in ((28.0, 113.0, "Fern walk"), (88.0, 96.0, "Palm house"), (62.0, 153.0, "Terrace")):
        page.text(x, y, name, 9.0, BLACK, "plain")
    page.raw("Q")
    page.paragraph(
        MARGIN, 48.0, COLUMN, "Paths without steps are drawn wide. The fountain court lies where they meet.", 11.0
    )
    _folio(page, number)
    page.done()


def _calendar(book: Artwork, number: int) -> None:
    page = book.page(A5).crop_marks()
    page.text(MARGIN, 184.0, "Dates to keep", 22, MOSS, "head")
    rows = (
        ("7 March", "Snowdrop swap in the potting shed"),
        ("21 March", "First walk of the year: buds"),
        ("4 April", "Moss under the lens"),
        ("18 April", "Plant sale in the fountain court"),
        ("2 May", "Pruning what has flowered"),
        ("16 May", "Open house: seed bank and herbarium"),
        ("30 May", "Drawing day along the fern walk"),
        ("13 June", "Night walk, by lantern"),
    )
    for turn, (day, what) in enumerate(rows):
        y = 164.0 - 15.0 * turn
        page.text(MARGIN, y, day, 11.0, CLAY, "head").text(MARGIN + 30.0, y, what, 11.0)
        page.line((MARGIN, y - 5.0), (MARGIN + COLUMN, y - 5.0), colour=BLACK, line_pt=0.5)
    _folio(page, number)
    page.done()


def _fern_plate(book: Artwork) -> None:
    page = book.page(A5).crop_marks().ground(SAGE)
    page.fern(58.0, 30.0, 138.0, 16.0, MOSS).fern(98.0, 26.0, 88.0, 24.0, (60.0, 10.0, 80.0, 5.0))
    page.text(MARGIN, 186.0, "Shuttlecock fern", 22, MOSS, "head").done()


def _opening_hours(book: Artwork, number: int) -> None:
    page = book.page(A5).crop_marks()
    page.text(MARGIN, 184.0, "Hours and prices", 22, MOSS, "head")
    lines = (
        ("March and April", "nine to five"),
        ("May to August", "nine to eight"),
        ("Glasshouse", "ten to four, Mondays closed"),
        ("Day ticket", "8.00"),
        ("Under sixteen", "free"),
        ("Year card", "32.00, for two"),
    )
    for turn, (what, value) in enumerate(lines):
        page.text(MARGIN, 162.0 - 9.0 * turn, what, 11.0).text(MARGIN + 62.0, 162.0 - 9.0 * turn, value, 11.0)
    page.panel(MARGIN, 34.0, COLUMN, 52.0, MOSS)
    page.text(MARGIN + 8.0, 64.0, "Bring this guide back", 18, PAPER, "head")
    page.text(MARGIN + 8.0, 52.0, "and have a pot of mint for it.", 14, PAPER, "head")
    _folio(page, number)
    page.done()


def _back(book: Artwork) -> None:
    page = book.page(A5).crop_marks().ground(MOSS)
    page.fern(50.0, 74.0, 100.0, -20.0, SAGE).fern(96.0, 74.0, 84.0, 18.0, SAGE)
    page.text(MARGIN, 46.0, "Fernhollow Botanic Garden", 16, PAPER, "head")
    page.text(MARGIN, 36.0, "Hollow Lane, by the old weir", 12, PAPER, "head").done()
