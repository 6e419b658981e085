"""Pictures themselves: blown up, printed before, of no size, with channels too many; in PDFs and as files, with their quiet twins."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from artwork import Book, mm
from by_hand import document_of, ids, job_of, judged, page_answers, page_of, painted
from pictured import cloth, enlarged, on_paper, packed, screened, slope, texture
from pikepdf import Name
from PIL import Image, TiffImagePlugin
from whole import job_for, report_of

from preflight.findings import Finding
from preflight.inventory import picture_view, pictures
from preflight.inventory.model import Colour, ImageUse, PictureFacts, ScreenSeen

BICUBIC = Image.Resampling.BICUBIC


def blown_up(side: int = 800, factor: float = 2.0, seed: int = 0) -> np.ndarray:
    return enlarged(texture(round(side / factor), round(side / factor), seed), factor, BICUBIC)


def placed(book: Book, picture: np.ndarray) -> object:
    height, width = picture.shape
    return book.image(width, height, space=Name.DeviceGray, data=picture.tobytes())


def said(path: Path, **order: object) -> list[Finding]:
    """What is said of pictures; the question must have been answered."""
    report = report_of(path, job_for(**order))
    assert not [answer for answer in report.unchecked if answer.check in ("image", "all", "file")]
    return [finding for finding in report.findings if finding.id.startswith("image.")]


def as_file(picture: np.ndarray, path: Path, **options: object) -> Path:
    Image.fromarray(picture).save(path, **options)
    return path


# --- blown up ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "matrix",
    ["{w} 0 0 {w} {x} {x}", "0 {w} -{w} 0 {y} {x}", "-{w} 0 0 {w} {y} {x}", "{w} 0 0 -{w} {x} {y}"],
    ids=["upright", "turned", "mirrored", "upside down"],
)
def test_a_blown_up_picture_in_any_position(tmp_path: Path, matrix: str) -> None:
    """800 pixels over 67.733 mm are 300 ppi; enlarged to double, 150 of them are real."""
    book = Book()
    picture = placed(book, blown_up())
    numbers = matrix.format(w=mm(67.733), x=mm(5), y=mm(72.733))
    book.page(f"q {numbers} cm /P Do Q", resources={"P": picture})
    (finding,) = said(book.save(tmp_path / "art.pdf"))
    assert ids([finding]) == ["image.upsampled ask"]
    assert finding.measured == pytest.approx(150.0, rel=0.03)
    assert finding.unit == "ppi"
    assert finding.limit == pytest.approx(180.0, rel=0.01)
    assert finding.details["factor"] == pytest.approx(2.0, rel=0.03)
    assert finding.box_mm == pytest.approx([5.0, 7.27, 72.73, 75.0], abs=0.05)


def test_a_sharp_a_soft_and_a_slightly_enlarged_picture_are_left_alone(tmp_path: Path) -> None:
    """Over 60 % of the resolution is real in one that was enlarged by 1.5."""
    soft = np.asarray(Image.fromarray(texture(800, 800)).resize((800, 800)).reduce(1))
    for name, picture in (("sharp", texture(800, 800)), ("soft", soft), ("little", blown_up(800, 1.5))):
        assert said(as_file(picture, tmp_path / f"{name}.png", dpi=(300, 300))) == []


def test_only_the_part_that_shows_counts(tmp_path: Path) -> None:
    """One picture, its left half enlarged, its right half sharp: the clip decides."""
    both = np.hstack([blown_up(800), texture(800, 800, seed=3)])
    for left, expected in ((True, ["image.upsampled ask"]), (False, [])):
        book = Book()
        width = mm(135.467)
        clip = f"{mm(5) if left else mm(5) + width / 2 + 2} 0 {width / 2 - 2} {mm(80)} re W n"
        book.page(
            f"q {clip} {width} 0 0 {mm(67.733)} {mm(5)} {mm(5)} cm /P Do Q",
            trim_mm=(146.0, 80.0),
            resources={"P": placed(book, both)},
        )
        assert ids(said(book.save(tmp_path / "art.pdf"))) == expected


def test_the_part_that_shows_is_right_way_up(tmp_path: Path) -> None:
    """The top half enlarged: shown alone it is asked about, the bottom half is not."""
    both = np.vstack([blown_up(800), texture(800, 800, seed=3)])
    for top, expected in ((True, ["image.upsampled ask"]), (False, [])):
        book = Book()
        height = mm(135.467)
        clip = f"0 {mm(5) + (height / 2 + 2 if top else 0)} {mm(80)} {height / 2 - 2} re W n"
        book.page(
            f"q {clip} {mm(67.733)} 0 0 {height} {mm(5)} {mm(5)} cm /P Do Q",
            trim_mm=(80.0, 146.0),
            resources={"P": placed(book, both)},
        )
        assert ids(said(book.save(tmp_path / "art.pdf"))) == expected


def test_placed_often_it_is_looked_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On one page one finding with its count, on the next page another; the pixels are looked at once in all."""
    looks = []
    look = pictures._look
    monkeypatch.setattr(pictures, "_look", lambda image, boxes: looks.append(boxes) or look(image, boxes))
    book = Book()
    picture = placed(book, blown_up())
    for _ in range(2):
        book.page(
            f"q {mm(30)} 0 0 {mm(30)} {mm(5)} {mm(5)} cm /P Do Q q {mm(40)} 0 0 {mm(40)} {mm(50)} {mm(5)} cm /P Do Q",
            resources={"P": picture},
        )
    findings = said(book.save(tmp_path / "art.pdf"))
    assert [(finding.page, finding.count) for finding in findings] == [(1, 2), (2, 2)]
    # The worse placement is told: 800 pixels over 40 mm, half of them real.
    assert findings[0].measured == pytest.approx(800 / 40 * 25.4 / 2, rel=0.03)
    assert len(looks) == 1


