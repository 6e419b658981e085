"""Letter texts: the file itself, its pages and sizes, its layers, and what it says it is."""

from __future__ import annotations

from preflight.report.letter_language import marked as _
from preflight.report.letter_texts.wording import AS_IS, NAME, NEW_FILE, SEND_OR_PRINT, Wording

_ORDER_CHANGES = _("The order changes to the pages of this file; we tell you the price first.")
_TO_SIZE = _("We fit the pages to the ordered size for a fee and show you a proof before printing.")
_AS_MEANT = _("It is meant to be like this: please print it as it is.")

TEXTS = {
    "file.unreadable": Wording(
        (_("Something in the file is missing or damaged, or it is of a kind we cannot print from."),),
        _("What cannot be read cannot be printed; pictures, text or whole pages would be missing."),
        (_("Please export the file again as a PDF for print, look through it on your screen, and send it once more."),),
        (NEW_FILE,),
    ),
    "file.locked": Wording(
        (_("The file is locked with a password."),),
        _("We cannot open it, so nobody here has seen its pages yet."),
        (_("Please save it without a password and send it again."),),
        (NEW_FILE,),
    ),
    "file.preseparated": Wording(
        (_("Each page of the file holds one printing colour only."),),
        _("The pages would come out one colour at a time instead of in full colour."),
        (_("Please export the file in full colour, with one page in the file for each page of the job."),),
        (NEW_FILE,),
    ),
    "file.repaired": Wording(
        (_("The file is damaged; we could read it only after a repair."),),
        _("Something may look different from what you see on your screen, or may be missing."),
        (_("Please export it again as a PDF for print and send it once more."),),
        (NEW_FILE, _("We go on with this file; you look at our proof with care before we print.")),
    ),
    "file.repaired-mild": Wording(
        (_("The file has a small flaw that we could mend while reading it."),),
        _("Nothing changes on the page."),
        (_("If you make a new version anyway, please export it anew instead of changing the finished PDF."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "file.restricted": Wording(
        (_("The file is protected: it says that it may not be printed, or not in full quality."),),
        _("Some machines keep to that and print it roughly or not at all."),
        (_("Please save it without protection and send it again."),),
        (NEW_FILE, _("We may print it all the same: you allow it in writing.")),
    ),
    "file.active-content": Wording(
        (_("The file contains a small program or an automatic action."),),
        _("It does not print."),
        (_("If you make a new version anyway, please export it as a PDF for print, without such actions."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "file.attachment": Wording(
        (_("Another file is attached inside this one."),),
        _("It is not printed."),
        (_("If it belongs to the job, please send it by itself."),),
        (
            _("The attached file belongs to the job: you send it by itself."),
            _("It does not belong to the job: we leave it aside."),
        ),
    ),
    "file.annotation": Wording(
        (_("A note, a stamp or a form field lies on the page."),),
        _("It would be printed along with the page."),
        (_("Please remove it and send the file again."),),
        (NEW_FILE, _("We leave it out and show you a proof before printing."), _AS_MEANT),
    ),
    "file.foreign-print-settings": Wording(
        (_("The file brings along settings for another printing machine."),),
        _("Colours may come out lighter, darker or coarser than you expect."),
        (_("Please export it again as a PDF for print, without such settings."),),
    ),
    "file.foreign-print-settings-mild": Wording(
        (_("The file brings along old settings for turning screen colours into printing colours."),),
        _("They hardly show in print."),
        (_("If you make a new version anyway, please export it as a PDF for print."),),
        told_as_note=False,
    ),
    "layers.print-differs": Wording(
        (_("A layer of the file looks different on the screen than in print."), NAME),
        _("Something would be printed that you do not see on your screen, or the other way round."),
        (_("Please send a file that shows just what is to be printed."),),
        (
            NEW_FILE,
            _("This layer belongs in print."),
            _("This layer does not belong in print."),
        ),
    ),
    "pages.wrong-count": Wording(
        (
            _("The number of pages in the file is not the number ordered."),
            _("In the file: {supplied}; ordered: {wished}."),
        ),
        _("Pages would be missing or left over, and the pages after them would move."),
        (
            _(
                "Please send all pages in one file, in the order in which they are read, or tell us if the order should change."
            ),
        ),
        (NEW_FILE, _ORDER_CHANGES),
    ),
    "pages.binding-multiple": Wording(
        (
            _("The number of pages does not suit the binding."),
            _("In the file: {supplied}; this binding takes pages by {multiple}, so {above} would do."),
        ),
        _("The sheets could not be bound, or empty pages would turn up at the end."),
        (
            _("Please add the missing pages, and tell us where empty pages may stand."),
            _("Missing: {blanks}."),
        ),
        (
            NEW_FILE,
            _("We put empty pages at the end."),
            _("You leave pages out and send a new file."),
        ),
    ),
    "pages.blank": Wording(
        (_("A page is empty."),),
        _("It would stay white."),
        (_("Please send the page with its content, or tell us that it is meant to be empty."),),
        (NEW_FILE, _("The page is meant to be empty.")),
    ),
    "trim.wrong-size": Wording(
        (
            _("The pages do not have the ordered size."),
            _("In the file: {size}; ordered: {ordered}."),
        ),
        _("Fitted to the ordered size, they would get white edges, or something would be cut off."),
        (
            _("Please set up the document in the ordered size and export it again, or tell us if the order should change."),
        ),
        (NEW_FILE, _TO_SIZE, _("The order changes to the size of this file; we tell you the price first.")),
    ),
    "trim.mixed-sizes": Wording(
        (
            _("The pages of the file are not all of one size."),
            _("Most measure {usual}, some {size}."),
        ),
        _("Some pages would get white edges, or something would be cut off."),
        (_("Please send all pages in one size."),),
        (NEW_FILE, _TO_SIZE, _AS_MEANT),
    ),
    "trim.turned": Wording(
        (_("Some pages lie on their side."),),
        _("They would stand at a right angle to the other pages."),
        (_("Please turn them and export the file again."),),
        (NEW_FILE, _("We turn them and show you a proof before printing."), _AS_MEANT),
    ),
    "trim.undefined": Wording(
        (_("The file does not say where the page is cut."), _("We would take {size} as the finished size.")),
        _("The cut may come out in another place than you expect."),
        (
            _(
                "Please export it as a PDF for print, with bleed: most programs then write the finished size into the file."
            ),
        ),
        (NEW_FILE, _("The size we would take is right: please go on with it.")),
    ),
    "trim.undefined-mild": Wording(
        (_("The file does not say where the page is cut; it fits the ordered size, so we cut it to that."),),
        _("Nothing changes."),
        (_("If you make a new version anyway, please export it as a PDF for print, with bleed."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "trim.boxes-crossed": Wording(
        (_("The file says two different things about the size of its pages."),),
        _("The cut may come out in another place than you expect."),
        (_("Please export it again as a PDF for print, and do not crop the finished PDF afterwards."),),
        (NEW_FILE, _("We cut it to the ordered size and show you a proof before printing.")),
    ),
    "trim.boxes-crossed-mild": Wording(
        (_("The file says two slightly different things about the size of its pages."),),
        _("Nothing changes on the page."),
        (_("If you make a new version anyway, please do not crop the finished PDF."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "trim.scaled": Wording(
        (_("The pages are stored at a reduced scale."),),
        _("We print them at their full size."),
        (_("Please look at the size of the pages in our proof."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "trim.spread": Wording(
        (_("Left and right pages are joined into double pages."),),
        _("They have to be taken apart before the pages can be arranged for print; pictures across the middle may lose a strip."),
        (_("Please export the document again as single pages, page 1 first."),),
        (NEW_FILE, _("We take them apart for a fee and show you a proof before printing.")),
    ),
    "standard.claim-broken": Wording(
        (_("The file says that it keeps to a standard for print, and does not in every point."),),
        _("Something may come out differently from what you see on your screen."),
        (_("Please export it again, with one of the ready-made settings for print that your program offers."),),
        (NEW_FILE, _("We go on with this file; you look at our proof with care before we print."), AS_IS),
    ),
}  # fmt: skip
