"""The facts measured in an artwork, without judging them.

Plain frozen data: no thresholds, no pixels, no library objects; it goes to JSON and back, so it can be stored, sent to
another machine, written by hand in a test, and judged again under other rules. Units are in the names; every ``_mm`` box
is in trim space (see ``units``). ``None`` is unknown, never nothing. A fact that could not be read is named in
``unknown`` with its reason, and a check that needs it is then not run and reported as unchecked.

Pages are a stream: a ``Page`` with its paint list and plate cells lives only while it is judged; a ``PageSummary`` stays.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from preflight.units import Box

Edge = Literal["left", "top", "right", "bottom"]
EDGES: tuple[Edge, ...] = ("left", "top", "right", "bottom")

#: What a colour is made of. ``icc-*`` carry a profile; ``cal-*`` are the calibrated CIE spaces; ``rgb``, ``gray``, ``cmyk``
#: are device spaces. An indexed colour, a pattern or an image has the family of its base. ``none``: Separation None.
Family = Literal[
    "gray", "rgb", "cmyk", "lab", "cal-gray", "cal-rgb", "icc-gray", "icc-rgb", "icc-cmyk", "icc-lab",
    "separation", "device-n", "none", "unknown",
]  # fmt: skip

PROCESS_INKS = ("Cyan", "Magenta", "Yellow", "Black")


# --- the file as a whole ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class OutputIntent:
    """One output intent: ``subtype`` such as ``GTS_PDFX``; the profile's own description and md5 where embedded."""

    subtype: str
    identifier: str | None
    info: str | None = None
    registry: str | None = None
    profile_description: str | None = None
    profile_components: int | None = None
    profile_md5: str | None = None
    profile_bytes: int | None = None
    #: What the embedded profile says of itself: class (``prtr``), space (``CMYK``), version (``2.4``); None where it cannot be read.
    profile_class: str | None = None
    profile_space: str | None = None
    profile_version: str | None = None
    #: How many components the file says the profile has.
    profile_stated: int | None = None
    #: The profile lies outside the file and is only named (DestOutputProfileRef).
    profile_outside: bool = False
    #: The pages that bring it themselves (ISO 32000-2, Table 31); empty: it is the file's.
    pages: tuple[int, ...] = ()


@dataclass(frozen=True)
class Layer:
    """An optional-content group: whether it shows on screen and whether it prints, by the default configuration."""

    name: str
    object_number: int
    shown: bool | None
    printed: bool | None
    #: ISO 19593-1 processing step, such as ``Structural/Cutting``; None for an ordinary layer.
    processing_step: str | None = None
    #: Whether anything is drawn in it, where known.
    used: bool | None = None
    #: Pages whose content names it, as far as known; it may be drawn on others.
    pages: tuple[int, ...] = ()
    #: Whether content shows by a membership of it (OCMD): that may be there just where the layer is not, and bears no layer's name.
    has_members: bool = False


@dataclass(frozen=True)
class SpotRecipe:
    """How one spot colour is built from its alternate space, sampled so that two recipes can be compared."""

    ink: str
    alternate: str
    #: Alternate values at 100 % of the ink, and at 50 %.
    full: tuple[float, ...]
    half: tuple[float, ...] = ()
    pages: tuple[int, ...] = ()


@dataclass(frozen=True)
class ActiveItem:
    """Something in the file that acts: ``what`` such as ``JavaScript``, ``Launch``, ``SubmitForm``."""

    what: str
    where: str
    page: int | None = None


@dataclass(frozen=True)
class ForeignSetting:
    """A print setting brought along by the file: transfer curve, halftone, PostScript, OPI proxy, external stream."""

    what: str
    page: int | None
    detail: str = ""


#: What a PDF/X part may forbid or bind, and what ``ClaimSight.name`` then tells. ``alternate``: the family of a spot colour's alternate
#: space; ``annotation``: its type, inside the bleed area (``printing-annotation``: one that leaves a mark); ``blend-space``, ``colour``:
#: a family; ``halftone``: its type by number; ``page-intent``: the components of a page's own output intent; ``profile``: class, space
#: and version; ``profile-count``: components stated for a profile that has others.
SightKind = Literal[
    "action", "alternate", "annotation", "printing-annotation", "blend-space", "colour", "filter", "font-missing", "halftone",
    "page-intent", "postscript", "profile", "profile-count", "profile-unreadable", "sixteen-bit", "transfer-curve",
    "transparency",
]  # fmt: skip


