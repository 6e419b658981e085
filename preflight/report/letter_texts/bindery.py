"""Letter texts: the cut, the fold, the binding, special finishes and bar codes."""

from __future__ import annotations

from preflight.report.letter_language import marked as _
from preflight.report.letter_texts.wording import AS_IS, NEW_FILE, SEND_OR_PRINT, WE_CHANGE, Wording

_ENLARGE = _(
    "We enlarge the page slightly until it reaches far enough, for a fee, and show you a proof before printing."
)
_CODE = _("Bar code: {names}.")
_WHITE_LINES = _("Where the page is cut to size, thin white lines may show along the edge.")

_NO_BLEED = Wording(
    (_("A picture or a coloured area reaches the edge of the page and ends there."),),
    _WHITE_LINES,
    (
        _('Please pull it out beyond the edge in the program you made the page with, and switch "bleed" on when you save the PDF.'),
        _("We need {wanted} beyond each edge that has colour."),
    ),
    (NEW_FILE, _ENLARGE, AS_IS),
)  # fmt: skip

TEXTS = {
    "bleed.missing": _NO_BLEED,
    "bleed.empty": _NO_BLEED,
    "bleed.missing-mild": Wording(
        (_("Colours go on beyond the edge of the page; only the file does not say so."),),
        _("Nothing changes: we use what is there."),
        (_('If you make a new version anyway, please switch "bleed" on when you save the PDF.'),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "bleed.short": Wording(
        (
            _("A picture or a coloured area goes on beyond the edge of the page, but not far enough."),
            _("It goes on for {measured}; {limit} are needed."),
        ),
        _WHITE_LINES,
        (_('Please pull it out a little further and save the PDF again, with "bleed" on.'),),
        (NEW_FILE, _ENLARGE, AS_IS),
    ),
    "bleed.short-mild": Wording(
        (_("Colours go on far enough beyond the edge of the page; only the file does not say so."),),
        _("Nothing changes: we use what is there."),
        (_('If you make a new version anyway, please switch "bleed" on when you save the PDF.'),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "margins.near-trim": Wording(
        (
            _("Text or something small stands very close to the edge of the page."),
            _("It is {measured} away; {limit} keep it clear of the cut."),
        ),
        _("On some copies it may be cut off."),
        (_("Please move it inwards, or let it run right over the edge if it is meant to be cut."),),
    ),
    "margins.gutter": Wording(
        (
            _("Some text stands very close to the spine of the book."),
            _("It is {measured} away; {limit} keep it readable."),
        ),
        _("It disappears into the fold of the glued book."),
        (_("Please move it away from the inner edge of the page."),),
    ),
    "margins.frame": Wording(
        (_("A thin frame runs around the page, close to its edge."), _("It is {measured} away from the edge.")),
        _("Cutting varies a little from copy to copy, so the frame looks wider on one side than on the other."),
        (_("Please leave the frame out, or move it further inwards."), _("{limit} or more look even.")),
    ),
    "marks.in-bleed": Wording(
        (_("Marks for cutting stand too close to the page, or on it."),),
        _("Bits of them may show at the edge of the finished piece."),
        (
            _("Please export the file again without marks, or with more distance between the marks and the page."),
            _("A distance of {limit} will do."),
        ),
    ),
    "binding.creep": Wording(
        (_("In a thick stitched booklet the inner sheets stick out and are cut shorter; some text there is close to that cut."),),
        _("On the inner pages the text comes too close to the outer edge."),
        (_("Please move the text on these pages a little towards the fold."),),
    ),
    "binding.creep-mild": Wording(
        (_("In a thick stitched booklet the inner sheets stick out and are cut shorter."),),
        _("Outer margins get a little narrower towards the middle; your text stays clear of the cut."),
        (_("Nothing needs to be done."),),
        SEND_OR_PRINT,
    ),
    "binding.spine-width": Wording(
        (
            _("The spine of the cover does not fit the thickness of the book."),
            _("In the file: {measured}; the book needs {limit}."),
        ),
        _("The title on the spine, front and back would sit off centre."),
        (_("Please change the cover to the spine that the book needs, and export it again."),),
    ),
    "fold.panels": Wording(
        (
            _("The parts of the folded sheet do not have the right widths."),
            _("The part that is folded in (number {panel}) is {measured} wide; it may have {limit}."),
        ),
        _("The sheet buckles, or the folds come out beside the picture."),
        (_("Please change the widths in your layout, or ask us for the right ones."),),
    ),
    "finishing.plate-missing": Wording(
        (
            _("A special finish is ordered, but the file does not show where it goes."),
            _("Concerned: {names}."),
        ),
        _("Without its shape in the file the finish cannot be made."),
        (_("Please draw the shape in a special colour of its own, with the name given in the order, and send the file again."),),
        (NEW_FILE, _("The finish is not wanted any more: we take it out of the order.")),
    ),
    "finishing.knocks-out": Wording(
        (_("The shape for a special finish cuts a hole into the picture under it."), _("Concerned: {names}.")),
        _("A white line or a white area shows in that place."),
        (_('Please set the colour of that shape to "overprint" and save the PDF again.'),),
    ),
    "finishing.tinted": Wording(
        (_("The shape for a special finish is not a clean drawing in one full colour."), _("Concerned: {names}.")),
        _("The tool for it cannot be made from this, or comes out ragged."),
        (_("Please draw it as a clean shape, 100% of its own colour and without pictures or shades."),),
        (NEW_FILE, WE_CHANGE),
    ),
    "finishing.unordered": Wording(
        (
            _("Something in the file looks like the shape for a special finish, and none is ordered."),
            _("Concerned: {names}."),
        ),
        _("It may be printed as a visible line or area."),
        (_("Please take it out of the file, or tell us if you would like to order the finish."),),
        (
            NEW_FILE,
            _("It is only a guide: we leave it out and show you a proof before printing."),
            _("You order the finish as well; we tell you the price first."),
        ),
    ),
    "barcode.too-small": Wording(
        (
            _("A bar code is smaller than it should be."),
            _("Its thinnest bar is {measured} wide; {limit} are needed."),
            _CODE,
        ),
        _("Tills and phones may not be able to read it."),
        (_("Please make it larger."),),
        SEND_OR_PRINT,
    ),
    "barcode.quiet-zone": Wording(
        (_("The empty space around a bar code is too narrow."), _CODE),
        _("Tills and phones may not find where it begins and ends."),
        (_("Please keep the ground around it light and free of text and pictures."),),
    ),
    "barcode.colour": Wording(
        (_("The colours of a bar code do not suit a scanner."), _CODE),
        _("The red light of a scanner may not see its bars."),
        (_("Please set it in plain black on a white ground."),),
    ),
    "barcode.unreadable": Wording(
        (_("A bar code cannot be read, or does not hold the number that was ordered."), _CODE),
        _("Tills and phones would read nothing, or another number."),
        (_("Please check the number and put the bar code in again."),),
        (NEW_FILE, _("The bar code is right: please print it as it is.")),
    ),
}  # fmt: skip
