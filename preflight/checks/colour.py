"""Which colours and inks the artwork really uses, against the inks ordered and the printing condition of the shop.

What it looks at
    The colour space of everything visible: fills, lines, text, pictures (and the base of indexed ones), shadings, patterns, soft
    masks and blend spaces. On the plates, which inks leave a mark. The output intent. How spot inks are named and built.
Why it matters on press
    RGB and Lab are separated by somebody's guess. Every spot name is a plate of its own: one ink spelled twice costs two, one not
    ordered is a plate nobody planned. Text in the registration colour prints on all plates at once. Artwork separated
    for another paper comes out too dark or too light.
How it is measured
    By visible use: hidden layers, clipped or covered things and unused resources are silent. Area in square millimetres of the boxes
    of what lies together (within 2 mm); pictures and vectors apart. White RGB leaves no ink and is let be. An ink marks where its
    plate has a cell of 0.5 mm above the rules' least percentage inside trim and bleed; measured is its mean coverage inside
    the trim. Names compare without case, spaces, punctuation and the rules' finish suffixes. An output condition is told by its
    registered identifier, else by the names in the intent and its profile.
What to ask the customer for
    Artwork in CMYK and the ordered spot inks, each spelled one way throughout, exported for the printing condition we name.
Source
    ISO 32000-2, 8.6 (spaces, All and None), 14.11.5 (output intents); printers' public pages refuse RGB and warn of one ink under
    two names; registered conditions as listed by the colour registries.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preflight.checking import Answer, Check, Kind
from preflight.colour_use import BLEND_SPACES, RGB, SOFT_MASKS, foreign_colours
from preflight.conditions import for_press, intent_name, intents_on, is_accepted
from preflight.findings import Found, NotJudged, Stage
from preflight.inks import (
    REGISTRATION,
    Marking,
    doubled_names,
    is_process,
    marking_plates,
    missing_inks,
    recipes_that_differ,
    unordered_inks,
)
from preflight.inventory.model import (
    DocumentFacts,
    Inventory,
    OutputIntent,
    Page,
    PageSummary,
    Painted,
    Plate,
    SpotRecipe,
)
from preflight.places import gather
from preflight.ticket import Job
from preflight.units import TOLERANCE_MM, Box

#: The parts of the artwork as a customer calls them.
CALLED = {
    "images": "pictures",
    "vectors": "drawings or texts",
    SOFT_MASKS: "shadows or soft edges",
    BLEND_SPACES: "see-through effects",
}


@dataclass(frozen=True)
class ColourLimits:
    """What counts as a mark, as another recipe, and as a mere suffix of an ink's name."""

    marks_from_percent: float
    recipe_differs_from_percent: float
    finish_suffixes: tuple[str, ...]


# --- what is painted, page by page -----------------------------------------------------------------------------------


def check_page(page: Page, document: DocumentFacts, job: Job, limits: ColourLimits) -> Iterator[Answer]:
    """Judges the colour spaces of what is visible on one page."""
    accepted = None if document.kind == "pdf" else job.press.intents
    seen = foreign_colours(page, intents_on(page.number, document), accepted)
    for (kind, what), things in seen.items():
        yield from _in_places(page, kind, what, things)
    if ("rgb", BLEND_SPACES) not in seen:
        yield from _page_blend_space(page)
    for thing in page.painted:
        if thing.is_visible and thing.colour is not None and REGISTRATION in thing.colour.inks:
            yield from _registration(page, thing)


def _in_places(page: Page, kind: str, what: str, things: list[tuple[Painted, Box]]) -> Iterator[Found]:
    spaces = sorted({thing.colour.space or thing.colour.family for thing, _ in things if thing.colour})
    places = gather((box, thing.object_key if thing.kind == "image" else "") for thing, box in things)
    for place in places:
        # Of a picture whose printed size is not known the area is not known either.
        area = place.area_mm2 if page.trim_mm is not None else None
        yield Found(
            kind,
            page.number,
            place.box_mm,
            measured=area,
            unit=None if area is None else "mm2",
            subject=what,
            worse="high",
            count=len(place.boxes),
            values={"area": _area_words(area), "spaces": ", ".join(spaces[:4]), "things": CALLED.get(what, what)},
            details={"what": what, "area_mm2": None if area is None else round(area, 1), "spaces": spaces[:20]},
        )


def _area_words(area_mm2: float | None) -> str:
    if area_mm2 is None:
        return "of a size nobody has told"
    return f"{area_mm2 / 100.0:.1f} cm2" if area_mm2 >= 100.0 else f"{area_mm2:.1f} mm2"