def test_of_a_huge_picture_the_middle_is_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the middle of it is enlarged; more pixels than are unpacked at once."""
    monkeypatch.setattr(picture_view, "MOST_PIXELS", 1_000_000)
    monkeypatch.setattr(picture_view, "MIDDLE_PX", 640)
    picture = texture(1400, 1400, seed=5).copy()
    picture[300:1100, 300:1100] = blown_up(800)
    book = Book()
    book.page(f"q {mm(80)} 0 0 {mm(80)} {mm(5)} 0 cm /P Do Q", resources={"P": placed(book, picture)})
    for path in (book.save(tmp_path / "art.pdf"), as_file(picture, tmp_path / "art.jpg", dpi=(300, 300), quality=95)):
        (finding,) = said(path)
        assert finding.id == "image.upsampled"
        assert finding.details["factor"] == pytest.approx(2.0, rel=0.03)


def three_blown_up(folder: Path, sides_mm: tuple[float, ...] = (30.0, 40.0, 20.0)) -> Path:
    """Three different pictures of 400 pixels beside each other."""
    book = Book()
    drawn, resources, x = [], {}, 2.0
    for seed, side in enumerate(sides_mm):
        resources[f"P{seed}"] = placed(book, blown_up(400, seed=seed))
        drawn.append(f"q {mm(side)} 0 0 {mm(side)} {mm(x)} {mm(5)} cm /P{seed} Do Q")
        x += side + 2.0
    book.page(" ".join(drawn), resources=resources)
    return book.save(folder / "three.pdf")


@pytest.mark.parametrize("limit", [("MOST_PICTURES", 2), ("MOST_PIXELS_A_PAGE", 2 * 400 * 400)])
def test_of_too_many_pictures_the_largest_are_looked_at_and_the_rest_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: tuple[str, int]
) -> None:
    monkeypatch.setattr(pictures, *limit)
    report = report_of(three_blown_up(tmp_path), job_for())
    found = [finding for finding in report.findings if finding.id == "image.upsampled"]
    assert sorted(round(finding.box_mm[2] - finding.box_mm[0]) for finding in found) == [30, 40]
    (left,) = [answer for answer in report.unchecked if answer.check == "image"]
    assert (left.page, left.why) == (1, "the page has too many pictures: 1 not looked at")
    monkeypatch.undo()
    assert len([finding for finding in said(tmp_path / "three.pdf") if finding.id == "image.upsampled"]) == 3


def test_what_is_too_small_to_matter_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Placed at 4.9 mm: under the 5 mm of the rules."""
    path = three_blown_up(tmp_path, (4.9, 30.0, 4.9))
    looks = []
    look = pictures._look
    monkeypatch.setattr(pictures, "_look", lambda image, boxes: looks.append(boxes) or look(image, boxes))
    (finding,) = said(path)
    assert (finding.id, len(looks)) == ("image.upsampled", 1)


