"""One PDF for each fault that customers send most, in the order of how often it comes through the door."""

from __future__ import annotations

from pathlib import Path

import fernhollow_pictures as pictures
from fernhollow_guide import A5, CHAPTERS, placed_picture
from fernhollow_pages import BLACK, MOSS, PAPER, SAGE, Artwork
from pikepdf import Array, Dictionary, Name
from scene_file import CMYK, DemoFile, handed_in

GREEN = "Fern Green"


def night_walk_poster(folder: Path) -> DemoFile:
    work = Artwork("Night walk")
    page = work.page((297.0, 420.0)).crop_marks().ground((90.0, 65.0, 40.0, 45.0))
    for x, height, lean in ((78.0, 180.0, -22.0), (148.0, 290.0, 10.0), (222.0, 160.0, 26.0)):
        page.fern(x, 30.0, height, lean, (GREEN, 100.0))
    page.text(30.0, 370.0, "Night walk", 110, PAPER, "head")
    page.text(30.0, 344.0, "13 June, nine in the evening, by lantern", 32, PAPER, "head").done()
    return handed_in(
        work.save(folder / "poster-night-walk.pdf"),
        (),
        "A poster with the special ink that was ordered: straight to plates.",
        "Night walk poster",
        trim_mm=(297.0, 420.0),
        pages=1,
        bleed_mm=3.0,
        inks=[*CMYK, GREEN],
    )


def open_day_poster(folder: Path) -> DemoFile:
    work = Artwork("Open day")
    page = work.page((297.0, 420.0), bleed_mm=(0.0, 3.0, 0.0, 3.0), margin_mm=(0.0, 3.0, 0.0, 3.0))
    page.picture(placed_picture(work, 297.0, 300.0, seed=21, ppi=72.0), 0.0, 123.0, 297.0, 300.0)
    page.panel(0.0, -3.0, 297.0, 126.0, MOSS)
    page.text(25.0, 80.0, "Open day", 110, PAPER, "head")
    page.text(25.0, 50.0, "16 May: seed bank and herbarium", 36, PAPER, "head").done()
    return handed_in(
        work.save(folder / "poster-open-day.pdf"),
        ("bleed.missing", "resolution.low"),
        "The picture stops at the cut on two sides, and comes from a web page.",
        "Open day poster",
        trim_mm=(297.0, 420.0),
        pages=1,
        bleed_mm=3.0,
    )


def plant_sale_flyer(folder: Path) -> DemoFile:
    work = Artwork("Plant sale", intent=None)
    size = (827, 591)
    packed = pictures.jpeg(pictures.on_screen(pictures.leaves(*size, 22)), quality=86)
    page = work.page(A5, margin_mm=3.0)
    page.ground((0.93, 0.96, 0.86))
    page.picture(work.picture(packed, size, inks=3), 39.0, 110.0, 70.0, 50.0)
    page.text(20.0, 178.0, "Plant sale", 44, (0.10, 0.35, 0.14), "head")
    page.text(20.0, 80.0, "18 April, fountain court", 20, (0.75, 0.25, 0.1), "head")
    page.paragraph(20.0, 66.0, 108.0, CHAPTERS[4][2], 12.0, (0.0, 0.0, 0.0))
    page.done()
    return handed_in(
        work.save(folder / "flyer-plant-sale.pdf"),
        ("colour.rgb",),
        "Made for the screen: picture, ground and text are RGB.",
        "Plant sale flyer",
        trim_mm=A5,
        pages=1,
        bleed_mm=3.0,
    )


def moss_leaflet(folder: Path) -> DemoFile:
    work = Artwork("Moss under the lens", embed=False)
    for number in (0, 1):
        page = work.page((105.0, 210.0)).crop_marks()
        page.text(14.0, 184.0, ("Moss under the lens", "Where to look")[number], 20, MOSS, "head")
        y = 168.0
        for words in CHAPTERS[2 + number][1:]:
            y = page.paragraph(14.0, y, 77.0, words, 11.0) - 3.0
        page.leaf(40.0, 40.0, 34.0, 40.0, SAGE).leaf(40.0, 40.0, 30.0, 100.0, MOSS).done()
    return handed_in(
        work.save(folder / "leaflet-moss.pdf"),
        ("font.not-embedded",),
        "The two fonts are named in the file, but not in it.",
        "Moss leaflet",
        trim_mm=(105.0, 210.0),
        pages=2,
        bleed_mm=3.0,
    )


