"""What each part of PDF/X asks of a file, one requirement a row.

A row says which parts ask for it, the clause by its subject, what is asked, what is looked at, the facts it needs, and how a break is
seen. The text of ISO 15930 is sold, not public: what is asked is the trade's common knowledge, from memory, so clauses are named by their
subject within the technical requirements (clause 6) and not by number. Keys are those of ISO 32000-2. ``NOT_EXAMINED`` lists what
the parts ask for beyond these rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from preflight import pdfx_breaks as breaks
from preflight import pdfx_colours as colours
from preflight.pdfx_claimed import Break, Claimed
from preflight.pdfx_parts import Part

ALL = ("1a", "3", "4", "6")
#: The parts on PDF 1.3 and 1.4, before transparency and layers.
EARLY = ("1a", "3")
BEFORE_6 = ("1a", "3", "4")
LATE = ("4", "6")

#: What the parts ask for and nobody looks at here. The check's own words and ``preflight explain standard`` repeat it.
NOT_EXAMINED = (
    "rules for the default configuration of layers",
    "rendering intents",
    "alternate images",
    "viewer preferences",
    "the finer rules of fonts (widths, encodings, subsets)",
    "the number of colorants and the attributes of DeviceN",
    "one recipe for one spot colour (told by `colour.spot-recipes-differ`)",
    "black generation and undercolour removal",
    "document, version and rendition identifiers in the metadata",
    "the reference to a profile outside the file",
    "CMYK given through the very profile of the printing condition",
    "actions of bookmarks and links that only go to a place",
)


@dataclass(frozen=True)
class Requirement:
    """One requirement: who asks for it, where, what, and what breaks it."""

    key: str
    #: Kinds of parts: ``1a``, ``3``, ``4``, ``6``.
    parts: tuple[str, ...]
    clause: str
    asks: str
    looked_at: str
    broken_by: Callable[[Claimed], Iterator[Break]]
    #: Facts without which it cannot be answered (``claim`` and the pages' own go without saying).
    needs: tuple[str, ...] = ()

    def is_asked_by(self, part: Part) -> bool:
        return part.kind in self.parts

    def clause_of(self, part: Part) -> str:
        """The clause in words: the standard, and the subject of the clause."""
        return f"{part.standard}, clause 6 ({self.clause})"


REQUIREMENTS = (
    Requirement(
        "identification",
        EARLY,
        "identification of the file",
        "the document information states the version in the form of the part",
        "GTS_PDFXVersion, GTS_PDFXConformance",
        breaks.identification,
    ),
    Requirement(
        "identification",
        LATE,
        "identification of the file",
        "the metadata state the version in the form of the part",
        "pdfxid:GTS_PDFXVersion",
        breaks.identification,
        ("xmp",),
    ),
    Requirement(
        "pdf-version", BEFORE_6, "PDF version", "the file is PDF 1.x", "header and catalog", breaks.pdf_version
    ),
    Requirement("pdf-version", ("6",), "PDF version", "the file is PDF 2.0", "header and catalog", breaks.pdf_version),
    Requirement(
        "encryption", ALL, "encryption", "the file is not encrypted", "Encrypt in the trailer", breaks.encryption
    ),
    Requirement(
        "actions",
        BEFORE_6,
        "actions and JavaScript",
        "there are no scripts and no actions",
        "OpenAction, AA, A, Names",
        breaks.actions,
    ),
    Requirement(
        "actions",
        ("6",),
        "actions and JavaScript",
        "nothing acts by itself, and there are no scripts",
        "OpenAction, AA, A, Names",
        breaks.actions,
        ("actions",),
    ),
    Requirement(
        "annotations",
        BEFORE_6,
        "annotations",
        "annotations, links included, lie outside the bleed area",
        "Annots of each page, PrinterMark and TrapNet apart",
        breaks.notes_in_bleed,
    ),
    Requirement(
        "annotations",
        ("6",),
        "annotations",
        "annotations that print lie outside the bleed area",
        "Annots of each page, PrinterMark and TrapNet apart",
        breaks.notes_in_bleed,
    ),
    Requirement(
        "form-fields",
        BEFORE_6,
        "annotations",
        "form fields lie outside the bleed area, and no form is XFA",
        "Widget annotations, XFA",
        breaks.form_fields,
        ("actions",),
    ),
    Requirement(
        "form-fields",
        ("6",),
        "annotations",
        "form fields that print lie outside the bleed area, and no form is XFA",
        "Widget annotations, XFA",
        breaks.form_fields,
        ("actions",),
    ),
    Requirement("layers", EARLY, "optional content", "there are no layers", "OCProperties", breaks.layers, ("layers",)),
    Requirement(
        "attachments",
        EARLY,
        "embedded files",
        "no files are embedded",
        "EmbeddedFiles, file attachments",
        breaks.attachments,
        ("document",),
    ),
    Requirement(
        "transparency",
        EARLY,
        "transparency",
        "nothing is transparent",
        "SMask, BM, CA, ca, transparency groups",
        breaks.transparency,
    ),
    Requirement(
        "blend-space",
        LATE,
        "transparency",
        "a blend space by the numbers of a device is that of the printing condition, and one in which colours can be mixed",
        "CS of transparency groups",
        colours.blend_space,
        ("intents",),
    ),
    Requirement(
        "transfer-curves",
        ALL,
        "graphics state",
        "TR is absent or Identity, TR2 Default",
        "graphics states in use",
        breaks.transfer_curves,
    ),
    Requirement(
        "halftones", ALL, "halftones", "halftones are of type 1 or 5", "HT of graphics states in use", breaks.halftones
    ),
    Requirement(
        "postscript",
        ALL,
        "PostScript",
        "there is no PostScript",
        "XObjects in use, the PS operator",
        breaks.postscript,
        ("document",),
    ),
    Requirement(
        "opi", ALL, "OPI", "no stand-in waits for a finer picture", "OPI of XObjects in use", breaks.opi, ("document",)
    ),
    Requirement(
        "external-content",
        ALL,
        "completeness",
        "all content is in the file",
        "F of streams, Ref of forms",
        breaks.external_content,
        ("document",),
    ),
    Requirement(
        "compression",
        EARLY,
        "compression",
        "nothing is packed by LZW, JPX (JPEG 2000), JBIG2 or Crypt",
        "filters of all streams and inline pictures",
        breaks.compression,
        ("filters",),
    ),
    Requirement(
        "compression",
        LATE,
        "compression",
        "nothing is packed by LZW or Crypt",
        "filters of all streams and inline pictures",
        breaks.compression,
        ("filters",),
    ),
    Requirement(
        "object-streams",
        EARLY,
        "file structure",
        "objects and cross-reference stand plainly in the file",
        "object and cross-reference streams",
        breaks.object_streams,
    ),
    Requirement(
        "preseparated",
        ALL,
        "preseparated pages",
        "a page is a whole page, not one of its plates",
        "SeparationInfo",
        breaks.preseparated,
        ("document",),
    ),
    Requirement("trapped", EARLY, "trapping", "Trapped says True or False", "document information", breaks.trapped),
    Requirement(
        "trapped",
        LATE,
        "trapping",
        "Trapped says True or False",
        "document information, metadata",
        breaks.trapped,
        ("xmp",),
    ),
    Requirement("title", EARLY, "document information", "the file has a title", "document information", breaks.title),
    Requirement("title", LATE, "metadata", "the file has a title", "metadata", breaks.title, ("xmp",)),
    Requirement(
        "dates",
        EARLY,
        "document information",
        "the dates of making and of the last change are stated",
        "document information",
        breaks.dates,
    ),
    Requirement(
        "dates",
        LATE,
        "metadata",
        "the dates of making and of the last change are stated",
        "metadata",
        breaks.dates,
        ("xmp",),
    ),
    Requirement(
        "file-identifier",
        ALL,
        "file identifier",
        "the file has an identifier",
        "ID in the trailer",
        breaks.file_identifier,
    ),
    Requirement(
        "metadata-agree",
        ("4",),
        "metadata",
        "document information and metadata say the same",
        "title, dates, programs",
        breaks.metadata_agree,
        ("xmp",),
    ),
    Requirement(
        "output-intent",
        BEFORE_6,
        "output intents",
        "there is exactly one output intent for PDF/X",
        "OutputIntents with GTS_PDFX",
        breaks.output_intent,
        ("intents",),
    ),
    Requirement(
        "output-intent",
        ("6",),
        "output intents",
        "there is one output intent for PDF/X for the file, or one on each page",
        "OutputIntents with GTS_PDFX",
        breaks.output_intent,
        ("intents",),
    ),
    Requirement(
        "printing-condition",
        EARLY,
        "output intents",
        "the printing condition is named, and either registered or described by a profile",
        "OutputConditionIdentifier, RegistryName, DestOutputProfile",
        breaks.printing_condition,
        ("intents",),
    ),
    Requirement(
        "printing-condition",
        LATE,
        "output intents",
        "the printing condition is named and described by a profile",
        "OutputConditionIdentifier, DestOutputProfile, DestOutputProfileRef",
        breaks.printing_condition,
        ("intents",),
    ),
    Requirement(
        "intent-profile",
        ALL,
        "output intents",
        "the profile of the printing condition is that of an output device, in its colours and of an ICC version that the part knows",
        "DestOutputProfile: class, space, version, N",
        colours.intent_profile,
        ("intents",),
    ),
    Requirement(
        "page-boxes",
        ALL,
        "page boxes",
        "each page has a trim box or an art box, not both",
        "boxes of each page",
        breaks.page_boxes,
    ),
    Requirement(
        "box-nesting",
        ALL,
        "page boxes",
        "the trim (or art) box lies inside the bleed box, this inside the media box, and the crop box cuts none of it off",
        "boxes of each page",
        breaks.box_nesting,
    ),
    Requirement("fonts", ALL, "fonts", "all fonts that print are embedded", "fonts of what is painted", breaks.fonts),
    Requirement(
        "ink-colours",
        ("1a",),
        "colour",
        "colours are gray, CMYK or spot colours, their alternates too",
        "everything painted, alternates",
        colours.inks_only,
    ),
    Requirement(
        "device-colours",
        ("3", "4", "6"),
        "colour",
        "colours by the numbers of a device are those of the printing condition",
        "everything painted, alternates, DefaultGray, DefaultRGB, DefaultCMYK",
        colours.device_colours,
        ("intents",),
    ),
    Requirement(
        "colour-profiles",
        ("3", "4", "6"),
        "ICC-based colour",
        "profiles of colours describe a device or a space, fit the number of components, and are of an ICC version that the part knows",
        "profiles of colour spaces in use",
        colours.embedded_profiles,
    ),
    Requirement(
        "sixteen-bits",
        EARLY,
        "pictures",
        "pictures have at most 8 bits a channel",
        "BitsPerComponent of pictures in use",
        breaks.sixteen_bits,
    ),
)


def requirements_of(part: Part) -> list[Requirement]:
    """What one part asks for, in the order of the table."""
    return [requirement for requirement in REQUIREMENTS if requirement.is_asked_by(part)]