def test_small_hidden_and_covered_pictures_are_left_alone(tmp_path: Path) -> None:
    book = Book()
    picture = placed(book, blown_up())
    book.page(f"q {mm(4)} 0 0 {mm(4)} {mm(5)} {mm(5)} cm /P Do Q", resources={"P": picture})
    book.page(f"q {mm(40)} 0 0 {mm(40)} {mm(300)} {mm(5)} cm /P Do Q", resources={"P": picture})
    covered = f"q {mm(40)} 0 0 {mm(40)} {mm(5)} {mm(5)} cm /P Do Q 0 0 0 0.2 k 0 0 {mm(60)} {mm(60)} re f"
    book.page(covered, resources={"P": picture})
    assert said(book.save(tmp_path / "art.pdf")) == []


def test_a_picture_of_no_size_blown_up(tmp_path: Path) -> None:
    """No ppi to tell, but the share is known; the place is given in pixels."""
    findings = said(as_file(blown_up(), tmp_path / "web.png"))
    assert ids(findings) == ["image.unknown-size ask", "image.upsampled ask"]
    upsampled = findings[1]
    assert (upsampled.measured, upsampled.box_mm) == (None, None)
    assert upsampled.details["box_px"] == [0, 0, 800, 800]
    assert upsampled.details["factor"] == pytest.approx(2.0, rel=0.03)


def test_jpeg_and_cmyk_files(tmp_path: Path) -> None:
    gray = Image.fromarray(blown_up(900, 3.0))
    gray.convert("CMYK").save(tmp_path / "art.jpg", quality=92, dpi=(300, 300))
    (finding,) = said(tmp_path / "art.jpg")
    assert finding.measured == pytest.approx(100.0, rel=0.03)


# --- printed before ----------------------------------------------------------------------------------------------------


def test_a_scan_of_a_print(tmp_path: Path) -> None:
    scan = on_paper(screened(slope(700, 700), 133 / 400, 45.0))
    (finding,) = said(as_file(scan, tmp_path / "scan.tif", dpi=(400, 400)))
    assert ids([finding]) == ["image.screened ask"]
    assert finding.measured == pytest.approx(133.0, rel=0.01)
    assert finding.unit == "lpi"
    assert finding.details["angle_deg"] == pytest.approx(45.0, abs=0.5)


def test_angle_and_ruling_are_those_on_the_page(tmp_path: Path) -> None:
    """Placed at half its size the ruling doubles; turned by 90 degrees and mirrored the angle goes along."""
    scan = on_paper(screened(slope(700, 700), 60 / 300, 15.0))
    side = mm(700 / 300 * 25.4 / 2)
    upright = f"{side} 0 0 {side} {mm(5)} {mm(5)}"
    mirrored = f"-{side} 0 0 {side} {mm(5) + side} {mm(5)}"
    turned = f"{side * np.cos(np.pi / 9):.4f} {side * np.sin(np.pi / 9):.4f} {-side * np.sin(np.pi / 9):.4f} {side * np.cos(np.pi / 9):.4f} {mm(25)} {mm(5)}"
    # Turned by 20 degrees against the clock, which is away from "down": 15 - 20, and a quarter turn is the same screen.
    for matrix, angle in ((upright, 15.0), (mirrored, 75.0), (turned, 85.0)):
        book = Book()
        book.page(f"q {matrix} cm /P Do Q", resources={"P": placed(book, scan)})
        (finding,) = said(book.save(tmp_path / "art.pdf"))
        assert finding.measured == pytest.approx(120.0, rel=0.01)
        assert finding.details["angle_deg"] == pytest.approx(angle, abs=0.5)


def test_cloth_is_at_most_noted(tmp_path: Path) -> None:
    for turn in (0.0, 30.0):
        findings = said(as_file(cloth(900, 900, 5.0, turn), tmp_path / "cloth.png", dpi=(300, 300)))
        assert {finding.severity.value for finding in findings} <= {"note"}


def test_one_bit_prints_dot_for_dot(tmp_path: Path) -> None:
    """A print scanned as line art brings no second screen: a note."""
    dots = screened(slope(900, 900), 100 / 1200, 45.0) < 0.5
    Image.fromarray(dots).save(tmp_path / "dots.tif", dpi=(1200, 1200))
    assert ids(said(tmp_path / "dots.tif")) == ["image.screened note"]


