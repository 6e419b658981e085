"""Pictures themselves: blown up, printed before, packed too hard, scanned askew, or of no size.

What it looks at
    The pixels of every picture that shows, in PDFs and in image files, on the part that shows; of image files also what the file says
    of itself: its resolution, and channels, layers or profiles that do not belong in print.
Why it matters on press
    A picture blown up in a program has enough pixels on paper and prints soft all the same. An original that was printed before
    brings its halftone along: the second screen makes moire with it. Blocks of hard JPEG packing show in flats, a tilt of half a degree
    shows beside a straight edge, gray scans of type print ragged, and channels beyond the inks are lost without a word.
How it is measured
    Blown up: agreement of mirrored frequencies over rows and columns of the busiest tiles; factors from 1.5 to 11, estimated within 20 %;
    nothing is said where there is too little texture, and of softness alone. Printed before: sharp peaks of a square lattice in the
    spectrum, ruling within 3 %, angle within 2 degrees (from the page's x axis downwards); weaves, fences, roof tiles and grids stay
    below the confidence that asks; dots less than 2.1 pixels apart fold back and may be told with another ruling. Placed under the small
    size on both sides is left alone. Size of an image file: pixels over its resolution; no tag, 72 and 96 say nothing, an ordered size
    does. JPEG quality: from the tables that packed it; where a packed picture was saved again, from the blocks in its pixels, within
    about 5. Tilt (0.1 degrees), soft edges and paper only of type and line art: nearly all paper, with ink of one tone on it; nothing is
    said of photographs, nor of the tilt of a sheet with dots. On a page with too many pictures the largest are looked at and the number
    left out is unchecked; so is a JPEG without its last rows.
What to ask the customer for
    The original photo, not one enlarged in a program; the data that an earlier job was printed from, instead of a scan of the print; the
    size at which an image file is to print; a flattened CMYK file.
Source
    Rescreening and moire, factor 1.5 to 2 between pixels and ruling, JPEG quality of about 75, tilt of 0.5 degrees: printers' public
    pages and common practice; spectra: see the readers. Confidence limits were set on drawn scenes and photographs.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage, Unchecked
from preflight.inventory.model import DocumentFacts, ImageFileFacts, ImageUse, Inventory, Page, Painted, PictureFacts
from preflight.ticket import Job
from preflight.units import MM_PER_INCH


@dataclass(frozen=True)
class ImageLimits:
    """Limits of picture computation; rulings in lines an inch, confidences from 0 to 1."""

    upsampled_below_percent: float
    upsampled_confidence_from: float
    screened_confidence_from: float
    screened_mild_confidence_from: float
    screened_from_lpi: float
    screened_to_lpi: float
    compressed_below_quality: float
    compressed_pixels_within: float
    compressed_pixels_tell_from_quality: float
    blocking_above_percent: float
    crooked_above_deg: float
    soft_line_art_below_ppi: float
    paper_above_percent: float
    inverted_above_percent: float
    size_good_x_ruling: float
    size_most_x_ruling: float
    ignore_smaller_mm: float


# --- the pixels of each picture ----------------------------------------------------------------------------------------


def check_page(page: Page, document: DocumentFacts, job: Job, limits: ImageLimits) -> Iterator[Answer]:
    """Judges each placement of a picture by what its pixels say."""
    pictures = {facts.object_key: facts for facts in page.pictures if facts.not_looked is None}
    left = Counter(facts.not_looked for facts in page.pictures if facts.not_looked is not None)
    for why, count in left.items():
        yield Unchecked("image", page.number, f"{why}: {count} not looked at")
    for thing in page.painted:
        facts = pictures.get(thing.object_key)
        if facts is None or thing.image is None or not thing.is_visible or thing.kind != "image":
            continue
        size_known = facts.stated_ppi is not None
        if size_known and max(thing.image.placed_mm) < limits.ignore_smaller_mm:
            continue
        for kind in _PIXEL_KINDS:
            found = kind(facts, thing.image, limits)
            if found is not None:
                yield _placed(found, page, thing)


def _placed(found: Found, page: Page, thing: Painted) -> Found:
    """The finding at its place."""
    return Found(
        kind=found.kind,
        page=page.number,
        box_mm=thing.visible_mm,
        measured=found.measured,
        limit=found.limit,
        unit=found.unit,
        values=found.values,
        source=thing.object_key,
        mild=found.mild,
        details=found.details,
        worse=found.worse,
    )


def _upsampled(facts: PictureFacts, image: ImageUse, limits: ImageLimits) -> Found | None:
    share, sure = facts.detail_share, facts.upsampled_confidence
    if share is None or sure is None or sure < limits.upsampled_confidence_from:
        return None
    percent = 100.0 * share
    if percent > limits.upsampled_below_percent:
        return None
    stated = min(image.x_ppi, image.y_ppi) if facts.stated_ppi is not None else None
    true = None if stated is None else share * stated
    return Found(
        "upsampled",
        None,
        measured=true,
        limit=None if stated is None else stated * limits.upsampled_below_percent / 100.0,
        unit=None if true is None else "ppi",
        values={
            "percent": round(percent),
            "says": "" if stated is None else f", about {true:.0f} instead of {stated:.0f} ppi",
        },
        details={
            "true_ppi": None if true is None else round(true, 1),
            "stated_ppi": None if stated is None else round(stated, 1),
            "factor": round(1.0 / share, 2),
            "confidence": round(sure, 2),
        },
    )


def _screened(facts: PictureFacts, image: ImageUse, limits: ImageLimits) -> Found | None:
    if not facts.screens:
        return None
    first = facts.screens[0]
    if first.confidence < limits.screened_mild_confidence_from:
        return None
    in_range = first.lpi is None or limits.screened_from_lpi <= first.lpi <= limits.screened_to_lpi
    # One bit prints as line work, dot for dot: no second screen.
    mild = first.confidence < limits.screened_confidence_from or not in_range or facts.one_bit
    ruling = f"{first.lpi:.0f} lpi" if first.lpi is not None else f"a dot each {1.0 / first.cycles_per_px:.1f} pixels"
    angles = ", ".join(f"{round(screen.angle_deg) % 90}" for screen in facts.screens)
    return Found(
        "screened",
        None,
        measured=first.lpi,
        unit=None if first.lpi is None else "lpi",
        values={"ruling": ruling, "angles": angles, "sure": "may carry" if mild else "carries"},
        mild=mild,
        worse="high",
        details={
            "angle_deg": round(first.angle_deg, 1),
            "confidence": round(first.confidence, 2),
            "cycles_per_px": round(first.cycles_per_px, 4),
            "screens": [
                {
                    "lpi": None if screen.lpi is None else round(screen.lpi, 1),
                    "angle_deg": round(screen.angle_deg, 1),
                    "confidence": round(screen.confidence, 2),
                }
                for screen in facts.screens
            ],
        },
    )


def _compressed(facts: PictureFacts, image: ImageUse, limits: ImageLimits) -> Found | None:
    # What the pixels tell counts where they were packed harder than the file is now: packed before, and saved again.
    told = facts.details.get("quality_in_pixels")
    packed = facts.jpeg_quality
    nearly_all_kept = packed is None or packed >= limits.compressed_pixels_tell_from_quality
    again = (
        nearly_all_kept
        and told is not None
        and told < limits.compressed_below_quality - limits.compressed_pixels_within
    )
    qualities = [quality for quality in (packed, told if again else None) if quality is not None]
    quality = min(qualities, default=None)
    poor = quality is not None and quality < limits.compressed_below_quality
    blocked = packed is None and told is None and (facts.blocking or 0.0) > limits.blocking_above_percent
    if not poor and not blocked:
        return None
    if not poor:
        words = "was packed hard as JPEG and saved again: its blocks stand in the pixels"
    elif quality == packed:
        words = f"is packed as JPEG at quality {quality:.0f}"
    else:
        words = f"was packed as JPEG at quality {quality:.0f} or so and saved again"
    return Found(
        "compressed",
        None,
        measured=quality,
        limit=limits.compressed_below_quality,
        values={"words": words},
        details={"blocking_percent": facts.blocking, "quality": packed, "quality_in_pixels": told},
    )


def _crooked(facts: PictureFacts, image: ImageUse, limits: ImageLimits) -> Found | None:
    if facts.tilt_deg is None or not facts.is_scan:
        return None
    tilt = round(abs(facts.tilt_deg), 1)
    if tilt <= limits.crooked_above_deg:
        return None
    return Found("crooked", None, measured=tilt, limit=limits.crooked_above_deg, unit="deg", worse="high")


def _soft_line_art(facts: PictureFacts, image: ImageUse, limits: ImageLimits) -> Found | None:
    ppi = min(image.x_ppi, image.y_ppi)
    if (
        not facts.is_line_art
        or facts.one_bit
        or facts.stated_ppi is None
        or ppi >= limits.soft_line_art_below_ppi - 0.5
    ):
        return None
    return Found("soft-line-art", None, measured=ppi, limit=limits.soft_line_art_below_ppi, unit="ppi")


def _paper_tint(facts: PictureFacts, image: ImageUse, limits: ImageLimits) -> Found | None:
    if not facts.is_scan or facts.paper_percent is None or facts.paper_percent <= limits.paper_above_percent:
        return None
    return Found(
        "paper-tint", None, measured=facts.paper_percent, limit=limits.paper_above_percent, unit="percent", worse="high"
    )


_PIXEL_KINDS = (_upsampled, _screened, _compressed, _crooked, _soft_line_art, _paper_tint)


# --- what an image file says of itself ---------------------------------------------------------------------------------


def check_file(inventory: Inventory, job: Job, limits: ImageLimits) -> Iterator[Answer]:
    """Judges an image file as a whole: its size, and what it carries beyond its picture."""
    facts = inventory.document.image_file
    if facts is None:
        return
    unknown = [page.number for page in inventory.pages if page.trim_mm is None]
    if unknown:
        yield _unknown_size(facts, unknown, job, limits)
    for case, what, mild in _extras(facts, limits):
        details: dict[str, object] = {"what": what, "case": case}
        yield Found("extra-channels", 1, values={"what": what}, subject=what, mild=mild, groups=False, details=details)


def _unknown_size(facts: ImageFileFacts, pages: list[int], job: Job, limits: ImageLimits) -> Found:
    ruling = job.press.screen_lpi
    good, most = limits.size_good_x_ruling * ruling, limits.size_most_x_ruling * ruling
    sizes = {ppi: [side * MM_PER_INCH / ppi for side in (facts.width_px, facts.height_px)] for ppi in (good, most)}
    return Found(
        "unknown-size",
        pages[0],
        values={
            "tag": "no resolution"
            if facts.x_ppi is None
            else f"only the {facts.x_ppi:.0f} ppi that programs put by themselves",
            "good": _size(sizes[good]),
            "most": _size(sizes[most]),
            "good_ppi": f"{good:.0f}",
            "most_ppi": f"{most:.0f}",
        },
        details={
            "pages": pages,
            "box_px": [0, 0, facts.width_px, facts.height_px],
            "pixels": [facts.width_px, facts.height_px],
            "tagged_ppi": None if facts.x_ppi is None else round(facts.x_ppi, 1),
            "sizes": [
                {"ppi": round(ppi, 1), "x_ruling": factor, "size_mm": [round(side, 1) for side in sizes[ppi]]}
                for ppi, factor in ((good, limits.size_good_x_ruling), (most, limits.size_most_x_ruling))
            ],
        },
    )


def _size(sides: list[float]) -> str:
    return " x ".join(f"{side:.0f}" for side in sides)


def _extras(facts: ImageFileFacts, limits: ImageLimits) -> Iterator[tuple[str, str, bool]]:
    """What an image file carries that print cannot use: which case it is, in words, and whether it is merely worth knowing."""
    if facts.alpha:
        yield "alpha", "a transparency channel", False
    if facts.layers:
        yield "layers", f"{facts.layers} {'layer' if facts.layers == 1 else 'layers'}", False
    if facts.extra_channels:
        yield "channels", "further channels: " + ", ".join(facts.extra_channels), False
    if facts.bits is not None and facts.bits > 8:
        yield "bits", f"{facts.bits} bits a channel", False
    if facts.profile_fits is False:
        name = facts.profile_description or "without a name"
        yield "profile", f"a colour profile that does not fit its {facts.mode} pixels ({name})", False
    if facts.looks_inverted:
        yield "inverted", f"CMYK that looks inverted: most of it is over {limits.inverted_above_percent:.0f} %", False
    if facts.palette:
        yield "palette", "a palette instead of colours of its own", True
    if facts.frames > 1:
        yield "frames", f"{facts.frames} frames", True


def _all_kinds() -> dict[str, Any]:
    return {
        "unknown-size": Kind(
            Stage.INTAKE,
            "The image file has {tag}, and no printed size is ordered. It prints well up to {good} mm ({good_ppi} ppi), at most "
            "up to {most} mm ({most_ppi} ppi).",
            "Your picture does not say how large it is to be printed. It prints well up to {good} mm and at most up to {most} mm: "
            "please tell us the size you want, or send a larger original if that is too small.",
        ),
        "upsampled": Kind(
            Stage.PLATES,
            "The picture was blown up: its pixels carry about {percent} % of the resolution they have{says}.",
            "This picture was enlarged in a program, which adds no detail: it will look soft in print. Please send the original "
            "photo as it came from the camera or scanner.",
        ),
        "screened": Kind(
            Stage.PRESS,
            "The picture {sure} the halftone of an earlier print: {ruling}, angles {angles} degrees. The new screen will make "
            "moire with it.",
            "This picture looks like a scan of something that was printed before. Its dots and the new ones can make an ugly "
            "pattern together. Please send the original photo or the file the first print was made from.",
        ),
        "compressed": Kind(
            Stage.PLATES,
            "The picture {words}; under quality {limit} blocks show in flats and around edges.",
            "This picture was saved with strong compression and may show small blocks in print. Please send the "
            "original photo: saving this one again at a higher quality does not bring its detail back.",
        ),
        "crooked": Kind(
            Stage.PLATES,
            "The scan is tilted by {measured} degrees; over {limit} degrees it shows beside a straight edge.",
            "This scan is not quite straight. Please scan it again, or tell us that we may straighten it.",
        ),
        "soft-line-art": Kind(
            Stage.PLATES,
            "Type or line art was scanned in gray at {measured} ppi: its edges are screened and print ragged below {limit} ppi.",
            "This drawing or text was scanned as a photo and its edges will look soft. Please scan it again in black and white "
            "(1 bit) at 1200 dots an inch, or send it as a vector file.",
        ),
        "paper-tint": Kind(
            Stage.PRESS,
            "The paper of the scan is not white: it prints as a ground of about {measured} %.",
            "The paper of this scan will print as a light grey ground. If it should be white, please tell us or clean it in the "
            "picture.",
        ),
        "extra-channels": Kind(
            Stage.INTAKE,
            "The image file has {what}: not printed as it stands.",
            "Your picture has {what}. Please send a plain copy of it: one layer, 8 bits, CMYK or RGB with its own colour profile and "
            "nothing besides; or ask us how it would print as it is.",
        ),
    }


CHECK = Check(
    name="image",
    limits=ImageLimits,
    needs=frozenset({"paint", "pictures"}),
    on_page=check_page,
    on_file=check_file,
    mild_kinds=frozenset({"screened", "extra-channels"}),
    kinds=_all_kinds(),
)
