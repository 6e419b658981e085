"""A report made by hand, with everything a report can hold: every severity, every stage, gaps, waivers, groups, strange names."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from preflight.findings import (
    FileReport,
    Finding,
    NotJudged,
    PageReport,
    PlatePictureReport,
    PlateReport,
    Report,
    RulesReport,
    Severity,
    Stage,
    TicketReport,
    ToolReport,
    Unchecked,
    Waived,
    counts_of,
    verdict_of,
)
from preflight.report.pictures import finding_picture, page_picture, picture_box_mm, plate_picture

TRIM_MM = (148.0, 210.0)
PIXELS_PER_MM = 6
ORIGIN_MM = (-3.0, -3.0)

#: Names as strangers make them: markup, terminal escapes, a turned reading direction, half a character, a line end.
HOSTILE = (
    "<script>alert(1)</script>\x1b[31m\u202egnp.exe\udcff\r\n\x00 [bold]x[/bold] :smile: {{ 7*7 }} ' \" onerror=\x85"
)


def finding(
    identifier: str,
    severity: str = "stop",
    stage: str = "plates",
    page: int | None = 1,
    box: list[float] | None = None,
    measured: float | None = None,
    limit: float | None = None,
    unit: str | None = None,
    message: str = "Something is here.",
    remedy: str = "Please look at it.",
    **more: Any,
) -> Finding:
    return Finding(
        id=identifier,
        severity=Severity(severity),
        stage=Stage(stage),
        page=page,
        box_mm=box,
        measured=measured,
        limit=limit,
        unit=unit,
        count=more.pop("count", 1),
        message=message,
        remedy=remedy,
        key=more.pop("key", f"{identifier}-{page}-{box}"),
        waived=more.pop("waived", None),
        details=more.pop("details", {}),
    )


def low(page: int, box: list[float], ppi: float) -> Finding:
    return finding(
        "resolution.low", "stop", "plates", page, box, ppi, 150.0, "ppi",
        f"The picture prints at {ppi:g} ppi; the least for this screen ruling is 150 ppi.",
        "This picture is too small for the size it is printed at and will look blocky. Please put in the original photo at "
        "its full size, or make the picture smaller on the page.",
        details={"x_ppi": ppi, "y_ppi": ppi + 0.4, "pixels": [220, 131], "placed_mm": [78.2, 46.5], "inside": ["form"]},
    )  # fmt: skip


def findings() -> list[Finding]:
    bleed_remedy = (
        "Please stretch pictures and grounds 3 mm past the page edge in your layout program, then switch bleed on when you "
        "save the PDF."
    )
    return [
        low(3, [12.0, 30.5, 90.2, 77.0], 71.9),
        low(5, [80.0, 120.0, 140.0, 160.0], 96.0),
        low(9, [12.0, 30.5, 90.2, 77.0], 143.25),
        finding(
            "bleed.empty", "stop", "bindery", 3, [-3.0, -3.0, 0.0, 213.0], 0.4, 2.0, "mm",
            "Ink reaches the left trim and stops 0.4 mm past it, over 210 mm of the edge.", bleed_remedy,
            details={"edge": "left", "length_mm": 210.0},
        ),
        finding(
            "total-ink.high", "stop", "press", 7, [60.0, 100.0, 82.0, 118.0], 352.6, 330.0, "percent",
            "Ink adds up to 352.6 %, over the 330 % this paper takes, on 312 mm².",
            "The dark part of this picture carries more ink than the paper can take. Please convert the picture with the "
            "profile for this paper.",
            details={
                "area_mm2": 312.0,
                "inks_percent": {"Cyan": 92.0, "Magenta": 84.1, "Yellow": 81.0, "Black": 95.5},
                "patches": [
                    {"area_mm2": 290.0, "rings_mm": [[[60, 100], [80, 100], [80, 114.5], [60, 114.5]]]},
                    {"area_mm2": 22.0, "rings_mm": [[[76, 116], [82, 116], [82, 118], [79, 118]]]},
                ],
                "cost_if_missed": {
                    "seen": "after the run",
                    "amount": 1150.0,
                    "currency": "EUR",
                    "plates": 4,
                    "parts": {"plates": 38.0, "make-ready": 105.0, "spoiled sheets": 1007.0},
                },
            },
        ),
        finding(
            "colour.unexpected-ink", "stop", "press", 1, [20.0, 20.0, 128.0, 48.0], 4.1, None, "percent",
            "The ink “Fern Green” marks 4.1 % of the page and is not ordered.",
            "Your file uses a special colour, Fern Green, that was not ordered. Tell us whether you want it; else change it "
            "to the four process colours.", details={"subject": "Fern Green"},
        ),
        finding(
            "margins.near-trim", "ask", "bindery", 7, [2.1, 190.0, 40.0, 194.0], 2.1, 3.0, "mm",
            "Text stands 2.1 mm from the left trim; 3 mm keep it safe from the knife.",
            "Some text stands very close to the page edge and may be cut. Please move it inwards by 1 mm.", count=3,
            details={"edge": "left"},
        ),
        finding(
            "colour.rgb", "ask", "press", 11, [10.0, 12.0, 138.0, 100.0], None, None, None,
            "An RGB picture of 11 264 mm² is separated by the press profile.",
            "This picture is made for screens. We can convert it; bright colours will turn duller. May we?",
        ),
        finding(
            "line.hairline", "ask", "plates", 9, [20.0, 150.0, 130.0, 196.1], 0.1, 0.2, "pt",
            "A line is 0.1 pt thin; 0.2 pt is the least that holds on the plate.",
            "Please make this line 0.25 pt or more.", count=24,
            details={"boxes_mm": [[20.0, 150.0 + 2 * step, 130.0, 150.1 + 2 * step] for step in range(24)]},
        ),
        finding(
            "trim.mixed-sizes", "ask", "bindery", 2, None, 150.0, 148.0, "mm",
            "Pages differ in trim size: 150 x 210 mm on 2 pages.", "Please give all pages the same size.",
            details={"pages": [2, 4]},
        ),
        finding(
            "file.active-content", "note", "intake", None, None, None, None, None,
            "The file holds JavaScript in the document catalogue.", "Nothing needs to be done.",
        ),
        finding(
            "tint.too-light", "note", "press", 13, [30.0, 30.0, 60.0, 50.0], 2.0, 3.0, "percent",
            "A flat tint of 2 % may not print.", "This very light colour may not show in print.",
        ),
        finding(
            "resolution.soft", "ask", "plates", 15, [30.0, 60.0, 118.0, 120.0], 210.0, 225.0, "ppi",
            "The picture prints at 210 ppi; 225 ppi and more hold fine detail.",
            "This picture is a little too small for the size it is printed at and may look soft.",
            waived=Waived("M. Quill", "2026-11-20", "customer knows, archive picture"),
        ),
    ]  # fmt: skip


RULES = {
    "resolution.low_below_ppi": {
        "value": 150,
        "from": "standard.toml",
        "source": "s = 2 x l x f, factor 1.5 acceptable",
    },
    "resolution.soft_below_ppi": {
        "value": 225,
        "from": "standard.toml",
        "source": "s = 2 x l x f, factor 1.5 acceptable",
    },
    "resolution.severity.low": {
        "value": "stop",
        "from": "standard.toml",
        "source": "s = 2 x l x f, factor 1.5 acceptable",
    },
    "total-ink.high_above_percent": {"value": 330, "from": "sheetfed-coated.toml", "source": "common practice"},
    "press.ink_order": {"value": ["Black", "Cyan", "Magenta", "Yellow"], "from": "standard.toml", "source": "common"},
    "press.intents": {"value": ["FOGRA39", "FOGRA51"], "from": "sheetfed-coated.toml", "source": "from memory"},
}


def report(*, name: str = "spring-guide.pdf", pages: int = 16) -> Report:
    """The spring guide of Fernhollow Botanic Garden, with about everything wrong that can be."""
    found = findings()
    unchecked = [
        Unchecked("total-ink", 6, "the page took longer than 60 s"),
        Unchecked("total-ink", 8, "the page took longer than 60 s"),
        Unchecked("barcode", 6, "the page took longer than 60 s"),
    ]
    return Report(
        report_version=1,
        tool=ToolReport("preflight", "0.1.0"),
        made_at="2026-11-25T09:30:00Z",
        file=FileReport(name, "ab12cd34" * 8, 4_812_331, "pdf", pages),
        rules=RulesReport(
            "sheetfed-coated",
            "0f" * 32,
            "Sheet-fed offset, coated stock",
            RULES,
            ["line.hairline: ask instead of stop"],
        ),
        ticket=TicketReport("26-1182", "9e" * 32, "Fernhollow Botanic Garden", "Spring guide"),
        verdict=verdict_of(found, unchecked),
        counts=counts_of(found, unchecked),
        findings=found,
        pages=[page(number) for number in range(1, pages + 1)],
        unchecked=unchecked,
        not_judged=[
            NotJudged("binding.spine-width", "no caliper in the ticket"),
            NotJudged("binding.creep", "no caliper in the ticket"),
            NotJudged("barcode", "no barcodes in the ticket"),
        ],
        seconds=1.42,
        press_profile="FOGRA39 (file)",
    )


def page(number: int) -> PageReport:
    return PageReport(
        number=number,
        trim_mm=[150.0, 210.0] if number in (2, 4) else list(TRIM_MM),
        bleed_mm=[3.0, 3.0, 3.0, 3.0],
        rotation=0,
        plates=[
            PlateReport("Cyan", "process", 21.4),
            PlateReport("Magenta", "process", 18.2),
            PlateReport("Yellow", "process", 24.9),
            PlateReport("Black", "process", 7.35),
            PlateReport("Fern Green", "spot", 4.1 if number == 1 else 0.0),
        ],
        max_total_coverage_percent=352.6 if number == 7 else 287.4,
        images=3,
        fonts=["Bookman-Demi", "Gothic-Book"],
        trim_from="trim-box",
        fingerprint=f"print-{number}",
    )


def clean_report() -> Report:
    """Nothing found, nothing open."""
    whole = report(pages=2)
    return replace(
        whole, findings=[], unchecked=[], not_judged=[], verdict=verdict_of([], []), counts=counts_of([], [])
    )


def hostile_report() -> Report:
    """Strangers' text in every place that can hold any."""
    whole = report(name=HOSTILE)
    found = [
        replace(
            entry,
            message=f"{entry.message} {HOSTILE}",
            remedy=HOSTILE,
            details={**entry.details, "subject": HOSTILE, HOSTILE: HOSTILE},
        )
        for entry in whole.findings
    ]
    found[-1] = replace(found[-1], waived=Waived(HOSTILE, HOSTILE, HOSTILE))
    pages = [
        replace(entry, fonts=[HOSTILE], plates=[PlateReport(HOSTILE, "spot", 3.0)], trim_from=HOSTILE)
        for entry in whole.pages
    ]
    return replace(
        whole,
        findings=found,
        pages=pages,
        ticket=TicketReport(HOSTILE, "9e" * 32, HOSTILE, HOSTILE),
        unchecked=[Unchecked("font", 1, HOSTILE)],
        not_judged=[NotJudged("trim", HOSTILE)],
        rules=replace(
            whole.rules,
            name=HOSTILE,
            title=HOSTILE,
            values={f"resolution.{HOSTILE}": {"value": HOSTILE, "from": HOSTILE, "source": HOSTILE}},
            changed_severities=[HOSTILE],
        ),
        press_profile=HOSTILE,
    )