def _page_blend_space(page: Page) -> Iterator[Found]:
    """The page's own blend space matters where something on it is transparent."""
    if page.group_family in RGB and page.transparency:
        box = Box(0.0, 0.0, *page.trim_mm) if page.trim_mm else None
        area = box.area if box else 0.0
        yield Found(
            "rgb",
            page.number,
            box,
            measured=area or None,
            unit="mm2" if area else None,
            subject=BLEND_SPACES,
            worse="high",
            values={"area": "the whole page", "spaces": page.group_family, "things": CALLED[BLEND_SPACES]},
            details={"what": BLEND_SPACES, "area_mm2": round(area, 1), "spaces": [page.group_family]},
        )


def _registration(page: Page, thing: Painted) -> Iterator[Found]:
    visible = thing.visible_mm
    if page.trim_mm is None or visible is None or "soft-mask" in thing.inside:
        return
    if thing.colour is not None and thing.colour.values == (0.0,):
        return  # no tint of it, no ink
    trim = Box(0.0, 0.0, *page.trim_mm)
    for box in thing.parts_mm or (visible,):
        shown = box.intersect(visible)
        if shown.is_empty or shown.intersect(trim.grow(-TOLERANCE_MM)).is_empty:
            continue
        # One path round the page may be nothing but marks: the plates know.
        if thing.parts_mm or min(shown.width, shown.height) < 20.0 or _all_plates_marked(page, shown.intersect(trim)):
            yield Found("registration", page.number, shown.intersect(trim), source=thing.object_key)


def _all_plates_marked(page: Page, box: Box) -> bool:
    """Whether all process plates carry ink in one cell of a box; in doubt they do."""
    plates = page.plates
    grid = plates.cells if plates else None
    if plates is None or grid is None or not grid.data:
        return True
    import numpy as np

    ink = np.frombuffer(grid.data, dtype=np.uint8).reshape(grid.planes, grid.rows, grid.columns)
    process = [index for index, plate in enumerate(plates.plates) if is_process(plate.ink)]
    rows, columns = (
        slice(max(0, int((low - start) / grid.cell_mm)), max(0, int((high - start) / grid.cell_mm) + 1))
        for low, high, start in ((box.y0, box.y1, grid.origin_mm[1]), (box.x0, box.x1, grid.origin_mm[0]))
    )
    return bool((ink[process, rows, columns].min(axis=0) > 0).any())


# --- inks, intents and recipes of the whole file ---------------------------------------------------------------------


def check_file(inventory: Inventory, job: Job, limits: ColourLimits) -> Iterator[Answer]:
    """Judges the inks on the plates of all pages, the output intent, and how spot inks are named and built."""
    document = inventory.document
    if not inventory.pages:
        return
    if document.kind == "pdf":
        yield from _intent(inventory, job)
    marking = marking_plates(inventory.pages, limits.marks_from_percent)
    yield from _inks(marking, inventory, job, limits)
    for names in doubled_names(marking, limits.finish_suffixes):
        inks = sorted(names)
        pages = sorted({number for numbers in names.values() for number in numbers})
        details = {"inks": inks, "pages": pages}
        yield Found("spot-names-clash", pages[0], subject=", ".join(inks), count=len(inks), details=details)
    different = recipes_that_differ(document.spot_recipes, marking, limits.recipe_differs_from_percent)
    for ink, recipes in different.items():
        pages = sorted({number for recipe in recipes for number in recipe.pages})
        texts = [_recipe_words(recipe) for recipe in recipes]
        yield Found(
            "spot-recipes-differ",
            pages[0] if pages else None,
            subject=ink,
            count=len(recipes),
            values={"recipes": "; ".join(texts[:4])},
            details={"ink": ink, "pages": pages, "recipes": texts},
        )


def _intent(inventory: Inventory, job: Job) -> Iterator[Found]:
    """One answer for the file, and one for each other condition that pages bring themselves."""
    document, accepted = inventory.document, job.press.intents
    conditions: dict[tuple[OutputIntent, ...], list[int]] = {}
    for page in inventory.pages:
        press = tuple(for_press(intents_on(page.number, document)))
        conditions.setdefault(press, []).append(page.number)
    for press, numbers in conditions.items():
        # A fact of the whole file has no page; one of some pages only has theirs.
        pages = numbers if any(intent.pages for intent in press) or len(conditions) > 1 else []
        first, places = (pages[0], {"pages": pages}) if pages else (None, {})
        values = {"conditions": ", ".join(accepted) or "any"}
        if not press:
            values["found"] = "No output intent"
            yield Found("intent-missing", first, mild=True, values=values, details=places)
        elif accepted and not any(is_accepted(intent, accepted) for intent in press):
            found = " / ".join(dict.fromkeys(intent_name(intent) for intent in press))
            values["found"] = f"The output intent is {found}"
            details = {"found": found, "accepted": list(accepted), **places}
            yield Found("intent-missing", first, subject=found, values=values, details=details)


