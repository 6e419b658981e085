"""What the letter says to a customer who has never seen a print shop, for each kind of finding, in order of damage.

A kind that stands higher spoils more of the job. The milder case of a kind has words of its own under ``<id>-mild`` where the
others would say too much; some cases of a kind have theirs by ``CASES``.
"""

from __future__ import annotations

from preflight.report.letter_language import marked as _
from preflight.report.letter_texts import arriving, bindery, plates, press
from preflight.report.letter_texts.wording import NAME, NAMES, NEW_FILE, PLACEHOLDERS, Wording

__all__ = [
    "CASES",
    "DAMAGE",
    "NAME",
    "NAMES",
    "NEW_FILE",
    "PLACEHOLDERS",
    "SUBJECTS",
    "TEXTS",
    "TOLD_BY",
    "Wording",
    "damage_of",
    "wording_of",
]

TEXTS: dict[str, Wording] = {**arriving.TEXTS, **plates.TEXTS, **press.TEXTS, **bindery.TEXTS}
#: By kind and what a finding's ``details.case`` says.
CASES: dict[tuple[str, str], Wording] = plates.CASES

#: Worst first: nothing can be printed; all of it would be printed for nothing; parts are missing; it shows; it may show.
DAMAGE = (
    "file.unreadable", "file.locked", "file.preseparated",
    "pages.wrong-count", "trim.wrong-size", "pages.binding-multiple", "trim.spread", "binding.spine-width", "fold.panels",
    "finishing.plate-missing", "finishing.knocks-out", "overprint.vanishes", "font.not-embedded", "font.faulty",
    "colour.unexpected-ink", "colour.missing-ink", "colour.registration", "total-ink.high", "bleed.missing", "bleed.empty",
    "resolution.low", "resolution.line-art-low", "line.hairline", "barcode.unreadable", "pages.blank", "trim.undefined",
    "trim.mixed-sizes", "trim.turned", "trim.boxes-crossed", "file.repaired", "layers.print-differs", "file.annotation",
    "file.foreign-print-settings", "file.restricted", "standard.claim-broken", "overprint.changes", "transparency.live",
    "transparency.blend-space", "colour.rgb", "colour.other-cmyk", "colour.lab", "colour.intent-missing",
    "colour.spot-names-clash", "colour.spot-recipes-differ", "image.unknown-size", "image.extra-channels", "image.screened",
    "image.upsampled", "resolution.soft", "image.compressed", "image.soft-line-art", "resolution.line-art-soft",
    "image.crooked", "bleed.short", "margins.near-trim", "margins.gutter", "binding.creep", "marks.in-bleed", "margins.frame",
    "finishing.tinted", "finishing.unordered", "barcode.too-small", "barcode.quiet-zone", "barcode.colour",
    "type.legal-minimum", "type.small-reversed", "type.small-many-inks", "black.many-inks", "type.small", "line.thin",
    "line.thin-many-inks", "black.knocks-out", "font.type3-bitmap", "tint.too-light", "black.thin-solid", "trap.gap",
    "total-ink.near", "image.paper-tint", "file.attachment", "file.active-content", "resolution.excessive", "trim.scaled",
)  # fmt: skip
_RANKS = {identifier: rank for rank, identifier in enumerate(DAMAGE)}

#: Kinds that say nothing new to a customer where one of the others is told of the same place.
TOLD_BY = {
    "pages.binding-multiple": ("pages.wrong-count",),
    "pages.blank": ("file.unreadable",),
    "file.repaired": ("file.unreadable",),
    "type.small-many-inks": ("black.many-inks",),
    "total-ink.near": ("total-ink.high",),
}

#: What each check looks at, as a customer calls it: for what is settled, and for what still has to be looked at.
SUBJECTS = {
    "all": _("the page as a whole"),
    "barcode": _("the bar codes"),
    "binding": _("the margins and the spine in the bound piece"),
    "black": _("black text and black areas"),
    "bleed": _("pictures and colours at the edge of the page"),
    "colour": _("the colours and inks"),
    "file": _("the file as a whole"),
    "finishing": _("the special finishes"),
    "fold": _("the folds"),
    "font": _("the typefaces"),
    "image": _("the quality of the pictures"),
    "layers": _("the layers"),
    "line": _("thin lines"),
    "margins": _("text close to the edge of the page"),
    "marks": _("the marks for cutting"),
    "overprint": _("colours printed on top of one another"),
    "pages": _("the number of pages and empty pages"),
    "resolution": _("the sharpness of the pictures"),
    "standard": _("the settings the file was saved with"),
    "tint": _("very light colours"),
    "total-ink": _("the amount of ink"),
    "transparency": _("see-through effects"),
    "trap": _("edges where two colours meet"),
    "trim": _("the size of the pages"),
    "type": _("small text"),
}


def wording_of(identifier: str, *, mild: bool = False, case: object = None) -> Wording | None:
    """The words for a kind of finding, those of its case or of its milder case where it has some; None for a kind without any."""
    own = CASES.get((identifier, case)) if isinstance(case, str) else None
    return own or (TEXTS.get(f"{identifier}-mild") if mild else None) or TEXTS.get(identifier)


def damage_of(identifier: str) -> int:
    """The rank of a kind by the damage it does, 0 the worst; unknown kinds come last."""
    return _RANKS.get(identifier, len(DAMAGE))
