"""Reads one page of an open artwork: boxes, fonts, annotations, the paint trace and the plates, as one ``Page``.

Each fact is read on its own: what one reader cannot tell becomes an entry in ``Page.unknown`` with its reason, and the others
go on. Only what the enabled checks (and the report itself) need is read. Boxes and plates always are: the report shows them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from preflight.inventory.annotations import read_annotations
from preflight.inventory.barcodes import read_barcodes
from preflight.inventory.boxes import Geometry, read_boxes, settle_geometry
from preflight.inventory.claim import makes_claim
from preflight.inventory.claim_details import page_sights
from preflight.inventory.damage import page_damage
from preflight.inventory.fonts import merge_font_use, read_fonts
from preflight.inventory.model import (
    Annotation,
    BarcodeSeen,
    ClaimSight,
    FontFact,
    OverprintChange,
    Page,
    PageSummary,
    Painted,
    PictureFacts,
    PlatePicture,
    Plates,
    TrapEdge,
)
from preflight.inventory.opening import Artwork
from preflight.inventory.overprint import read_overprint
from preflight.inventory.paint import PaintTrace, trace_page
from preflight.inventory.paint_text import FLAT_MM
from preflight.inventory.pictures import let_go, read_pictures
from preflight.inventory.plates import measure_plates, render_plates
from preflight.inventory.trap import read_trap
from preflight.inventory.warnings import take_warnings
from preflight.ticket import Job
from preflight.units import MM_PER_PT, TOLERANCE_MM, Box

T = TypeVar("T")

if TYPE_CHECKING:
    from preflight.inventory.render import PlatePixels


#: Draws a place of the page anew: its box, pixels a millimetre, and whether overprint is honoured.
Draw = Callable[[Box, float, bool], "PlatePixels"]


@dataclass
class PageReading:
    """A page as read, with the pixels of its plates while pictures are made of it (never stored)."""

    page: Page
    geometry: Geometry | None
    pixels: PlatePixels | None
    layers_used: tuple[str, ...] = ()
    draw: Draw | None = None


def read_page(artwork: Artwork, number: int, job: Job, needs: frozenset[str]) -> PageReading:
    """Reads page ``number`` (from 1). ``MemoryError`` is passed on; everything else becomes an unknown fact."""
    unknown: dict[str, str] = {}
    take_warnings()
    # Pixels are looked at where their resolution may be in question, no others.
    limits = job.limits["resolution"]
    look_below_ppi = max(limits.low_below_ppi, limits.soft_below_ppi) if job.is_enabled("resolution") else 0.0

    def ask(fact: str, read: Callable[[], T], otherwise: T) -> T:
        try:
            return read()
        except MemoryError:
            raise
        except Exception as fault:
            if is_out_of_memory(fault):
                raise MemoryError(str(fault)) from fault
            # What this tool says itself needs no name of a class before it.
            kind = "" if type(fault).__module__.startswith("preflight.") else f"{type(fault).__name__}: "
            unknown[fact] = f"{fact} could not be read: {kind}{fault}"[:300]
            return otherwise

    boxes = ask("boxes", lambda: read_boxes(artwork, number), None)
    geometry = ask("boxes", lambda: settle_geometry(boxes, job), None) if boxes else None
    if geometry is None or boxes is None:
        for fact in ("paint", "plates", "fonts", "annotations", "pictures"):
            unknown.setdefault(fact, unknown.get("boxes", "the page has no usable boxes"))
        return PageReading(_bare_page(number, unknown), None, None)

    engine_page = ask("paint", lambda: artwork.mupdf_page(number), None)
    if engine_page is None:
        unknown["plates"] = unknown["paint"]
    no_trace: PaintTrace | None = None
    trace = no_trace
    if engine_page is not None:
        trace = ask(
            "paint",
            lambda: trace_page(
                engine_page,
                geometry.frame,
                geometry.zone_mm,
                look_below_ppi=look_below_ppi,
                keep_images="pictures" in needs,
            ),
            no_trace,
        )
    painted = trace.painted if trace else ()
    plates: Plates | None = None
    pixels: Any = None
    if engine_page is not None:
        nothing: tuple[Plates | None, Any] = (None, None)
        plates, pixels = ask(
            "plates",
            lambda: measure_plates(
                artwork,
                engine_page,
                geometry.frame,
                geometry.zone_mm,
                geometry.trim_mm,
                geometry.media_mm,
                job,
                painted,
            ),
            nothing,
        )
    said, refused = without_flat_type(take_warnings(), painted), list(unknown.values())
    faults = pixels.faults if pixels is not None else 0
    nothing_seen: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    broken, warnings = ask("damage", lambda: page_damage(artwork, number, said, refused, faults), nothing_seen)
    fonts: tuple[FontFact, ...] = ()
    claims = ask("claim", lambda: makes_claim(artwork), False)
    looks_at_fonts = "fonts" in needs or claims
    if looks_at_fonts:
        fonts = ask("fonts", lambda: read_fonts(artwork, number), fonts)
    if looks_at_fonts and trace is not None:
        fonts = merge_font_use(fonts, painted)
    elif "paint" in unknown:
        unknown.setdefault("fonts", unknown["paint"])
    annotations: tuple[Annotation, ...] = ()
    if "annotations" in needs:
        annotations = ask("annotations", lambda: read_annotations(artwork, number, geometry.frame), annotations)
    pictures: tuple[PictureFacts, ...] = ()
    if trace is not None and trace.images:
        # Soon after the plates: the engine still has the pixels it drew them from.
        size_known, images = boxes.size_from != "unknown", trace.images
        small_mm = job.limits["image"].ignore_smaller_mm
        try:
            pictures = ask(
                "pictures",
                lambda: read_pictures(artwork, images, painted, size_known=size_known, ignore_smaller_mm=small_mm),
                pictures,
            )
        finally:
            let_go(images)
    elif "pictures" in needs and "paint" in unknown:
        unknown.setdefault("pictures", unknown["paint"])
    sights: tuple[ClaimSight, ...] = ()
    if claims:
        frame = geometry.frame
        sights = ask("claim", lambda: page_sights(artwork, number, frame, boxes, painted, fonts), sights)
    barcodes: tuple[BarcodeSeen, ...] = ()
    if "barcodes" in needs and pixels is not None and trace is not None:
        barcodes = ask("barcodes", lambda: read_barcodes(artwork, engine_page, geometry, pixels, painted, job), ())
    elif "barcodes" in needs:
        unknown["barcodes"] = unknown.get("plates") or unknown.get("paint", "the page was not drawn")
    changes: tuple[OverprintChange, ...] = ()
    if "overprint" in needs and plates is not None and trace is not None:
        zone = plates.zone_mm
        changes = ask(
            "overprint",
            lambda: read_overprint(artwork.document, engine_page, geometry.frame, painted, pixels, zone, job),
            changes,
        )
    trap_edges: tuple[TrapEdge, ...] = ()
    if "trap" in needs and plates is not None and trace is not None:
        zone = plates.zone_mm
        trap_edges = ask(
            "trap",
            lambda: read_trap(artwork.document, engine_page, geometry.frame, painted, pixels, zone, job),
            trap_edges,
        )
    page = Page(
        number=number,
        boxes=boxes,
        trim_mm=geometry.trim_mm,
        trim_from=geometry.trim_from,
        bleed_mm=geometry.bleed_mm,
        media_mm=geometry.media_mm,
        zone_mm=geometry.zone_mm,
        crop_mm=geometry.crop_mm,
        annotations=annotations,
        fonts=fonts,
        pictures=pictures,
        painted=painted,
        plates=plates,
        group_family=trace.group_family if trace else None,
        has_group=trace.has_group if trace else False,
        transparency=trace.transparency if trace else (),
        claim_sights=sights,
        overprint_changes=changes,
        trap_edges=trap_edges,
        barcodes=barcodes,
        broken=broken,
        warnings=warnings,
        unknown=unknown,
    )

    def draw(box_mm: Box, pixels_per_mm: float, overprint: bool) -> PlatePixels:
        artwork.before_parts_are_drawn()
        return render_plates(
            artwork.document, engine_page, geometry.frame, box_mm, pixels_per_mm, overprint, press=pixels.press
        )

    drawable = engine_page is not None and pixels is not None
    return PageReading(page, geometry, pixels, trace.layers_used if trace else (), draw if drawable else None)


def is_out_of_memory(fault: BaseException) -> bool:
    """Whether an engine's error says that memory ran out (it has no exception of its own for that)."""
    text = str(fault).lower()
    return isinstance(fault, MemoryError) or any(
        sign in text for sign in ("malloc", "calloc", "realloc", "out of memory", "cannot allocate", "bad_alloc")
    )