def facts_with(**facts: object) -> list[Finding]:
    use = ImageUse(900, 900, 8, 300.0, 300.0, (76.2, 76.2))
    thing = painted(Colour("gray"), kind="image", image=use, object_key="image 1")
    seen = PictureFacts("image 1", **{"stated_ppi": 300.0, **facts})  # type: ignore[arg-type]
    job = job_of()
    return judged("image", page_answers("image", page_of(thing, pictures=(seen,)), job), job)


@pytest.mark.parametrize(
    ("confidence", "lpi", "expected"),
    [
        (0.6, 133.0, ["image.screened ask"]),
        (0.59, 133.0, ["image.screened note"]),
        (0.35, 133.0, ["image.screened note"]),
        (0.34, 133.0, []),
        (1.0, 30.0, ["image.screened note"]),
        (1.0, 400.0, ["image.screened note"]),
    ],
)
def test_confidence_and_ruling_decide(confidence: float, lpi: float, expected: list[str]) -> None:
    findings = facts_with(screens=(ScreenSeen(0.3, 45.0, confidence, lpi),))
    assert ids(findings) == expected
    assert all(finding.measured == lpi for finding in findings)


@pytest.mark.parametrize(("share", "expected"), [(0.6, ["image.upsampled ask"]), (0.61, []), (None, [])])
def test_about_half_is_asked_about(share: float | None, expected: list[str]) -> None:
    assert ids(facts_with(detail_share=share, upsampled_confidence=0.9)) == expected
    assert ids(facts_with(detail_share=share, upsampled_confidence=0.4)) == []


@pytest.mark.parametrize(
    ("facts", "expected", "measured"),
    [
        ({"jpeg_quality": 74.0}, ["image.compressed ask"], 74.0),
        ({"jpeg_quality": 75.0}, [], None),
        ({"tilt_deg": -0.6, "is_scan": True}, ["image.crooked ask"], 0.6),
        ({"tilt_deg": 0.5, "is_scan": True}, [], None),
        ({"is_line_art": True}, ["image.soft-line-art ask"], 300.0),
        ({"is_line_art": True, "one_bit": True}, [], None),
        ({"is_scan": True, "paper_percent": 8.0}, ["image.paper-tint note"], 8.0),
        ({"is_scan": False, "paper_percent": 8.0}, [], None),
    ],
)
def test_other_facts_of_the_pixels(facts: dict[str, object], expected: list[str], measured: float | None) -> None:
    findings = facts_with(**facts)
    assert ids(findings) == expected
    assert [finding.measured for finding in findings] == ([] if measured is None else [measured])


# --- what a file says of itself ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("dpi", [None, (72, 72), (96, 96)])
def test_a_file_of_unknown_size_lists_what_it_bears(tmp_path: Path, dpi: tuple[int, int] | None) -> None:
    """1200 x 900 pixels at 300 ppi (twice 150 lpi) are 101.6 x 76.2 mm, at 225 ppi (1.5 times) 135.5 x 101.6."""
    path = as_file(texture(1200, 900), tmp_path / "web.png", **({"dpi": dpi} if dpi else {}))
    report = report_of(path, job_for())
    findings = [finding for finding in report.findings if finding.id.startswith(("image.", "resolution."))]
    assert ids(findings) == ["image.unknown-size ask"]
    assert findings[0].box_mm is None
    assert findings[0].details["box_px"] == [0, 0, 1200, 900]
    assert [entry["size_mm"] for entry in findings[0].details["sizes"]] == [[101.6, 76.2], [135.5, 101.6]]
    assert "102 x 76" in findings[0].message
    assert "135 x 102" in findings[0].message
    assert [answer for answer in report.unchecked if answer.check == "resolution"] == []
    assert "resolution" in {answer.check for answer in report.not_judged}


@pytest.mark.parametrize("order", [{"printed_size_mm": (100.0, 75.0)}, {"trim_mm": (100.0, 75.0)}])
def test_an_ordered_size_is_a_size(tmp_path: Path, order: dict[str, object]) -> None:
    assert said(as_file(texture(1200, 900), tmp_path / "web.png"), **order) == []


def test_a_resolution_is_a_size(tmp_path: Path) -> None:
    assert said(as_file(texture(1200, 900), tmp_path / "art.tif", dpi=(300, 300))) == []