def _inks(marking: Marking, inventory: Inventory, job: Job, limits: ColourLimits) -> Iterator[Answer]:
    order = job.order
    unordered = unordered_inks(marking, order, limits.finish_suffixes)
    if order.inks is None:
        yield NotJudged("colour", "no inks ordered: neither missing inks nor inks too many are judged")
        if unordered:
            yield _spots_found(unordered)
        return
    for ink, places in unordered.items():
        first, plate = places[0]
        coverages = {str(page.number): round(each.coverage_percent, 2) for page, each in places}
        yield Found(
            "unexpected-ink",
            first.number,
            plate.box_mm,
            measured=max(each.coverage_percent for _, each in places),
            limit=0.0,
            unit="percent",
            subject=ink,
            worse="high",
            values={"what": f"The ink {ink} is not ordered"},
            details={"ink": ink, "pages": [page.number for page, _ in places], "coverage_percent": coverages},
        )
    if inventory.missing:
        return  # what a page not read may carry is not missing; the page itself is reported
    for ink, side in missing_inks(marking, order, limits.finish_suffixes):
        values = {"where": f"any {side} page" if side else "any page"}
        details = {"ink": ink, "side": side or None}
        yield Found("missing-ink", None, measured=0.0, unit="percent", subject=ink, values=values, details=details)


def _spots_found(found: dict[str, list[tuple[PageSummary, Plate]]]) -> Found:
    inks = sorted(found)
    pages = sorted({page.number for places in found.values() for page, _ in places})
    coverage = {ink: round(max(plate.coverage_percent for _, plate in found[ink]), 2) for ink in inks}
    return Found(
        "unexpected-ink",
        pages[0],
        mild=True,
        measured=max(coverage.values()),
        unit="percent",
        count=len(inks),
        subject=", ".join(inks),
        values={"what": f"Spot inks found: {', '.join(inks)}; the ticket names no inks"},
        details={"inks": inks, "pages": pages, "coverage_percent": coverage},
    )


def _recipe_words(recipe: SpotRecipe) -> str:
    return f"{recipe.alternate} {'/'.join(f'{value:g}' for value in recipe.full)}"


CHECK = Check(
    name="colour",
    limits=ColourLimits,
    needs=frozenset({"paint", "plates", "intents", "spots"}),
    on_page=check_page,
    on_file=check_file,
    mild_kinds=frozenset({"intent-missing", "unexpected-ink"}),
    kinds={
        "rgb": Kind(
            Stage.PLATES,
            "RGB in {subject} ({spaces}), {area}: separated by a conversion nobody has agreed on.",
            "Some {things} are in RGB, the colours of a screen. They will look different in print, often duller. Please convert them "
            "to CMYK with the colour profile we name, or tell us that we may convert them.",
        ),
        "lab": Kind(
            Stage.PLATES,
            "Device-independent colour in {subject} ({spaces}), {area}: separated by a conversion nobody has agreed on.",
            "Some {things} are in colours that say how they look, not which inks print them (such as Lab), and have to be converted "
            "before print. Please convert them to CMYK, gray or a spot ink, or tell us that we may convert them.",
        ),
        "other-cmyk": Kind(
            Stage.PLATES,
            "CMYK in {subject} with a profile that is not the output intent's ({spaces}), {area}: black text may turn into four inks.",
            "Some {things} were prepared for another kind of print: colours may shift, and black text may print in four colours. Please "
            "export the PDF again with the colour profile we name and the setting 'preserve CMYK numbers', or tell us that we "
            "may correct it.",
        ),
        "intent-missing": Kind(
            Stage.PLATES,
            "{found}; this stock prints to {conditions}.",
            "The file does not say which paper its colours were made for, or names another one than that of this job. Please export it "
            "with the colour profile we name, or tell us that its colours may be used as they are.",
        ),
        "unexpected-ink": Kind(
            Stage.PLATES,
            "{what}; at most {measured} % of the trim is covered.",
            "Your file uses colours that need printing plates of their own: {subject}. Please convert those that are not wanted to "
            "the ordered colours, or tell us that you want the extra ink.",
        ),
        "missing-ink": Kind(
            Stage.PLATES,
            "The ordered ink {subject} marks nothing on {where}.",
            "You have ordered the ink {subject}, but nothing in the file is printed with it. Please check whether a colour was "
            "converted by mistake, or tell us that the ink is not needed.",
        ),
        "spot-names-clash": Kind(
            Stage.PLATES,
            "One ink under several names: {subject}. Each name gives a plate.",
            "The same special ink has several names in your file: {subject}. Each name would become a printing plate of its own. Please "
            "give it one name everywhere.",
        ),
        "spot-recipes-differ": Kind(
            Stage.PLATES,
            "The spot ink {subject} is built in {count} ways: {recipes}.",
            "The special ink {subject} is defined in several ways in your file, so proofs and conversions differ from place to "
            "place. Please use one definition, best from the ink maker's own library.",
        ),
        "registration": Kind(
            Stage.PLATES,
            "The registration colour (All) inside the trim: it prints on every plate.",
            "Something on the page is set in the colour meant for register marks, which prints in all inks at once and will "
            "not dry. Please set it in plain black.",
        ),
    },
)