def art(number: int) -> np.ndarray:
    """A page of the guide as the plates would show it, with bleed: a ground, a soft picture, and lines of type."""
    width, height = (round((side + 6) * PIXELS_PER_MM) for side in TRIM_MM)
    rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
    hue = (number * 37) % 90
    sky = np.stack([235 - hue - rows / 25, 240 - rows / 30, 215 + hue / 3 - columns / 40], axis=-1)
    image = Image.fromarray(np.clip(sky, 0, 255).astype(np.uint8))
    draw = ImageDraw.Draw(image)

    def box(x0: float, y0: float, x1: float, y1: float) -> list[float]:
        return [(x0 + 3) * PIXELS_PER_MM, (y0 + 3) * PIXELS_PER_MM, (x1 + 3) * PIXELS_PER_MM, (y1 + 3) * PIXELS_PER_MM]

    draw.rectangle(box(12, 30.5, 90.2, 77), fill=(54, 92 + hue, 60))
    for step in range(9):
        draw.ellipse(
            box(16 + 8 * step, 36 + 2 * step, 30 + 8 * step, 62 + step), fill=(120 + 12 * step, 150, 70 + 9 * step)
        )
    for line in range(28):
        draw.rectangle(box(12, 96 + 3.6 * line, 70 if line % 7 == 6 else 134, 97.6 + 3.6 * line), fill=(40, 40, 44))
    draw.rectangle(box(60, 100, 82, 118), fill=(8, 6, 4))
    return np.asarray(image)


