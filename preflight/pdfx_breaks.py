"""How each requirement of PDF/X on the file and its pages is seen to be broken, from the facts alone.

Every function takes the claimed file and gives what in it breaks one requirement, each with its page and place where it has one.
Boxes are compared with the tolerance of lengths (0.05 mm); nothing else is measured.
"""

from __future__ import annotations

from collections.abc import Iterator

from preflight.inventory.model import ClaimSight, PageBoxes
from preflight.pdfx_claimed import Break, Claimed, is_registered, named, seen
from preflight.pdfx_parts import says_the_same
from preflight.units import TOLERANCE_MM, Box, pt_from_mm


def identification(file: Claimed) -> Iterator[Break]:
    claim, part = file.claim, file.part
    if part.said_in == "info":
        said = claim.info_version
        if said != part.version:
            yield Break(f"the document information says {said or 'nothing'}, not {part.version}")
        if part.conformance is not None and claim.info_conformance != part.conformance:
            yield Break(f"the conformance says {claim.info_conformance or 'nothing'}, not {part.conformance}")
    elif "pdfxid" not in claim.xmp_version_in or claim.xmp_version != part.version:
        where = (
            f"{claim.xmp_version}"
            if "pdfxid" in claim.xmp_version_in
            else "nothing under the name that this part gives it"
        )
        yield Break(f"the metadata say {where}, not {part.version}")
    if claim.info_version and claim.xmp_version and not says_the_same(claim.info_version, claim.xmp_version):
        yield Break(f"the document information says {claim.info_version}, the metadata {claim.xmp_version}")


def pdf_version(file: Claimed) -> Iterator[Break]:
    """Only the generation: what a later version brings is forbidden by name, and a header alone breaks nothing."""
    version = file.claim.header_version or ""
    if version and version.startswith("2.") != (file.part.kind == "6"):
        yield Break(f"PDF {version}")


def encryption(file: Claimed) -> Iterator[Break]:
    if file.document.encrypted:
        yield Break("the file is encrypted")


def actions(file: Claimed) -> Iterator[Break]:
    if file.part.kind == "6":
        found = [(item.what, item.where, item.page) for item in file.document.active]
    else:
        found = [(sight.name, sight.thing, sight.page) for sight in file.sights("action")]
    yield from (Break(f"{what} {where}".strip(), page) for what, where, page in found if what != "XFA form")


def notes_in_bleed(file: Claimed) -> Iterator[Break]:
    for sight in _annotations(file):
        if sight.name != "Widget":
            yield seen(f"an annotation ({sight.name})", sight)


def form_fields(file: Claimed) -> Iterator[Break]:
    for sight in _annotations(file):
        if sight.name == "Widget":
            yield seen("a form field", sight)
    yield from (Break("an XFA form") for item in file.document.active if item.what == "XFA form")


def _annotations(file: Claimed) -> Iterator[ClaimSight]:
    return file.sights("printing-annotation" if file.part.kind == "6" else "annotation")


def layers(file: Claimed) -> Iterator[Break]:
    yield from (Break(f"the layer {layer.name}", None, None, layer.object_number) for layer in file.document.layers)


def attachments(file: Claimed) -> Iterator[Break]:
    yield from (Break(f"the file {name}") for name in file.document.attachments)


def transparency(file: Claimed) -> Iterator[Break]:
    yield from (seen(named(sight), sight) for sight in file.sights("transparency"))


def transfer_curves(file: Claimed) -> Iterator[Break]:
    yield from (seen(named(sight), sight) for sight in file.sights("transfer-curve"))


def halftones(file: Claimed) -> Iterator[Break]:
    for sight in file.sights("halftone"):
        if sight.name not in ("1", "5"):
            yield seen(f"type {sight.name} ({sight.thing})", sight)


def postscript(file: Claimed) -> Iterator[Break]:
    yield from _settings(file, "PostScript object")
    yield from (seen(f"the PostScript operator ({sight.thing})", sight) for sight in file.sights("postscript"))


def opi(file: Claimed) -> Iterator[Break]:
    return _settings(file, "OPI proxy")


def external_content(file: Claimed) -> Iterator[Break]:
    return _settings(file, "content in another file")


def _settings(file: Claimed, what: str) -> Iterator[Break]:
    for setting in file.document.foreign_settings:
        if setting.what == what:
            yield Break(f"{what} {setting.detail}".strip(), setting.page)


