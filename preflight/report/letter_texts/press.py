"""Letter texts: ink on paper. Dark areas, black, small type, light colours, edges where inks meet."""

from __future__ import annotations

from preflight.report.letter_language import marked as _
from preflight.report.letter_texts.wording import AS_IS, NEW_FILE, SEND_OR_PRINT, WE_CHANGE, Wording

TEXTS = {
    "total-ink.high": Wording(
        (
            _("The dark parts carry more ink than this paper can take."),
            _("All inks together reach {measured}; this paper takes {limit}."),
        ),
        _("The sheets do not dry in time, stick together and smear."),
        (
            _("Please mix dark grounds from less ink; for dark photos we tell you the export setting for this paper."),
        ),
    ),
    "total-ink.high-mild": Wording(
        (_("The dark parts may carry more ink than this paper can take, once their screen colours are turned into inks."),),
        _("The sheets would dry slowly and may smear."),
        (_("Please change the colours to CMYK with the export setting that we name for this paper."),),
    ),
    "total-ink.near": Wording(
        (_("The dark parts carry a lot of ink."), _("All inks together reach {measured}.")),
        _("They can be printed; with a lighter mix they dry sooner."),
        (_("If you make a new version anyway, a little less ink in the darkest parts does no harm."),),
        told_as_note=False,
    ),
    "black.many-inks": Wording(
        (_("Small black text or fine black lines are mixed from several colours."),),
        _("If one colour shifts by a hair, they get coloured edges and are hard to read."),
        (_("Please set them in plain black: black 100%, all other colours 0%."),),
    ),
    "black.knocks-out": Wording(
        (_("Small black text or fine black lines cut a hole into the colour under them."),),
        _("If one colour shifts by a hair, white edges show around them."),
        (_('Please set plain black text and lines to "overprint" in your layout program.'),),
    ),
    "black.thin-solid": Wording(
        (_("A large black area is printed with black ink alone."),),
        _("It may look dark grey rather than deep black."),
        (_("If you would like a deeper black, please add some blue to it (cyan 40%) or tell us."),),
        (NEW_FILE, _("We deepen the black for you and show you a proof before printing."), AS_IS),
    ),
    "type.small": Wording(
        (_("Some text is very small."), _("Its size is {measured}; from {limit} up it prints well.")),
        _("It may fill with ink or break up, and is hard to read."),
        (_("Please make it larger."),),
        SEND_OR_PRINT,
    ),
    "type.small-many-inks": Wording(
        (
            _("Some small text is mixed from several colours."),
            _("Its size is {measured}; mixed like this it prints well from {limit} up."),
        ),
        _("If one colour shifts by a hair, it looks blurred."),
        (_("Please set it in plain black or in one single colour, or make it larger."),),
    ),
    "type.small-reversed": Wording(
        (
            _("Some small text is white on a coloured ground."),
            _("Its size is {measured}; on this ground it prints well from {limit} up."),
        ),
        _("The ink around it may run in and close it up."),
        (_("Please make it larger or bolder, or put it in a dark colour on a light ground."),),
    ),
    "type.legal-minimum": Wording(
        (
            _("Some text on this food label is smaller than what rules on food labels may ask for."),
            _("Its small letters are {measured} high; {limit} may be asked for."),
        ),
        _("It prints, but your local food authority may not accept the label."),
        (
            _("Please make required information larger."),
            _("What applies to your product is for your local food authority to say, not for us."),
        ),
        (
            NEW_FILE,
            _("You have asked your local food authority, or the text is not required: please print it as it is."),
        ),
    ),
    "line.thin-many-inks": Wording(
        (_("Some thin lines are in a mixed or light colour, or white on a colour."),),
        _("They may get coloured edges, break up or fill in."),
        (_("Please make them 0.5 pt or thicker, or give them one full colour, such as plain black."),),
    ),
    "tint.too-light": Wording(
        (_("A very light colour is used on the page."), _("Its strength is {measured}; from {limit} up it shows.")),
        _("It may not show at all, or only in parts."),
        (_("Please make it a little stronger, or leave it out."),),
    ),
    "trap.gap": Wording(
        (_("Two colours meet edge to edge, with nothing in common."),),
        _("If one shifts by a hair, a fine white line shows between them."),
        (_("Nothing needs to be done; a thin black or dark outline would hide it."),),
        (NEW_FILE, WE_CHANGE, AS_IS),
    ),
}  # fmt: skip