def without_flat_type(said: list[str], painted: tuple[Painted, ...]) -> list[str]:
    """What the engine said, but for letters that it cannot draw because they have no size."""
    if not any(thing.text is not None and thing.text.size_pt * MM_PER_PT < FLAT_MM for thing in painted):
        return said
    return [line for line in said if not line.endswith("raster overflow")]


def summary_of(
    reading: PageReading,
    picture: str | None = None,
    picture_mm: Box | None = None,
    plate_pictures: tuple[PlatePicture, ...] = (),
) -> PageSummary:
    """What is kept of a page once it is judged."""
    page = reading.page
    visible = [thing for thing in page.painted if thing.is_visible]
    families = {thing.colour.family for thing in visible if thing.colour}
    pictures = {thing.object_key for thing in visible if thing.image is not None}
    plates = page.plates
    return PageSummary(
        number=page.number,
        trim_mm=page.trim_mm,
        trim_from=page.trim_from,
        bleed_mm=page.bleed_mm,
        rotation=page.boxes.rotation if page.boxes else 0,
        user_unit=page.boxes.user_unit if page.boxes else 1.0,
        plates=plates.plates if plates else (),
        max_total_percent=plates.max_total_percent if plates else None,
        images=None if "paint" in page.unknown else len(pictures),
        fonts=tuple(sorted({font.name for font in page.fonts if font.used_visibly is not False})),
        fingerprint=plates.fingerprint if plates else "",
        blank_trim=plates.blank_trim if plates else None,
        boxes=page.boxes,
        families=tuple(sorted(families)),
        profile_from=plates.profile_from if plates else "",
        profile_name=plates.profile_name if plates else "",
        transparency=page.transparency,
        claim_sights=page.claim_sights,
        layers_used=reading.layers_used,
        barcodes=tuple(code.text for code in page.barcodes if code.text and code.decoded),
        barcodes_undecoded=None if "barcodes" in page.unknown else sum(not code.decoded for code in page.barcodes),
        picture=picture,
        picture_mm=picture_mm,
        plate_pictures=plate_pictures,
        text_margins_mm=_text_margins(visible, page.trim_mm),
    )


def _text_margins(
    visible: list[Painted], trim_mm: tuple[float, float] | None
) -> tuple[float, float, float, float] | None:
    """How far inside each edge of the trim text stays: left, top, right, bottom. Text that runs through is cut on purpose."""
    if trim_mm is None:
        return None
    boxes = [
        thing.visible_mm
        for thing in visible
        if thing.text is not None and thing.text.inked_glyphs and thing.visible_mm is not None
    ]
    trim = Box(0.0, 0.0, *trim_mm)
    inside = [box for box in boxes if trim.contains(box, slack=TOLERANCE_MM)]
    if not inside:
        return None
    return (
        min(box.x0 for box in inside),
        min(box.y0 for box in inside),
        trim.x1 - max(box.x1 for box in inside),
        trim.y1 - max(box.y1 for box in inside),
    )


def _bare_page(number: int, unknown: dict[str, str]) -> Page:
    return Page(
        number=number,
        boxes=None,
        trim_mm=None,
        trim_from="",
        bleed_mm=None,
        media_mm=None,
        zone_mm=None,
        unknown=unknown,
    )


def with_facts(reading: PageReading, **facts: Any) -> PageReading:
    """The same reading with further facts on its page."""
    return replace(reading, page=replace(reading.page, **facts))