def compression(file: Claimed) -> Iterator[Break]:
    forbidden = (
        {"LZWDecode", "Crypt"} if file.part.kind in ("4", "6") else {"LZWDecode", "Crypt", "JPXDecode", "JBIG2Decode"}
    )
    yield from (seen(named(sight), sight) for sight in file.sights("filter") if sight.name in forbidden)


def object_streams(file: Claimed) -> Iterator[Break]:
    if file.claim.has_object_streams:
        yield Break("objects or the cross-reference are packed into streams")


def preseparated(file: Claimed) -> Iterator[Break]:
    yield from (Break("a single plate of a page", page) for page in file.document.preseparated_pages)


def trapped(file: Claimed) -> Iterator[Break]:
    said = file.claim.trapped if file.part.kind != "6" else file.claim.xmp_trapped
    if file.part.said_in == "info" and "Trapped" not in file.claim.in_info:
        said = None
    if said not in ("True", "False"):
        yield Break(f"the file says {said or 'nothing'}")


def title(file: Claimed) -> Iterator[Break]:
    return _stated(file, ("Title",))


def dates(file: Claimed) -> Iterator[Break]:
    return _stated(file, ("CreationDate", "ModDate"))


def _stated(file: Claimed, keys: tuple[str, ...]) -> Iterator[Break]:
    there, where = (
        (file.claim.in_info, "the document information")
        if file.part.said_in == "info"
        else (file.claim.in_xmp, "the metadata")
    )
    yield from (Break(f"no {key} in {where}") for key in keys if key not in there)


def file_identifier(file: Claimed) -> Iterator[Break]:
    if file.claim.has_file_id is False:
        yield Break("no file identifier")


def metadata_agree(file: Claimed) -> Iterator[Break]:
    yield from (Break(f"{key} differs") for key in file.claim.xmp_differs)


def output_intent(file: Claimed) -> Iterator[Break]:
    count = len(file.intents)
    if count > 1:
        yield Break(f"{count} output intents for PDF/X")
    elif not count:
        own = {sight.page for sight in file.sights("page-intent")}
        if file.part.kind != "6" or not own.issuperset(range(1, (file.document.pages or 0) + 1)):
            yield Break("no output intent for PDF/X")


def printing_condition(file: Claimed) -> Iterator[Break]:
    for intent in file.intents:
        name = intent.identifier
        embedded = intent.profile_bytes is not None
        if not (name or "").strip():
            yield Break("the output intent names no condition")
        elif file.part.kind in ("4", "6"):
            if not embedded and not (file.part.profile_outside and intent.profile_outside):
                yield Break(f"the output intent {name} holds no profile")
        elif not embedded and not is_registered(intent):
            yield Break(f"{name} is no registered condition, and no profile describes it")


def page_boxes(file: Claimed) -> Iterator[Break]:
    for page in file.inventory.pages:
        if page.boxes is None:
            continue
        if page.boxes.trim is None and page.boxes.art is None:
            yield Break("neither trim box nor art box", page.number)
        elif page.boxes.trim is not None and page.boxes.art is not None:
            yield Break("trim box and art box", page.number)


def box_nesting(file: Claimed) -> Iterator[Break]:
    for page in file.inventory.pages:
        if page.boxes is not None:
            yield from (Break(words, page.number) for words in _not_nested(page.boxes))


def _not_nested(boxes: PageBoxes) -> Iterator[str]:
    slack = pt_from_mm(TOLERANCE_MM) / boxes.user_unit
    inner = [(name, box) for name, box in (("trim box", boxes.trim), ("art box", boxes.art)) if box is not None]
    outer: list[tuple[str, Box]] = [("media box", boxes.media)]
    if boxes.bleed is not None:
        if not boxes.media.contains(boxes.bleed, slack):
            yield "the bleed box reaches outside the media box"
        outer.append(("bleed box", boxes.bleed))
    for name, box in inner:
        yield from (
            f"the {name} reaches outside the {around}" for around, frame in outer if not frame.contains(box, slack)
        )
    if boxes.crop is not None:
        shown = [("bleed box", boxes.bleed)] if boxes.bleed is not None else inner
        yield from (
            f"the crop box is smaller than the {name}" for name, box in shown if not boxes.crop.contains(box, slack)
        )


def fonts(file: Claimed) -> Iterator[Break]:
    yield from (seen(f"{sight.name} ({sight.thing})", sight) for sight in file.sights("font-missing"))


def sixteen_bits(file: Claimed) -> Iterator[Break]:
    yield from (seen(sight.thing, sight) for sight in file.sights("sixteen-bit"))