def seedling_label(folder: Path) -> DemoFile:
    size = (60.0, 90.0)
    work = Artwork("Seedling label")
    page = work.page(size).crop_marks()
    page.panel(-3.0, -3.0, 66.0, 36.0, SAGE)
    page.fern(28.0, 35.0, 30.0, 18.0, (GREEN, 100.0))
    page.text(9.0, 74.0, "Hart's tongue", 16, MOSS, "head")
    page.raw("q").state("Over", OP=True, op=True, OPM=1)
    page.text(9.0, 18.0, "Shade, and a stone to lean on.", 9.0, BLACK, "plain").raw("Q")
    page.line((9.0, 70.0), (51.0, 70.0), colour=BLACK, line_pt=0.1)
    page.raw("q").state("OverLine", OP=True, op=True, OPM=1)
    page.frame(0.0, 0.0, *size, ("Die Line", 100.0), 0.5).raw("Q").done()
    return handed_in(
        work.save(folder / "plant-label.pdf"),
        ("colour.unexpected-ink", "line.hairline"),
        "A special green nobody ordered, and a rule too thin to print. The die line was ordered.",
        "Seedling label",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
        finishing=[{"process": "die-cut", "ink": "Die Line"}],
    )


def tool_tag(folder: Path) -> DemoFile:
    size = (85.0, 55.0)
    work = Artwork("Tool tag")
    page = work.page(size).crop_marks().ground((GREEN, 100.0))
    page.text(10.0, 34.0, "Tool shed", 26, PAPER, "head")
    page.leaf(52.0, 12.0, 20.0, 30.0, ("fern green", 60.0)).done()
    return handed_in(
        work.save(folder / "tool-tag.pdf"),
        ("colour.spot-names-clash",),
        "One special ink under two spellings: two plates for one.",
        "Tool shed tag",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
        inks=[GREEN],
    )


def bookmark(folder: Path) -> DemoFile:
    work = Artwork("Bookmark")
    page = work.page((52.0, 165.0)).crop_marks().ground(SAGE)
    page.fern(23.0, 20.0, 110.0, 14.0, MOSS)
    page.text(9.0, 148.0, "Fernhollow", 16, MOSS, "head").done()
    return handed_in(
        work.save(folder / "bookmark.pdf"),
        ("trim.wrong-size",),
        "Ordered 55 by 170 mm, supplied 52 by 165 mm.",
        "Bookmark",
        trim_mm=(55.0, 170.0),
        pages=1,
        bleed_mm=3.0,
    )


def membership_card(folder: Path) -> DemoFile:
    size = (85.0, 55.0)
    work = Artwork("Member's card")
    page = work.page(size).crop_marks()
    page.frame(2.0, 2.0, 81.0, 51.0, MOSS, 0.75)
    page.text(8.0, 38.0, "Friend of the garden", 16, MOSS, "head")
    page.text(8.0, 30.0, "Admits two, all year", 10.0)
    page.text(30.0, 3.2, "Not transferable. Please carry it with you.", 7.0, BLACK, "plain").done()
    return handed_in(
        work.save(folder / "member-card.pdf"),
        ("margins.near-trim", "margins.frame"),
        "A line of type and a thin frame almost on the cut.",
        "Member's card",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
    )


def shop_sign(folder: Path) -> DemoFile:
    size = (148.0, 105.0)
    work = Artwork("Garden shop")
    page = work.page(size).crop_marks().ground(MOSS)
    page.text(16.0, 60.0, "Garden shop", 40, PAPER, "head")
    page.raw("q").state("Over", OP=True, op=True, OPM=1)
    page.leaf(20.0, 22.0, 34.0, 25.0, PAPER).leaf(20.0, 22.0, 30.0, 70.0, PAPER)
    page.text(64.0, 28.0, "Fernhollow", 26, PAPER, "head").raw("Q").done()
    return handed_in(
        work.save(folder / "shop-sign.pdf"),
        ("overprint.vanishes",),
        "The white logo is set to overprint, and will not be there on the sheet.",
        "Garden shop sign",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
    )


def newsletter(folder: Path) -> DemoFile:
    work = Artwork("Newsletter")
    for number in range(1, 16):
        page = work.page(A5).crop_marks()
        title, *paragraphs = CHAPTERS[number % len(CHAPTERS)]
        page.text(16.0, 184.0, title, 22, MOSS, "head")
        y = 168.0
        for words in paragraphs:
            y = page.paragraph(16.0, y, 116.0, words, 11.0) - 3.0
        page.text(16.0 if number % 2 == 0 else 128.0, 12.0, str(number), 9.0).done()
    return handed_in(
        work.save(folder / "newsletter-15-pages.pdf"),
        ("pages.wrong-count", "pages.binding-multiple"),
        "Fifteen pages for a stitched booklet of sixteen.",
        "Newsletter",
        trim_mm=A5,
        pages=16,
        bleed_mm=3.0,
        binding="saddle-stitch",
        stock="coated 115 g",
        caliper_mm=0.09,
    )