@dataclass(frozen=True)
class ClaimSight:
    """Something in the file that a PDF/X part may forbid or bind; ``thing`` is the kind of object and what it is called there.

    Read only where a file makes a claim.
    """

    what: SightKind
    name: str = ""
    page: int | None = None
    thing: str = ""
    object_number: int | None = None
    box_mm: Box | None = None


@dataclass(frozen=True)
class ClaimFacts:
    """What a PDF/X claim needs to be held against, as read from the structure. ``None`` is unknown."""

    claim: str | None = None
    info_version: str | None = None
    info_conformance: str | None = None
    xmp_version: str | None = None
    header_version: str | None = None
    #: From the document information, else from the metadata; and from the metadata alone.
    trapped: str | None = None
    xmp_trapped: str | None = None
    has_title: bool | None = None
    has_creation_date: bool | None = None
    has_modification_date: bool | None = None
    has_file_id: bool | None = None
    has_object_streams: bool | None = None
    filters: tuple[str, ...] = ()
    xmp_matches_info: bool | None = None
    #: What both places say, and say differently.
    xmp_differs: tuple[str, ...] = ()
    #: Which of title, dates and trapped state stand in the document information, and which in the metadata.
    in_info: tuple[str, ...] = ()
    in_xmp: tuple[str, ...] = ()
    #: Under which of the two namespaces the metadata carry the version: ``pdfxid`` (PDF/X-4 and later) or ``pdfx``.
    xmp_version_in: tuple[str, ...] = ()
    sights: tuple[ClaimSight, ...] = ()
    #: Facts that are not known, with the reason: ``xmp``, ``filters``.
    details: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class DocumentFacts:
    """What was read from the file as a whole, before any page is drawn."""

    name: str
    #: ``pdf``, ``tiff``, ``jpeg``, ``png``, ``psd``, ``webp`` or ``unknown``.
    kind: str
    bytes: int | None
    sha256: str | None
    pages: int | None
    #: A reason why the artwork cannot be opened at all (then nothing else is known), and of which kind it is.
    unreadable: str | None = None
    locked: bool = False
    not_supported: str | None = None
    #: Encrypted but open to read; permissions as asked for by the customer's program.
    encrypted: bool = False
    may_print: bool | None = None
    may_print_high: bool | None = None
    #: What had to be repaired to open the file; harmless oddities (bytes before the header, no end marker) apart.
    repairs: tuple[str, ...] = ()
    #: Pages that the file names and does not hold.
    missing_pages: tuple[int, ...] = ()
    oddities: tuple[str, ...] = ()
    active: tuple[ActiveItem, ...] = ()
    attachments: tuple[str, ...] = ()
    preseparated_pages: tuple[int, ...] = ()
    foreign_settings: tuple[ForeignSetting, ...] = ()
    output_intents: tuple[OutputIntent, ...] = ()
    #: Output intents of single pages; on these they stand instead of the file's.
    page_intents: tuple[OutputIntent, ...] = ()
    layers: tuple[Layer, ...] = ()
    spot_recipes: tuple[SpotRecipe, ...] = ()
    claim: ClaimFacts = ClaimFacts()
    producer: str | None = None
    creator: str | None = None
    #: Image files: facts of the container that a PDF would not have.
    image_file: ImageFileFacts | None = None
    #: Facts that could not be read, by the name a check needs them under, with the reason.
    unknown: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ImageFileFacts:
    """What the container of an image file says, frame by frame where it differs."""

    mode: str
    frames: int
    width_px: int
    height_px: int
    bits: int | None
    channels: int | None
    #: Resolution as tagged; None where there is no tag or it makes no sense.
    x_ppi: float | None
    y_ppi: float | None
    #: Where the resolution comes from, such as ``JFIF``, ``EXIF``, ``TIFF tag``.
    ppi_from: str | None = None
    palette: bool = False
    alpha: bool = False
    extra_channels: tuple[str, ...] = ()
    layers: int | None = None
    profile_description: str | None = None
    profile_fits: bool | None = None
    compression: str | None = None
    jpeg_quality: float | None = None
    orientation: int = 1
    looks_inverted: bool | None = None
    details: dict[str, str] = field(default_factory=dict)