def plates_of(rgb: np.ndarray, entry: PageReport, folder: Path) -> list[PlatePictureReport]:
    """Plates that would print a page: what each channel lacks of light, its common part in black, and nothing in the spot."""
    lacking = 255 - rgb.astype(np.int16)
    black = lacking.min(axis=2)
    planes = [*(np.moveaxis(lacking, 2, 0) - black), black]
    looks = ([0, 158, 224], [229, 0, 125], [255, 236, 0], [29, 29, 27], [30, 110, 60])
    plates = []
    for turn, plate in enumerate(entry.plates):
        name = f"page-{entry.number:04}-plate-{turn + 1:02}.jpg" if turn < len(planes) else None
        if name is not None:
            (folder / name).write_bytes(plate_picture(planes[turn].astype(np.uint8)))
        plates.append(PlatePictureReport(plate.ink, name, list(looks[turn])))
    return plates


def illustrated(folder: Path, whole: Report | None = None, pages: set[int] | None = None) -> Report:
    """The report with real pictures of its pages and findings in ``folder``; ``pages`` None: of all pages."""
    whole = whole or report()
    folder.mkdir(parents=True, exist_ok=True)
    with_pictures = []
    for entry in whole.pages:
        if pages is not None and entry.number not in pages:
            with_pictures.append(entry)
            continue
        rgb = art(entry.number)
        name = f"page-{entry.number:04}.jpg"
        (folder / name).write_bytes(page_picture(rgb))
        box = picture_box_mm(rgb, ORIGIN_MM, PIXELS_PER_MM)
        plates = plates_of(rgb, entry, folder)
        with_pictures.append(replace(entry, picture=name, picture_mm=box.rounded(3), plate_pictures=plates))
    pictured = []
    for turn, entry in enumerate(whole.findings):
        if entry.box_mm is not None and entry.page is not None and (pages is None or entry.page in pages):
            name = f"finding-{turn:02}.jpg"
            boxes = entry.details.get("boxes_mm", ())
            data = finding_picture(art(entry.page), ORIGIN_MM, PIXELS_PER_MM, entry.box_mm, TRIM_MM, boxes)
            (folder / name).write_bytes(data)
            pictured.append(replace(entry, details={**entry.details, "picture": name}))
        else:
            pictured.append(entry)
    return replace(whole, pages=with_pictures, findings=pictured)