def test_what_print_cannot_use(tmp_path: Path) -> None:
    gray = Image.fromarray(texture(400, 300))
    alpha = Image.merge("RGBA", [gray, gray, gray, gray])
    alpha.save(tmp_path / "alpha.png", dpi=(300, 300))
    (finding,) = said(tmp_path / "alpha.png")
    assert ids([finding]) == ["image.extra-channels ask"]
    assert "transparency" in finding.message
    assert finding.details["case"] == "alpha"
    gray.convert("RGB").quantize(64).save(tmp_path / "palette.png", dpi=(300, 300))
    assert ids(said(tmp_path / "palette.png")) == ["image.extra-channels note"]
    gray.save(tmp_path / "frames.tif", dpi=(300, 300), save_all=True, append_images=[gray])
    assert ids(said(tmp_path / "frames.tif")) == ["image.extra-channels note"]
    deep = Image.fromarray(texture(400, 300).astype(np.uint16) * 257)
    deep.save(tmp_path / "deep.tif", dpi=(300, 300))
    (finding,) = said(tmp_path / "deep.tif")
    assert (*ids([finding]), finding.details["case"]) == ("image.extra-channels ask", "bits")
    gray.convert("CMYK").save(tmp_path / "plain.jpg", dpi=(300, 300), quality=95)
    assert said(tmp_path / "plain.jpg") == []


def test_a_pdf_resolves_such_things_by_itself() -> None:
    from preflight.checking import all_checks
    from preflight.inventory.model import Inventory

    check, job = all_checks()["image"], job_of()
    assert list(check.on_file(Inventory(document_of(), ()), job, job.limits["image"])) == []  # type: ignore[misc]


# --- odd files ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", [(1, 100_000), (100_000, 1), (1, 1), (5, 5), (95, 3000)])
def test_odd_shapes_are_looked_at_without_harm(tmp_path: Path, shape: tuple[int, int]) -> None:
    picture = np.random.default_rng(0).integers(0, 256, shape).astype(np.uint8)
    findings = said(as_file(picture, tmp_path / "odd.tif", dpi=(300, 300)))
    assert not [finding for finding in findings if finding.id in ("image.upsampled", "image.screened")]


def test_a_resolution_that_is_no_number(tmp_path: Path) -> None:
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[282] = tags[283] = TiffImagePlugin.IFDRational(0, 0)
    tags[296] = 2
    Image.fromarray(texture(300, 200)).save(tmp_path / "nan.tif", tiffinfo=tags)
    assert ids(said(tmp_path / "nan.tif")) == ["image.unknown-size ask"]


def test_a_picture_that_cannot_be_decoded_is_not_looked_at(tmp_path: Path) -> None:
    """The damage itself is told as such."""
    book = Book()
    picture = book.image(800, 800, space=Name.DeviceGray, data=blown_up().tobytes())
    data = packed(blown_up(), 90)
    picture.write(data.tobytes()[:500], filter=Name.DCTDecode)
    book.page(f"q {mm(60)} 0 0 {mm(60)} {mm(5)} {mm(5)} cm /P Do Q", resources={"P": picture})
    report = report_of(book.save(tmp_path / "art.pdf"), job_for())
    assert [finding.id for finding in report.findings if finding.id.startswith("file.")]
    assert not [finding for finding in report.findings if finding.id.startswith("image.")]


def test_a_phone_picture_of_no_size_is_placed_by_its_pixels(tmp_path: Path) -> None:
    """Turned as its camera says (EXIF 6: a quarter to the right), it is 300 pixels wide and 400 high; there are no millimetres."""
    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "phone.jpg"
    rng = np.random.default_rng(5)
    Image.fromarray(rng.integers(0, 255, (300, 400, 3), dtype=np.uint8)).save(path, quality=60, exif=exif)
    report = report_of(path, job_for())
    assert ids(report.findings) == ["colour.rgb ask", "image.compressed ask", "image.unknown-size ask"]
    for finding in report.findings:
        assert (finding.box_mm, finding.details["box_px"]) == (None, [0, 0, 300, 400])
    rgb = report.findings[0]
    assert (rgb.measured, rgb.unit, rgb.details["area_mm2"]) == (None, None, None)
    assert "mm2" not in rgb.message
    assert "cm2" not in rgb.message
