"""What comes through the door that is not a tidy PDF: a scan, a phone picture, a locked file, half a file."""

from __future__ import annotations

import io
from pathlib import Path

import fernhollow_pictures as pictures
import pikepdf
from fernhollow_guide import A5, CHAPTERS, placed_picture
from fernhollow_pages import CLAY, MOSS, Artwork, Page
from scene_file import DemoFile, handed_in


def garden_plan(folder: Path) -> DemoFile:
    path = folder / "garden-plan-scan.tif"
    plan = pictures.garden_plan(1165, 1654, tilt_degrees=1.2, seed=31)
    plan.save(path, "TIFF", compression="tiff_lzw", dpi=(200.0, 200.0))
    return handed_in(
        path,
        ("resolution.soft", "image.crooked", "image.soft-line-art", "image.paper-tint"),
        "A pencil plan scanned in grey at 200 ppi, a little askew, on paper that is not white.",
        "Garden plan",
        printed_size_mm=A5,
        pages=1,
        inks=["Black"],
    )


def phone_picture(folder: Path) -> DemoFile:
    path = folder / "phone-picture.jpg"
    picture = pictures.on_screen(pictures.leaves(1200, 900, 41))
    exif = picture.getexif()
    exif[0x0112] = 6  # held upright: turn a quarter to the right
    path.write_bytes(pictures.jpeg(picture, quality=82, dpi=(72, 72), exif=exif))
    return handed_in(
        path,
        ("colour.rgb", "image.unknown-size"),
        "Straight from a phone: RGB, lying on its side, and nobody says how large it will print.",
        "Picture for the window",
    )


def locked_list(folder: Path) -> DemoFile:
    work = Artwork("Price list")
    page = work.page(A5)
    page.text(16.0, 184.0, "Price list", 22, MOSS, "head").done()
    # The oldest lock needs no random numbers, so that the bytes stay the same.
    lock = pikepdf.Encryption(owner="potting-shed", user="snowdrop", R=3, aes=False, metadata=False)
    path = work.save(folder / "price-list-locked.pdf", deterministic_id=False, static_id=True, encryption=lock)
    return handed_in(
        path,
        ("file.locked",),
        "Cannot be opened without a password.",
        "Price list",
        trim_mm=A5,
        pages=1,
    )


def cut_programme(folder: Path) -> DemoFile:
    work = Artwork("Programme")
    for number in range(4):
        page = work.page(A5).crop_marks()
        page.picture(placed_picture(work, 45.0, 30.0, seed=50 + number), 16.0, 120.0, 45.0, 30.0)
        _words(page, number)
        page.done()
    whole = io.BytesIO()
    work.pdf.save(whole, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    path = folder / "programme-half-sent.pdf"
    path.write_bytes(whole.getvalue()[: len(whole.getvalue()) * 6 // 10])
    return handed_in(
        path,
        ("file.repaired", "file.unreadable"),
        "The upload broke off: the end of the file is not there.",
        "Programme",
        trim_mm=A5,
        pages=4,
        bleed_mm=3.0,
    )


def _words(page: Page, number: int) -> None:
    title, *paragraphs = CHAPTERS[number]
    page.text(16.0, 184.0, title, 22, CLAY, "head")
    page.paragraph(16.0, 100.0, 116.0, paragraphs[0], 11.0)


ALL = (garden_plan, phone_picture, locked_list, cut_programme)