# --- one page --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PageBoxes:
    """The boxes of a page as they stand in the file, in PDF user space, normalised; None where absent.

    ``media`` and ``crop`` with inheritance; ``bleed``, ``trim`` and ``art`` from the page itself only (ISO 32000-2, Table 31).
    """

    media: Box
    crop: Box | None
    bleed: Box | None
    trim: Box | None
    art: Box | None
    rotation: int = 0
    user_unit: float = 1.0
    #: Boxes that make no sense, and what was taken instead.
    faults: tuple[str, ...] = ()
    #: Pictures: where their size in print comes from: ``ticket``, ``image`` (its own tag) or ``unknown``. Empty: a PDF page.
    size_from: str = ""


@dataclass(frozen=True)
class Annotation:
    """An annotation or form field that is flagged to print."""

    subtype: str
    box_mm: Box
    prints: bool
    hidden: bool
    on_plates: bool | None = None
    #: For links and the like, which leave no mark.
    object_number: int | None = None


@dataclass(frozen=True)
class FontFact:
    """One font as used on a page. ``embedded`` None: could not be told. Names are a stranger's text."""

    name: str
    kind: str
    embedded: bool | None
    subset: bool = False
    object_number: int | None = None
    faulty: str | None = None
    #: Whether anything with ink is set in it on this page, visibly (filled in from the paint trace).
    used_visibly: bool | None = None
    #: Type 3 only: ppi of bitmap glyphs, worst; None for outlines.
    bitmap_ppi: float | None = None
    notdef_shown: int = 0
    box_mm: Box | None = None
    #: The six letters that mark a subset of this font (``ABCDEF``), to tell two subsets apart; empty without.
    tag: str = ""
    #: A font program is named and the file does not hold it: told as damage of the page.
    program_lost: bool = False


@dataclass(frozen=True, slots=True)
class Colour:
    """The colour a thing is painted in, as the engine was told it.

    ``inks`` names the colorants in order of ``values`` (0 to 1): the four process inks for CMYK, ``("Black",)`` for gray (whose
    value is then light, not ink: 0 is black), the spot names for Separation and DeviceN; empty for RGB and Lab.
    """

    family: Family
    space: str = ""
    inks: tuple[str, ...] = ()
    values: tuple[float, ...] = ()
    #: md5 of the ICC profile for ``icc-*``, to compare with the output intent's.
    profile_md5: str | None = None
    profile_description: str | None = None
    indexed: bool = False

    def tints_percent(self) -> dict[str, float] | None:
        """Ink by name in percent, zero ones left out; None where it is not known without conversion (RGB, Lab)."""
        if not self.values:
            return None
        if self.family in ("gray", "icc-gray", "cal-gray"):
            return {"Black": 100.0 * (1.0 - self.values[0])} if self.values[0] < 1.0 else {}
        if self.inks and len(self.inks) == len(self.values):
            pairs = zip(self.inks, self.values, strict=True)
            return {ink: 100.0 * value for ink, value in pairs if value > 0.0}
        return None