def tea_menu(folder: Path) -> DemoFile:
    work = Artwork("Tea menu")
    for number in range(4):
        page = work.page((2 * A5[0], A5[1])).crop_marks()
        for side in (0, 1):
            title, *paragraphs = CHAPTERS[2 * number + side]
            left = A5[0] * side + 18.0
            page.text(left, 184.0, title, 20, MOSS, "head")
            page.paragraph(left, 166.0, 112.0, paragraphs[side], 11.0)
        page.done()
    return handed_in(
        work.save(folder / "tea-menu-spreads.pdf"),
        ("trim.spread",),
        "Two pages side by side, as a reader sees them, instead of single pages.",
        "Tea menu",
        trim_mm=A5,
        pages=8,
        bleed_mm=3.0,
        binding="saddle-stitch",
        stock="coated 115 g",
        caliper_mm=0.09,
    )


def lantern_card(folder: Path) -> DemoFile:
    size = (148.0, 105.0)
    work = Artwork("Lantern night")
    page = work.page(size).crop_marks().ground((95.0, 85.0, 85.0, 90.0))
    page.text(16.0, 56.0, "Lantern night", 40, PAPER, "head")
    page.text(16.0, 42.0, "Wear boots, bring a friend", 18, PAPER, "head").done()
    return handed_in(
        work.save(folder / "card-lantern-night.pdf"),
        ("total-ink.high",),
        "A black made of 355 % ink: it will not dry, and sticks to the next sheet.",
        "Lantern night card",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
    )


def postcard(folder: Path) -> DemoFile:
    size = (148.0, 105.0)
    work = Artwork("Postcard")
    page = work.page(size).ground(SAGE)
    page.fern(56.0, 12.0, 66.0, -24.0, MOSS).fern(96.0, 12.0, 58.0, 30.0, MOSS)
    page.text(12.0, 88.0, "Greetings from the hollow", 18, MOSS, "head").crop_marks(off_mm=1.0).done()
    return handed_in(
        work.save(folder / "postcard.pdf"),
        ("marks.in-bleed",),
        "The crop marks stand in the bleed, a millimetre from the cut.",
        "Postcard",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
    )


def seed_packet(folder: Path) -> DemoFile:
    size = (80.0, 120.0)
    work = Artwork("Seed packet")
    page = work.page(size).crop_marks()
    page.panel(-3.0, 70.0, 86.0, 53.0, (10.0, 5.0, 60.0, 0.0))
    page.text(10.0, 94.0, "Sea kale", 28, MOSS, "head")
    page.paragraph(10.0, 60.0, 60.0, CHAPTERS[4][1], 6.0, (75.0, 68.0, 67.0, 90.0), "plain")
    page.bars(38.0, 26.0, "2026031400013", 0.33, 14.0)
    page.panel(71.0, 20.0, 12.0, 24.0, MOSS)  # five modules from the last bar: seven are to be clear
    page.text(10.0, 10.0, "Sow in March", 18, ("All", 100.0), "head").done()
    return handed_in(
        work.save(folder / "seed-packet.pdf"),
        ("colour.registration", "black.many-inks", "type.small-many-inks", "barcode.quiet-zone"),
        "A line in the registration colour, small type in four inks, and a panel too near to the bar code.",
        "Seed packet",
        trim_mm=size,
        pages=1,
        bleed_mm=3.0,
        barcodes=["2026031400013"],
    )


def order_form(folder: Path) -> DemoFile:
    work = Artwork("Order form")
    page = work.page(A5).crop_marks()
    page.text(16.0, 184.0, "Order form", 22, MOSS, "head")
    for turn in range(8):
        page.line((16.0, 160.0 - 14.0 * turn), (132.0, 160.0 - 14.0 * turn), colour=BLACK, line_pt=0.5)
    page.done()
    look = work.stream(
        b"0 0.1 0.8 0 k 0 0 90 40 re f", Type=Name.XObject, Subtype=Name.Form, BBox=Array([0, 0, 90, 40])
    )
    note = Dictionary(
        Type=Name.Annot,
        Subtype=Name.Stamp,
        Rect=Array([120, 400, 210, 440]),
        F=4,
        Contents="Is this still the old price?",
        AP=Dictionary(N=look),
    )
    page.obj.Annots = Array([work.pdf.make_indirect(note)])
    return handed_in(
        work.save(folder / "order-form.pdf"),
        ("file.annotation",),
        "A colleague's comment is still in the page, and set to print.",
        "Order form",
        trim_mm=A5,
        pages=1,
        bleed_mm=3.0,
    )


#: The first has no fault.
ALL = (
    night_walk_poster,
    open_day_poster,
    plant_sale_flyer,
    moss_leaflet,
    seedling_label,
    tool_tag,
    bookmark,
    membership_card,
    shop_sign,
    newsletter,
    tea_menu,
    lantern_card,
    postcard,
    seed_packet,
    order_form,
)
