"""Letter texts: colours and inks, typefaces, pictures, lines, and what shows where colours lie on one another."""

from __future__ import annotations

from preflight.report.letter_language import marked as _
from preflight.report.letter_texts.wording import AS_IS, NAME, NAMES, NEW_FILE, SEND_OR_PRINT, WE_CHANGE, Wording

_CONVERT = _("We change the colours for you; they may shift a little. You see a proof before printing.")
_SHOW_PROOF = _("We go on with this file; you look at our proof with care before we print.")
_OTHER_SCAN = _("You send another scan or the original.")

TEXTS = {
    "colour.unexpected-ink": Wording(
        (_("The file uses a special ink that is not part of the order."), NAME),
        _("Every ink is printed from a plate of its own, and this one is not among those ordered."),
        (
            _("Please change these parts to the ordered colours, or tell us if you would like to order the ink."),
        ),
        (NEW_FILE, _CONVERT, _("You order this ink as well; we tell you the price first.")),
    ),
    "colour.unexpected-ink-mild": Wording(
        (_("The file uses special inks, each of which needs a printing plate of its own."), _("Found: {names}.")),
        _("Each special ink is printed from a plate of its own and has its price."),
        (_("Please tell us whether these inks are wanted; if not, change them to CMYK, the four usual printing colours."),),
        (NEW_FILE, _CONVERT, _("The special inks are wanted: we tell you the price first and then print them.")),
    ),
    "colour.missing-ink": Wording(
        (_("An ink that you ordered is not used anywhere in the file."), NAME),
        _("That plate would stay empty, and the parts meant for it would come out in other colours."),
        (_("Please check whether a colour was changed on the way, and send the file again."),),
        (NEW_FILE, _("The ink is not needed: we take it out of the order.")),
    ),
    "colour.registration": Wording(
        (_("Something on the page is in the colour meant for printers' marks; on the screen it looks like black."),),
        _("It prints with all inks at once, dries badly and may smear."),
        (_('Please set it in plain black (in most programs the colour is called "black", not "registration").'),),
    ),
    "colour.spot-names-clash": Wording(
        (_("One special ink has several names in the file."), NAMES),
        _("Each name makes a printing plate of its own."),
        (_("Please give it one name everywhere."),),
        (NEW_FILE, _("They are one ink: we put them together."), _("They are different inks, and that is as it should be.")),
    ),
    "colour.spot-recipes-differ": Wording(
        (_("A special ink is described in several ways in the file."), NAME),
        _("On proofs and screens it looks different from place to place."),
        (_("Please use one description of it everywhere, best the one from the ink maker's own colour list."),),
        (NEW_FILE, _("We print it as one ink; please go by the ink maker's colour book, not by the screen.")),
    ),
    "colour.rgb": Wording(
        (_("Some colours are mixed for a screen (RGB), not for print."),),
        _("They look different on paper, mostly duller; bright greens, blues and oranges change most."),
        (_("Please change them to CMYK, the four printing colours, and choose the setting for print when you save the PDF."),),
        (NEW_FILE, _CONVERT),
    ),
    "colour.lab": Wording(
        (_("Some colours are described in a way that has to be changed into printing inks first."),),
        _("They may come out a little different from what you expect."),
        (_("Please change them to CMYK, to grey or to a special ink."),),
        (NEW_FILE, _CONVERT),
    ),
    "colour.other-cmyk": Wording(
        (_("Some colours are mixed for another kind of paper or printing."),),
        _("They may shift, and small black text may get coloured edges."),
        (_('Please export the PDF again and choose "keep colour numbers", or the setting for the paper that we name.'),),
        (NEW_FILE, _CONVERT),
    ),
    "colour.intent-missing": Wording(
        (_("The file was made for another kind of paper or printing."),),
        _("Colours may come out lighter, darker or with a slight cast."),
        (_("Please export it for the paper of this job; we tell you the name of the setting."),),
        SEND_OR_PRINT,
    ),
    "colour.intent-missing-mild": Wording(
        (_("The file does not say for which paper its colours were made."),),
        _("We print the colours as they stand in the file."),
        (_("If you would like to check colours, please ask us for a proof."),),
        SEND_OR_PRINT,
    ),
    "font.not-embedded": Wording(
        (_("A typeface is used but does not come with the file."), NAME),
        _("Another typeface would take its place: letters look different, lines break elsewhere, signs may be missing."),
        (_('Please switch on "embed all fonts" when you save the PDF, or turn the text into outlines.'),),
    ),
    "font.faulty": Wording(
        (_("Letters of a typeface are damaged or missing in the file."), NAME),
        _("Boxes, gaps or other signs may stand in their place."),
        (_("Please look through the text here and save the PDF again, if need be with another typeface."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    "font.type3-bitmap": Wording(
        (_("Some letters are stored as coarse dots instead of clean shapes."),),
        _("Their edges look ragged."),
        (_("Please export the PDF again from the program in which the text was set."),),
        SEND_OR_PRINT,
    ),
    "overprint.vanishes": Wording(
        (_("Something on the page is set in such a way that the colour under it shows instead of it."),),
        _("It is missing on paper, though you see it on your screen."),
        (_('Please select it in your layout program, switch "overprint" off for it, and save the PDF again.'),),
    ),
    "overprint.changes": Wording(
        (_("Colours on the page are set to be printed on top of one another."),),
        _("They mix on paper and look different from what you see on your screen."),
        (_('Please switch "overprint" off for these parts and save the PDF again.'),),
        (NEW_FILE, WE_CHANGE, _("The mixing is meant: please print it as it is.")),
    ),
    "transparency.live": Wording(
        (_("The page uses see-through effects, which this job does not allow."),),
        _("Shadows and soft edges may come out with a visible box around them."),
        (_("Please export the PDF again without see-through effects (most programs call the setting PDF/X-1a), or ask us how to do it."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    "transparency.live-mild": Wording(
        (_("The page uses see-through effects that do not suit this kind of file."),),
        _("Shadows and soft edges may come out with a visible box around them."),
        (_("Please export the PDF again, in your program's newest setting for print (PDF/X-4)."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    "transparency.blend-space": Wording(
        (_("See-through effects on the page are mixed in the colours of a screen."),),
        _("Colours around shadows and soft edges may change, and black text may get coloured edges."),
        (_("Please set the colours for transparency to CMYK in your program and export the PDF again for print."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    "transparency.blend-space-mild": Wording(
        (_("The page is set up for the colours of a screen."),),
        _("Nothing changes on this page."),
        (_("If you make a new version anyway, please export it for print."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "resolution.low": Wording(
        (
            _("A picture has too few dots for the size at which it is printed."),
            _("It is good for up to {enough}; on the page it measures {placed}."),
        ),
        _("It looks blocky and blurred."),
        (
            _("Please put in the original photo at its full size, or make the picture smaller on the page."),
            _("Raising the resolution in a picture program does not help: that adds dots, but no detail."),
        ),
        (NEW_FILE, AS_IS),
    ),
    "resolution.soft": Wording(
        (
            _("A picture has rather few dots for the size at which it is printed."),
            _("It is sharp up to {enough}; on the page it measures {placed}."),
        ),
        _("It may look a little soft."),
        (_("If you have a larger original, please put that in."),),
        SEND_OR_PRINT,
    ),
    "resolution.line-art-low": Wording(
        (_("A drawing or logo has too few dots for the size at which it is printed."),),
        _("Its edges show steps, like a staircase."),
        (_("Please send it as a drawn shape (vector file), or scan it again in black and white at 1200 dots per inch."),),
    ),
    "resolution.line-art-soft": Wording(
        (_("A drawing or logo has rather few dots for the size at which it is printed."),),
        _("Its edges may look slightly ragged."),
        (_("If you have it as a drawn shape (vector file), please put that in."),),
        SEND_OR_PRINT,
    ),
    "resolution.excessive": Wording(
        (_("A picture has more detail than print can show."),),
        _("Nothing changes; the file is only larger."),
        (_("Nothing needs to be done."),),
        SEND_OR_PRINT,
        told_as_note=False,
    ),
    "image.unknown-size": Wording(
        (
            _("The picture does not say how large it is to be printed."),
            _("It prints well up to {enough}, at most up to {most}."),
        ),
        _("Printed too large, it looks blurred."),
        (_("Please tell us the width and height you would like."),),
        (_("You tell us the width and height."), _("We choose the size at which it is sharp and show you a proof.")),
    ),
    "image.upsampled": Wording(
        (_("A picture seems to have been enlarged: it holds less detail than its size suggests."),),
        _("It looks soft, although it has dots enough."),
        (_("Please put in the original from the camera or the scanner."),),
        SEND_OR_PRINT,
    ),
    "image.screened": Wording(
        (_("A picture was scanned from something already printed."),),
        _("The dots of that print may form a visible pattern."),
        (_("Please put in the original photo; if there is none, scan the print again with the filter for printed matter on."),),
        (_OTHER_SCAN, WE_CHANGE, AS_IS),
    ),
    "image.compressed": Wording(
        (_("A picture was saved with very strong compression."),),
        _("Small squares and smudged edges may show."),
        (_("Please put in the picture as it came from the camera, or save it again from the original at a higher quality."),),
        SEND_OR_PRINT,
    ),
    "image.crooked": Wording(
        (_("A scanned page or drawing is slightly tilted."), _("The tilt is about {measured}.")),
        _("Lines of text run at a slant."),
        (_("Please scan it again, laid straight."),),
        (_OTHER_SCAN, WE_CHANGE, AS_IS),
    ),
    "image.soft-line-art": Wording(
        (_("Text or a drawing was scanned like a photograph."),),
        _("Its edges come out soft and grey."),
        (_("Please scan it again in black and white at 1200 dots per inch."),),
        (_OTHER_SCAN, AS_IS),
    ),
    "image.paper-tint": Wording(
        (_("The paper of the scan is not quite white."),),
        _("A light grey ground prints along with it."),
        (_("Please raise the brightness of the scan until the paper is white."),),
        (_OTHER_SCAN, WE_CHANGE, AS_IS),
    ),
    "image.extra-channels": Wording(
        (_("The picture file holds more than the picture: for instance layers, masks or an extra ink."),),
        _("These parts may be left out, or change how the picture looks."),
        (_("Please save a copy with everything merged into one layer, without masks or extra inks."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    "image.extra-channels-mild": Wording(
        (_("The picture file holds several pictures or a short list of colours."),),
        _("We print what it holds as it is."),
        (_("Please tell us if that is not what you expect."),),
        SEND_OR_PRINT,
    ),
    "line.hairline": Wording(
        (_("Some lines are extremely thin."), _("The thinnest here: {measured}.")),
        _("They break up or disappear."),
        (_("Please make them 0.25 pt or thicker, which is about the weight of a fine pen."),),
    ),
    "line.thin": Wording(
        (_("Some lines are very thin."), _("The thinnest here: {measured}.")),
        _("They may come out weak or broken."),
        (_("Please make them 0.25 pt or thicker."),),
    ),
}  # fmt: skip

#: Words of their own for some cases of a kind, by what the finding's ``details.case`` says.
CASES = {
    ("image.extra-channels", "bits"): Wording(
        (_("The picture is saved with more shades of each colour than print can use."),),
        _("It is changed to fewer shades on the way; you will hardly see it."),
        (_("Please save a copy with 8 bits for each colour channel."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    ("image.extra-channels", "profile"): Wording(
        (_("The colour profile saved with the picture belongs to another kind of colours."),),
        _("Its colours may look different from what you see on your screen."),
        (_("Please save the picture again with the colour profile that your program suggests for it."),),
        (NEW_FILE, _SHOW_PROOF),
    ),
    ("image.extra-channels", "inverted"): Wording(
        (_("The colours of the picture seem to be turned round, as in a negative."),),
        _("The picture comes out nearly black."),
        (_("Please open the picture, check its colours, and save it again, for example as a TIFF file."),),
        (NEW_FILE, WE_CHANGE, _SHOW_PROOF),
    ),
    ("image.extra-channels", "palette"): Wording(
        (_("The picture is made of a short list of colours."),),
        _("Soft changes of colour may show as steps."),
        (_("If you have the picture in full colours, please send that one."),),
        SEND_OR_PRINT,
    ),
    ("image.extra-channels", "frames"): Wording(
        (_("The picture file holds several pictures."),),
        _("Each of them prints as a page of its own."),
        (_("Please tell us if that is not what you expect."),),
        SEND_OR_PRINT,
    ),
}  # fmt: skip