PaintKind = Literal["fill", "stroke", "text", "text-stroke", "image", "image-mask", "shading", "group", "mask"]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stroked line. ``width_pt`` is the thinnest thickness across the line as drawn, after every scale."""

    width_pt: float
    #: Width 0 in the file: one device dot.
    zero: bool = False
    length_mm: float = 0.0
    dashed: bool = False
    #: It only rims a fill of the same path and ink, so the thickness of the whole is the fill's.
    rims_fill: bool = False
    #: Parallel to an edge: ``level`` or ``upright``; None for anything else.
    direction: Literal["level", "upright"] | None = None
    is_frame: bool = False


@dataclass(frozen=True, slots=True)
class Shape:
    """A filled path. ``thickness_pt`` is the least thickness of the shape as drawn, None where it is not thin anywhere."""

    thickness_pt: float | None
    area_mm2: float
    #: A slice of something larger: its neighbours touch it along its length in nearly the same colour, so no line is seen.
    is_slice: bool = False
    is_rectangle: bool = False
    parts: int = 1
    direction: Literal["level", "upright"] | None = None
    is_frame: bool = False


@dataclass(frozen=True, slots=True)
class TextRun:
    """Glyphs painted together in one font, size and colour. No text content is kept."""

    font: str
    #: Font size after every matrix, the smaller axis.
    size_pt: float
    glyphs: int
    #: Glyphs that leave a mark (not spaces).
    inked_glyphs: int
    missing_glyphs: int = 0
    x_height_mm: float | None = None
    cap_height_mm: float | None = None
    embedded: bool | None = None
    font_object: int | None = None
    type3: bool = False
    #: Thinnest stem known, where outlines were looked at.
    stem_pt: float | None = None
    #: Type 3 only: worst resolution of bitmaps in the glyphs shown; None for outlines.
    bitmap_ppi: float | None = None


@dataclass(frozen=True, slots=True)
class ImageUse:
    """One placement of an image. ``x_ppi``/``y_ppi`` along the image's own axes after every matrix."""

    width_px: int
    height_px: int
    bits: int
    x_ppi: float
    y_ppi: float
    placed_mm: tuple[float, float]
    #: All pixels the same (within noise): resolution cannot be seen. None: not looked at.
    flat: bool | None = None
    #: Along which of the picture's own axes nothing changes (a strip that fades across): pixels cannot be counted there.
    same_along: Literal["x", "y"] | None = None
    #: For 1-bit images and masks: whether the pixels form nothing but upright rectangles.
    only_rectangles: bool | None = None
    stored_bytes: int | None = None
    object_number: int | None = None
    #: The soft or stencil mask's own pixels and resolution.
    mask_px: tuple[int, int] | None = None
    mask_ppi: tuple[float, float] | None = None
    mask_bits: int | None = None
    #: The same of the mask.
    mask_same_along: Literal["x", "y"] | None = None
    #: The mask is one tone, or one bit of nothing but upright rectangles: its resolution cannot be seen. None: not looked at.
    mask_plain: bool | None = None
    interpolate: bool = False
    filter: str | None = None
    #: From the picture's unit square (rows downwards, as it is stored) to trim space.
    matrix_mm: tuple[float, float, float, float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Painted:
    """One painted thing, after forms, patterns, Type 3 glyphs, clips, layers and groups are resolved."""

    order: int
    kind: PaintKind
    #: Where it lies before clipping.
    box_mm: Box
    #: What is left inside its clips, the page and the bleed area; None where nothing is.
    visible_mm: Box | None
    colour: Colour | None
    #: Wholly under later opaque, Normal, non-overprinting matter.
    covered: bool = False
    #: All alphas multiplied: own, groups', constant soft masks'. 0 leaves no mark.
    alpha: float = 1.0
    blend: str = "Normal"
    overprint: bool = False
    overprint_mode: int = 0
    #: What it is nested in, outermost first: ``form``, ``pattern``, ``type3``, ``group``, ``soft-mask``, ``annotation``.
    inside: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    #: The same source object placed again has the same key (page-wide, not stable between runs).
    object_key: str = ""
    stroke: Stroke | None = None
    shape: Shape | None = None
    text: TextRun | None = None
    image: ImageUse | None = None
    #: Boxes (with the width of the line) of the separate pieces of one path, at most 64, so that eight crop marks drawn in
    #: one go are not taken for the page between them. Empty: one piece, too many, or no path.
    parts_mm: tuple[Box, ...] = ()
    #: The inks of what lies under it on the page, by the areas painted before; () on paper, None not looked at. Looked at for type,
    #: fine things, and things in spot inks that knock out.
    ground_inks: tuple[str, ...] | None = None

    @property
    def is_visible(self) -> bool:
        """Whether it leaves a mark on the plates inside the bleed area, as far as can be told; in doubt it does."""
        return self.visible_mm is not None and not self.covered and self.alpha > 0.0


@dataclass(frozen=True)
class Plate:
    """One plate of a page: mean coverage inside the trim and inside the bleed area, highest single cell."""

    ink: str
    #: ``process``, ``spot`` or ``finishing`` (die, varnish, foil ... : not counted as ink).
    kind: str
    coverage_percent: float
    zone_coverage_percent: float
    highest_cell_percent: float
    #: Area inside the zone that carries any of it.
    marked_mm2: float
    #: The box of what is marked, trim space; None where nothing is.
    box_mm: Box | None = None


@dataclass(frozen=True)
class CellGrid:
    """Mean ink per cell of ``cell_mm``: ``data`` holds ``planes`` x ``rows`` x ``columns`` bytes, 255 = 100 %.

    Cell (row 0, column 0) has its top left corner at ``origin_mm``. Planes are in the order of the page's plates.
    """

    planes: int
    rows: int
    columns: int
    origin_mm: tuple[float, float]
    cell_mm: float
    data: bytes = b""


@dataclass(frozen=True)
class InkArea:
    """A connected area where the mean over a square window is above ``above_percent`` by more than the tolerance.

    ``worst_percent`` is the highest window mean, ``worst_mm`` that window; ``area_mm2`` and ``box_mm`` are of what is above the limit
    inside such windows. ``estimated``: how much of it rests on converted RGB.
    """

    above_percent: float
    worst_percent: float
    area_mm2: float
    box_mm: Box
    worst_mm: Box
    estimated: bool = False
    inks_percent: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class EdgeInk:
    """Ink along one edge of the trim, sampled each ``step_mm`` from its left or top end.

    ``at_trim``: whether ink reaches the trim line from inside there. ``depth_mm``: how far past the trim ink runs without a
    gap, outward, at most to ``looked_mm``.
    """

    edge: Edge
    step_mm: float
    looked_mm: float
    at_trim: tuple[bool, ...]
    depth_mm: tuple[float, ...]
    #: How far out ink runs that is joined to this place, sideways steps included (a rule that crosses the trim at a slant).
    reach_mm: tuple[float, ...] = ()
    #: How much of the way straight outward, within the ordered bleed, is inked, gaps left out.
    inked_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class OverprintChange:
    """An area where the plates look different from the knocked-out view, and what overprints there."""

    box_mm: Box
    area_mm2: float
    delta_e: float
    #: ``changes``, or ``vanishes`` where an object leaves no mark or loses its white.
    effect: str
    #: The thing that overprints there (``Painted.order``), and the inks it is painted in.
    object_order: int | None = None
    inks: tuple[str, ...] = ()
    #: Mean ink there, weak ones left out: in the knocked-out view, and on the plates.
    meant_percent: dict[str, float] = field(default_factory=dict)
    plates_percent: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class TrapEdge:
    """Edges between two areas that share no ink and do not overlap."""

    box_mm: Box
    length_mm: float
    #: The inks on either side; several on one side are joined by `` + ``.
    inks: tuple[str, str]
    #: The strongest ink that both sides have, in percent of the weaker side.
    common_percent: float
    #: A point on the edge, and where the second side lies from it: 1 or -1 along one of the axes.
    at_mm: tuple[float, float] = (0.0, 0.0)
    towards: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class BarcodeSeen:
    """A bar or matrix code found on the plates.

    ``quiet_modules`` is how far it is clear by side: ``left`` and ``right`` as a bar code is read, all four as seen on the page for a
    matrix code; cut where nothing asks for more. Reflectances are those of red light, 1 for paper.
    """

    box_mm: Box
    #: ``EAN-13``, ``EAN-8``, ``UPC-A``, ``UPC-E``, ``ITF``, ``Code 128``, ``Code 39``, ``QR Code``, ``Data Matrix`` and others.
    symbology: str
    text: str | None
    x_dimension_mm: float | None
    quiet_modules: dict[str, float] = field(default_factory=dict)
    decoded: bool = False
    check_digit_ok: bool | None = None
    inks: tuple[str, ...] = ()
    reflectance_bar: float | None = None
    reflectance_ground: float | None = None
    reversed_out: bool = False
    height_mm: float | None = None
    #: How strong each ink of the bars is, in percent, where it makes them differ from the ground.
    inks_percent: dict[str, float] = field(default_factory=dict)
    #: Why it is not decoded: ``check digit``, ``damaged`` (the shape of a code, no content), ``font`` (a bar code font, no code).
    fault: str = ""


@dataclass(frozen=True)
class ScreenSeen:
    """A halftone found in a picture: the lattice of one ink's dots. The angle is from the page's x axis towards y (down), 0 to 90."""

    cycles_per_px: float
    angle_deg: float
    confidence: float
    #: None where the printed size is not known.
    lpi: float | None = None


@dataclass(frozen=True)
class PictureFacts:
    """What image computation says about one image's pixels, on its visible part. None: not looked at or cannot be told.

    Figures that depend on the size (ppi, lpi) are for the placement with the fewest pixels to the inch.
    """

    object_key: str
    #: The share of the stated resolution that is real, below 1 for a picture that was blown up.
    detail_share: float | None = None
    one_bit: bool = False
    #: All halftones found, the surest first; ``screen_*`` repeat the first.
    screens: tuple[ScreenSeen, ...] = ()
    true_ppi: float | None = None
    stated_ppi: float | None = None
    upsampled_confidence: float | None = None
    screen_lpi: float | None = None
    screen_angle_deg: float | None = None
    screen_confidence: float | None = None
    jpeg_quality: float | None = None
    blocking: float | None = None
    tilt_deg: float | None = None
    is_line_art: bool | None = None
    is_scan: bool | None = None
    paper_percent: float | None = None
    details: dict[str, float] = field(default_factory=dict)
    #: Why nothing was looked at, where that was so.
    not_looked: str | None = None


@dataclass(frozen=True)
class Plates:
    """The plates of one page, measured inside the zone (trim grown by the ordered bleed, cut to the media box)."""

    plates: tuple[Plate, ...]
    zone_mm: Box
    #: Highest mean over any square window of ``window_mm2``, printing inks only; None where it could not be measured.
    max_total_percent: float | None
    window_mm2: float
    #: Areas above each of the thresholds asked for (the enabled checks' limits), see ``InkArea.above_percent``.
    ink_areas: tuple[InkArea, ...]
    edges: tuple[EdgeInk, ...]
    cells: CellGrid | None
    #: Coarse print of the page's ink, stable through reordering and re-export.
    fingerprint: str
    #: Whose press condition the plates were separated for: ``file``, ``shop`` or ``built-in``, and its name.
    profile_from: str
    profile_name: str
    #: Whether any marks lie inside the trim.
    blank_trim: bool
    estimated: bool = False


@dataclass(frozen=True)
class Page:
    """Everything measured on one page."""

    number: int
    boxes: PageBoxes | None
    #: Trim in trim space is always (0, 0, w, h); None where the size is unknown (image without size).
    trim_mm: tuple[float, float] | None
    trim_from: str
    #: On offer past the trim: left, top, right, bottom (BleedBox if present, else media box).
    bleed_mm: tuple[float, float, float, float] | None
    media_mm: Box | None
    #: Trim grown by the ordered bleed, cut to the media box.
    zone_mm: Box | None
    crop_mm: Box | None = None
    annotations: tuple[Annotation, ...] = ()
    fonts: tuple[FontFact, ...] = ()
    painted: tuple[Painted, ...] = ()
    plates: Plates | None = None
    #: Blend space of the page group (family), None without a group or without one given.
    group_family: Family | None = None
    has_group: bool = False
    #: Live transparency painted on the page: reasons such as ``blend mode Multiply``, ``soft mask``.
    transparency: tuple[str, ...] = ()
    #: What on this page a PDF/X part may forbid or bind; read only where the file makes a claim.
    claim_sights: tuple[ClaimSight, ...] = ()
    overprint_changes: tuple[OverprintChange, ...] = ()
    trap_edges: tuple[TrapEdge, ...] = ()
    barcodes: tuple[BarcodeSeen, ...] = ()
    pictures: tuple[PictureFacts, ...] = ()
    #: Used resources that are missing or cannot be decoded, and other warnings the engine gave while drawing.
    broken: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    unknown: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PlatePicture:
    """One plate of a page as a gray picture (black: full ink), which shows what the page's picture shows; None: nothing on it.

    ``rgb``: the ink at 100 % on white paper.
    """

    ink: str
    picture: str | None
    rgb: tuple[int, int, int]


@dataclass(frozen=True)
class PageSummary:
    """What stays of a page for the file-wide checks and the report."""

    number: int
    trim_mm: tuple[float, float] | None
    trim_from: str
    bleed_mm: tuple[float, float, float, float] | None
    rotation: int
    user_unit: float
    plates: tuple[Plate, ...]
    max_total_percent: float | None
    images: int | None
    fonts: tuple[str, ...]
    fingerprint: str
    blank_trim: bool | None
    #: The boxes as they stand in the file, for questions about all pages; None for images and unreadable pages.
    boxes: PageBoxes | None = None
    families: tuple[str, ...] = ()
    profile_from: str = ""
    profile_name: str = ""
    transparency: tuple[str, ...] = ()
    claim_sights: tuple[ClaimSight, ...] = ()
    layers_used: tuple[str, ...] = ()
    barcodes: tuple[str, ...] = ()
    #: Codes that were seen and could not be decoded; None where the page was not looked through.
    barcodes_undecoded: int | None = None
    picture: str | None = None
    #: What the picture shows, trim space.
    picture_mm: Box | None = None
    plate_pictures: tuple[PlatePicture, ...] = ()
    #: How far inside the trim all visible text stays: left, top, right, bottom; what runs through apart. None: no text.
    text_margins_mm: tuple[float, float, float, float] | None = None
    details: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Inventory:
    """The file-wide facts and the summaries of all pages that were read."""

    document: DocumentFacts
    pages: tuple[PageSummary, ...]
    #: Pages that could not be read, with the reason.
    missing: dict[int, str] = field(default_factory=dict)
