"""The letter to the customer: its order, its words, its limits, and the mail parsed back by the standard library."""

from __future__ import annotations

import email
import email.policy
import json
import re
from dataclasses import replace
from datetime import datetime
from email.message import EmailMessage
from gettext import NullTranslations
from pathlib import Path
from typing import Any

import pytest
from artwork import Book, rectangle
from click.testing import CliRunner
from report.sample import HOSTILE, clean_report, finding, hostile_report, illustrated, report
from report.test_html import Tree
from whole import job_for, report_of

from preflight.checking import all_checks
from preflight.cli import main
from preflight.findings import Finding, Report, TicketReport, Unchecked, Waived, counts_of, verdict_of
from preflight.report.json_report import report_from_json, report_to_json
from preflight.report.letter import letter, write_letter
from preflight.report.letter_html import letter_html
from preflight.report.letter_language import Language, language_of
from preflight.report.letter_mail import letter_mail
from preflight.report.letter_parts import Letter
from preflight.report.letter_pictures import MOST_BYTES
from preflight.report.letter_text import letter_text

LANGUAGES = ("en", "de", "fr", "es")
SHOP = {
    "name": "Tidewheel Press", "contact": "Nell Harrow", "phone": "01632 960 118", "email": "prepress@tidewheel.example",
    "upload": "https://tidewheel.example/upload", "deadline": "Thursday, 12 noon", "fees": "24 pounds each quarter of an hour",
    "address": "12 Mill Lane\nTidewheel", "web": "",
}  # fmt: skip


def about(*findings: Finding, unchecked: tuple[Unchecked, ...] = (), **more: Any) -> Report:
    """The sample's report with these findings only."""
    found, gaps = list(findings), list(unchecked)
    return replace(
        report(), findings=found, unchecked=gaps, verdict=verdict_of(found, gaps), counts=counts_of(found, gaps), **more
    )


def said(whole: Report, language: str = "en", **more: Any) -> str:
    return letter_text(letter(whole, language, **more))


def flat(text: str) -> str:
    """A text without its line breaks."""
    return " ".join(text.split())


def mail_of(whole: Letter) -> EmailMessage:
    message = email.message_from_bytes(letter_mail(whole), policy=email.policy.default)
    assert isinstance(message, EmailMessage)
    return message


def every_kind(severity: str) -> list[Finding]:
    """One finding of each kind there is, with figures and names as the checks give them."""
    found = []
    for turn, (name, check) in enumerate(sorted(all_checks().items())):
        for kind in check.kinds:
            details = {"ink": "Fern Green", "subject": "Fern Green", "edge": "left", "placed_mm": [80.0, 60.0]}
            box = [10.0, 10.0 + turn, 60.0, 30.0 + turn]
            found.append(
                finding(f"{name}.{kind}", severity, box=box, measured=1.25, limit=2.5, unit="mm", details=details)
            )
    return found


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pictures")


@pytest.fixture(scope="module")
def whole(pictures: Path) -> Report:
    return replace(illustrated(pictures, pages={1, 3, 7, 9}), shop=SHOP)


# --- order and limits ----------------------------------------------------------------------------------------------------


def test_the_order_is_that_of_a_fix_list(whole: Report) -> None:
    text = said(whole)
    order = [
        "Job: 26-1182, Spring guide", "File: spring-guide.pdf, 16 pages, 4.8 MB", "Checked: 25 November 2026",
        "Your file needs 4 changes and your decision on 4 points.",
        "What needs to be changed", "What we ask you to decide", "Good to know", "We still have to look at", "What happens next",
        "Deadline: Thursday, 12 noon", "If you have questions", "Nell Harrow", "01632 960 118", "Kind regards\nTidewheel Press",
    ]  # fmt: skip
    places = [text.find(line) for line in order]

    assert -1 not in places, order[places.index(-1)]
    assert places == sorted(places)


def test_a_point_to_be_changed_has_four_parts() -> None:
    low = finding(
        "resolution.low", page=3, box=[12.0, 31.2, 90.2, 77.0], measured=75.0, limit=150.0, unit="ppi",
        details={"placed_mm": [80.0, 60.0]},
    )  # fmt: skip
    [point] = letter(about(low)).sections[0].points

    # 75 of 150 dots per inch: good for half its width and height.
    assert point.what.replace("\xa0", " ").endswith("good for up to 40 × 30 mm; on the page it measures 80 × 60 mm.")
    assert point.where.replace("\xa0", " ") == "page 3, 12 mm from the left edge and 31 mm from the top edge"
    assert point.in_print == "It looks blocky and blurred."
    assert point.do.startswith("Please put in the original photo")
    assert (point.mark, point.choices) == ("1", ())


def test_at_most_five_have_to_be_changed_and_the_rest_is_counted() -> None:
    kinds = ("file.locked", "trim.wrong-size", "font.not-embedded", "total-ink.high", "bleed.missing", "resolution.low",
             "line.hairline")  # fmt: skip
    whole = letter(about(*(finding(kind) for kind in reversed(kinds))))
    [change] = [section for section in whole.sections if section.points]

    assert [point.mark for point in change.points] == ["1", "2", "3", "4", "5"]
    assert change.points[0].what == "The file is locked with a password."
    assert change.after == ("2 more points of this kind are not listed here; we come back to them with your new file.",)
    assert whole.verdict == "Your file needs 7 changes."


def test_at_most_three_are_good_to_know() -> None:
    kinds = ("trap.gap", "tint.too-light", "file.attachment", "colour.intent-missing", "image.paper-tint")
    [notes, *_] = letter(about(*(finding(kind, "note") for kind in kinds))).sections

    assert notes.heading == "Good to know"
    assert len(notes.points) == 3
    assert all(not point.do and not point.choices for point in notes.points)


def test_what_nobody_need_do_anything_about_stays_in_the_shop() -> None:
    notes = [
        finding("file.active-content", "note"),
        finding("trim.scaled", "note"),
        finding("resolution.excessive", "note"),
    ]

    assert said(about(*notes)) == said(about())
    assert "small program" in said(about(finding("file.active-content", "ask")))


def test_decisions_are_numbered_choices() -> None:
    whole = letter(
        about(finding("margins.frame", "ask", measured=1.9, limit=5.0, unit="mm"), finding("colour.rgb", "ask"))
    )
    [decide] = [section for section in whole.sections if section.points]

    assert [[mark for mark, _ in point.choices] for point in decide.points] == [["A1", "A2"], ["B1", "B2", "B3"]]
    assert decide.before == ("Please reply with the numbers of your choices, for example: A1, B2.",)
    first = dict(decide.points[1].choices)
    assert first["B1"].startswith("You send a new file. Please leave the frame out")
    assert first["B2"] == "We change it for you for a fee and show you a proof before printing."
    assert first["B3"] == "We print it as it is; for that we need your written yes."


def test_findings_that_say_the_same_are_one_point() -> None:
    edges = [
        finding(f"bleed.{kind}", page=page, details={"edge": edge}, measured=0.0, limit=2.0, unit="mm")
        for kind, page, edge in (("missing", 3, "left"), ("empty", 3, "top"))
    ]
    [point] = letter(about(*edges)).sections[0].points
    assert point.where == "page 3: left edge; top edge"

    more = [finding("bleed.missing", page=page, details={"edge": "left"}) for page in (4, 5, 6, 9)]
    [point] = letter(about(*edges, *more)).sections[0].points
    assert point.where == "pages 3–6 and 9"


def test_a_file_of_fifteen_pages_is_told_once() -> None:
    count = finding("pages.wrong-count", page=None, measured=15.0, limit=16.0, unit="pages")
    binding = finding(
        "pages.binding-multiple", page=None, measured=15.0, limit=16.0, unit="pages",
        details={"multiple": 4, "blanks": 1, "above": 16, "below": 12},
    )  # fmt: skip
    assert "does not suit the binding" not in said(about(count, binding))
    assert "In the file: 15; ordered: 16." in flat(said(about(count, binding)))

    # 18 pages ordered cannot be stitched either: that has to be said.
    assert "does not suit the binding" in said(about(replace(count, limit=18.0), binding))
    assert "takes pages by 4, so 16 would do. " in flat(said(about(binding)))


def test_small_black_text_from_four_inks_is_told_once_for_one_place() -> None:
    black = finding("black.many-inks", "ask", box=[10, 58, 60, 70])
    small = finding("type.small-many-inks", "ask", box=[10, 58, 60, 70], measured=6.0, limit=8.0, unit="pt")
    assert "We change" in said(about(black, small))
    assert said(about(black, small)).count("mixed from several colours") == 1

    elsewhere = replace(small, box_mm=[10, 158, 60, 170])
    assert said(about(black, elsewhere)).count("mixed from several colours") == 2


def test_the_milder_case_has_its_own_words() -> None:
    mild = finding("colour.unexpected-ink", "note", details={"mild": True, "inks": ["Fern Green", "Moss"]})

    text = flat(said(about(mild)))
    assert "special inks, each of which needs a printing plate of its own. Found: Fern Green and Moss." in text
    assert "not part of the order" not in text


# --- clean, unchecked, waived --------------------------------------------------------------------------------------------


def test_a_clean_file_is_not_called_more_than_it_is() -> None:
    text = said(replace(clean_report(), shop=SHOP))

    assert "This file can go to print: we found nothing against our rules." in flat(text)
    assert "There is nothing you need to do." in text
    assert "perfect" not in text.casefold()
    assert "Deadline" not in text
    assert letter(clean_report()).subject == "Job 26-1182, Spring guide: can go to print"


def test_what_was_not_checked_is_said_without_the_tool() -> None:
    gaps = (
        Unchecked("total-ink", 6, "the page took longer than 60 s"),
        Unchecked("total-ink", 8, "the page took longer than 60 s"),
        Unchecked("barcode", 6, "MemoryError"),
        Unchecked("all", 9, "not examined"),
    )
    text = said(about(unchecked=gaps))

    assert "not quite finished with this file" in text
    assert "nothing against our rules" not in text
    assert "- the amount of ink (pages 6 and 8)\n- the bar codes (page 6)\n- the page as a whole (page 9)\n" in text
    assert not re.search(r"60 s|MemoryError|examined|total-ink", text)
    assert "- the file as a whole\n" in said(about(unchecked=(Unchecked("file", None, "kind not supported"),)))


def test_waived_findings_are_told_as_agreed() -> None:
    waived = finding("resolution.low", waived=Waived("M. Quill", "2026-11-20", "archive picture"))

    text = flat(said(about(waived)))
    assert "apart from what was agreed before, we found nothing against our rules" in text
    assert "What needs to be changed" not in text
    assert (
        "Agreed before ------------- - A picture has too few dots for the size at which it is printed. Where: page 1. "
        "Accepted by M. Quill, 20 November 2026." in text
    )
    assert "archive picture" not in text  # the shop's own note
    many = [finding("trap.gap", page=turn, waived=Waived(f"N{turn}", "soon", "")) for turn in range(1, 9)]
    assert "Accepted by N5, soon. - 3 more" in flat(said(about(*many)))
    assert "Angenommen von M. Quill am 20. November 2026." in flat(said(about(waived), "de"))


def test_a_kind_of_a_later_version_is_told_in_its_own_words() -> None:
    text = flat(said(about(finding("varnish.thick", remedy="Please {make} the varnish thinner."))))

    assert "1. One point needs a look." in text
    assert "What to do: Please {make} the varnish thinner." in text


# --- a later version -----------------------------------------------------------------------------------------------------


def test_a_later_letter_thanks_and_lists_only_what_is_open() -> None:
    rgb, locked = (
        finding("colour.rgb", "ask", box=[5, 5, 50, 50]),
        finding("font.not-embedded", details={"font": "Moss"}),
    )
    before = about(rgb, locked)
    now = about(rgb, finding("line.hairline", page=9, measured=0.1, limit=0.2, unit="pt"))
    now = replace(now, file=replace(now.file, sha256="77" * 32))

    text = flat(said(now, earlier=before))
    assert "Thank you for the new file. 1 point from our last letter is settled: the typefaces." in text
    assert "Below is only what is still open." in text
    assert "Moss" not in text
    assert "page 9 (new in this file)" in text
    assert text.count("(new in this file)") == 1


def test_the_same_file_again_is_not_thanked_for() -> None:
    assert "Thank you" not in said(about(finding("colour.rgb", "ask")), earlier=about(finding("colour.rgb", "ask")))


def test_what_is_fixed_on_one_page_only_is_not_settled() -> None:
    low = finding("resolution.low", page=3, box=[10, 10, 60, 50], measured=70.0, limit=150.0, unit="ppi")
    other = replace(low, page=5, key="other")
    now = about(low)
    now = replace(now, file=replace(now.file, sha256="77" * 32))

    text = said(now, earlier=about(low, other))
    assert "Thank you for the new file." in text
    assert "settled" not in text


def test_nothing_is_thanked_for_and_asked_for_in_the_same_words() -> None:
    """The words are a check's: near the spine it is settled, near the cut it is not, and both are text close to the edge."""
    gutter = finding("margins.gutter", "ask", page=3, box=[1, 10, 30, 20], measured=1.6, limit=10.0, unit="mm")
    near = finding("margins.near-trim", "ask", page=5, box=[1, 10, 30, 20], measured=1.6, limit=3.0, unit="mm")
    frame = finding("margins.frame", "note", page=7, box=[2, 2, 90, 90], measured=2.0, limit=5.0, unit="mm")
    other = {"sha256": "77" * 32}

    now = about(near)
    assert "settled" not in said(replace(now, file=replace(now.file, **other)), earlier=about(gutter, near))
    # What is only good to know is not asked for.
    now = about(frame)
    text = flat(said(replace(now, file=replace(now.file, **other)), earlier=about(gutter, frame)))
    assert "is settled: text close to the edge of the page." in text


class _Bracketed(NullTranslations):
    """A catalogue that brackets whatever it is asked for, so that what was said past it stands out."""

    def gettext(self, message: str) -> str:
        return f"⟦{message}⟧"

    def ngettext(self, one: str, many: str, number: int) -> str:
        return f"⟦{one if number == 1 else many}⟧"


@pytest.mark.parametrize("severity", ["stop", "ask", "note"])
def test_every_word_of_a_letter_goes_through_the_catalogue(severity: str) -> None:
    language = Language("de", language_of("de").locale, "mm", _Bracketed())
    found = every_kind(severity)
    unchecked = (Unchecked("total-ink", 6, "slow"), Unchecked("all", 9, "slow"))
    past = set()
    for turn in range(0, len(found), 3):
        for whole in (about(*found[turn : turn + 3], unchecked=unchecked), about(*found[turn : turn + 3], shop=SHOP)):
            for text in (said(whole, language), said(whole, language, earlier=about(*found[turn + 3 : turn + 5]))):
                left = " ".join(text.split())
                while left != (left := re.sub(r"⟦[^⟦⟧]*⟧", " ", left)):
                    pass
                past |= set(re.findall(r"[^\W\d_]{2,}", left))
    # What remains is the customer's, the shop's, and the clock's.
    theirs = {"Spring", "spring", "guide", "pdf", "Fernhollow", "Botanic", "Garden", "Tidewheel", "Press", "November"}
    assert past <= theirs | set(
        re.findall(r"[^\W\d_]{2,}", " ".join([*SHOP.values(), str(datetime.now().astimezone().tzname())]))
    )


def test_the_shop_speaks_the_customers_language_where_it_can() -> None:
    shop = {**SHOP, "de": {"deadline": "Donnerstag, 12 Uhr", "fees": " "}, "fr": "?"}
    change = finding("line.hairline")

    assert "Frist: Donnerstag, 12 Uhr" in said(about(change, shop=shop), "de-AT")
    assert "24 pounds each quarter of an hour" in flat(said(about(change, shop=shop), "de"))
    assert "Deadline: Thursday, 12 noon" in said(about(change, shop=shop))
    assert "Thursday, 12 noon" in said(about(change, shop=shop), "fr")


def test_several_names_are_called_names() -> None:
    faces = [finding("font.not-embedded", details={"font": name}) for name in ("Moss", "Fern")]

    assert "Name: Moss." in flat(said(about(faces[0])))
    assert "Names: Moss and Fern." in flat(said(about(*faces)))
    assert "Noms : Moss et Fern." in flat(said(about(*faces), "fr"))


def test_marks_between_places_are_those_of_the_language() -> None:
    edges = [finding("bleed.missing", page=1, details={"edge": edge}) for edge in ("left", "right")]

    assert "Where: page 1: left edge; right edge" in flat(said(about(*edges)))
    assert "Où : page 1 : bord gauche ; bord droit" in flat(said(about(*edges), "fr"))


# --- languages and units -------------------------------------------------------------------------------------------------


def test_figures_follow_the_language() -> None:
    frame = about(finding("margins.frame", "ask", box=[1.9, 1.9, 84.0, 53.0], measured=1.9, limit=5.0, unit="mm"))

    assert "1.9 mm away" in flat(said(frame))
    assert "Der Abstand zum Rand ist 1,9 mm." in flat(said(frame, "de"))
    assert "Il est à 1,9 mm du bord." in flat(said(frame, "fr"))
    assert "Está a 1,9 mm del borde." in flat(said(frame, "es"))
    assert "25. November 2026" in said(frame, "de")
    assert "25 novembre 2026" in said(frame, "fr")
    assert "25 de noviembre de 2026" in said(frame, "es")
    assert "4,8 Mo" in said(frame, "fr")


def test_percent_follows_the_language() -> None:
    ink = about(finding("total-ink.high", measured=352.6, limit=330.0, unit="percent"))

    assert "reach 353%; this paper takes 330%" in flat(said(ink))
    assert "erreichen 353 %; dieses Papier verträgt 330 %" in flat(said(ink, "de"))


def test_inches_for_who_thinks_in_them() -> None:
    wrong = finding(
        "trim.wrong-size",
        measured=165.0,
        limit=170.0,
        unit="mm",
        details={"trim_mm": [52.0, 165.0], "ordered_mm": [55.0, 170.0]},
    )
    assert "In the file: 52 × 165 mm; ordered: 55 × 170 mm." in flat(said(about(wrong)))
    # 25.4 mm are one inch.
    assert "In the file: 2.05 × 6.5 in; ordered: 2.17 × 6.69 in." in flat(said(about(wrong), units="inch"))
    assert "In der Datei: 2,05 × 6,5 in" in flat(said(about(wrong), "de", units="inch"))
    assert "2.05 × 6.5 in" in flat(said(about(wrong), "en-US"))
    assert "52 × 165 mm" in flat(said(about(wrong), "en-US", units="mm"))


def test_figures_that_differ_are_told_apart() -> None:
    near = finding("margins.near-trim", "ask", measured=2.96, limit=3.0, unit="mm")

    assert "It is 2.96 mm away; 3 mm keep it clear" in flat(said(about(near)))


def test_the_bars_of_a_code_are_thinner_than_tenths_of_a_millimetre() -> None:
    thin = finding("barcode.too-small", "ask", measured=0.25, limit=0.264, unit="mm", details={"text": "4006381333931"})

    assert "Its thinnest bar is 0.25 mm wide; 0.26 mm are needed." in flat(said(about(thin)))
    assert "0,25 mm" in flat(said(about(thin), "de"))


@pytest.mark.parametrize(
    ("case", "mild", "words", "not_words"),
    [
        ("inverted", False, "as in a negative", "layers"),
        ("bits", False, "8 bits for each colour channel", "layers"),
        ("profile", False, "colour profile that your program suggests", "layers"),
        ("layers", False, "one layer, without masks", "negative"),
        ("frames", True, "Each of them prints as a page of its own", "short list"),
        ("palette", True, "short list of colours", "several pictures"),
        (None, False, "one layer, without masks", "negative"),
    ],
)
def test_what_a_picture_file_holds_has_its_own_words(case: str | None, mild: bool, words: str, not_words: str) -> None:
    details = {"what": "a thing", "case": case, "mild": mild}
    extra = finding("image.extra-channels", "note" if mild else "ask", details=details)

    text = flat(said(about(extra)))
    assert words in text
    assert not_words not in text


def test_transparency_that_is_not_allowed_at_all_is_not_asked_for_again() -> None:
    by_the_shop, by_the_claim = (finding("transparency.live", "ask", details={"mild": mild}) for mild in (False, True))

    assert "PDF/X-4" not in said(about(by_the_shop))
    assert "PDF/X-4" in said(about(by_the_claim))


def test_the_food_label_is_for_the_authority_to_judge() -> None:
    words = {"en": "authority", "de": "Lebensmittelbehörde", "fr": "autorité", "es": "autoridad"}
    label = finding("type.legal-minimum", "ask", measured=1.17, limit=1.2, unit="mm")
    for language, word in words.items():
        assert said(about(label), language).count(word) >= 2


# --- words ---------------------------------------------------------------------------------------------------------------

#: Blame, promises, and words of the trade or of this tool that tell a customer nothing.
_NOT_SAID = {
    "en": r"wrong|bad\b|error|mistake|forgot|obvious|perfect|guarantee|invalid|fault|must not|illegal",
    "de": r"falsch|fehler\b|fehlerhaft|schlecht(?!\.| und kann)|vergessen|perfekt|garant|ungültig|offensichtlich",
    "fr": r"erreur|faute|faux|mauvais|oubli|parfait|garanti|invalide|évident",
    "es": r"error|incorrect|equivoc|olvid|perfect|garant|inválid|evidente",
}
_JARGON = (
    r"trimbox|bleedbox|mediabox|\bbox\b(?! around)|\bppi\b|\bdpi\b|devicen|devicergb|icc\b|\bopm\b|separation|knock.?out|"
    r"misregist|trapping|output intent|soft mask|blend|halftone|imposition|preflight|severity|finding|unchecked|waive|\brip\b"
)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("severity", ["stop", "ask", "note"])
def test_no_blame_no_promise_no_codes(language: str, severity: str) -> None:
    found = every_kind(severity)
    text = ""
    for turn in range(0, len(found), 3):
        text += flat(said(replace(about(*found[turn : turn + 3]), shop=SHOP), language)) + "\n"
    told = text.casefold()

    assert not re.findall(_NOT_SAID[language], told)
    assert not re.findall(_JARGON, told)
    ids = {f"{name}.{kind}" for name, check in all_checks().items() for kind in check.kinds}
    assert not [identifier for identifier in ids if identifier in told]
    assert not re.findall(r"[{}]|unknown|None\b", text)


@pytest.mark.parametrize("language", LANGUAGES)
def test_text_keeps_to_72_columns(whole: Report, language: str) -> None:
    text = said(whole, language)

    assert max(len(line) for line in text.splitlines()) <= 72
    assert "\xa0" not in text
    assert text.endswith("Tidewheel Press\n")


# --- the mail ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_mail_parses_back(whole: Report, pictures: Path, language: str) -> None:
    written = letter(whole, language, pictures=pictures)
    data = letter_mail(written)
    message = mail_of(written)

    assert len(data) < 1_000_000
    assert message.get_content_type() == "multipart/alternative"
    plain, related = message.iter_parts()
    assert plain.get_content_type() == "text/plain"
    assert plain.get_content().replace("\r\n", "\n") == letter_text(written)
    assert related.get_content_type() == "multipart/related"
    page, *images = related.iter_parts()
    html = page.get_content()
    assert page.get_content_type() == "text/html"
    ids = re.findall(r'src="cid:([^"]+)"', html)
    assert [image["Content-ID"] for image in images] == [f"<{name}>" for name in ids]
    assert 2 <= len(images) <= 8
    assert all(image.get_content().startswith(b"\xff\xd8\xff") for image in images)
    assert all(image.get_content_disposition() == "inline" for image in images)
    assert "26-1182" in message["Subject"]
    assert str(message["From"]) == "Tidewheel Press <prepress@tidewheel.example>"
    assert message["X-Unsent"] == "1"
    assert not message.defects


def test_the_same_letter_gives_the_same_mail(whole: Report, pictures: Path) -> None:
    assert letter_mail(letter(whole, pictures=pictures)) == letter_mail(letter(whole, pictures=pictures))


def test_the_mail_goes_without_pictures(whole: Report, tmp_path: Path) -> None:
    for folder in (None, tmp_path / "nothing"):
        message = mail_of(letter(whole, pictures=folder))
        assert [part.get_content_type() for part in message.iter_parts()] == ["text/plain", "text/html"]
        assert "<img" not in message.get_body(("html",)).get_content()


def test_each_change_has_its_picture_and_what_vanishes_is_shown_before_and_after(tmp_path: Path) -> None:
    kinds = ("overprint.vanishes", "trim.wrong-size", "total-ink.high", "resolution.low", "line.hairline")
    found = []
    for turn, kind in enumerate((*kinds, "colour.rgb")):
        (tmp_path / f"{turn}.jpg").write_bytes(b"\xff\xd8\xff" + bytes([turn]))
        found.append(finding(kind, "ask" if kind == "colour.rgb" else "stop", details={"picture": f"{turn}.jpg"}))
    (tmp_path / "before.jpg").write_bytes(b"\xff\xd8\xffbefore")
    found[0].details["picture_without_overprint"] = "before.jpg"
    written = letter(about(*found), pictures=tmp_path)
    change, decide = (section.points for section in written.sections[:2])

    assert all(point.picture for point in change)
    # Enough is enough: decisions go without where the changes have taken the pictures.
    assert not any(point.picture for point in decide)
    vanishing = next(point for point in change if point.second)
    assert (vanishing.picture and vanishing.picture.data, vanishing.second and vanishing.second.data) == (
        b"\xff\xd8\xff\x00", b"\xff\xd8\xffbefore",
    )  # fmt: skip
    html = letter_html(written)
    assert html.index("As most screens show it") < html.index("As it prints.")
    assert html.count("<img") == 6
    assert '"As most' not in letter_text(written)


def test_the_same_picture_is_sent_once(tmp_path: Path) -> None:
    """Faults of a scan as a whole are all shown by the same picture."""
    kinds = {"image.crooked": "ask", "image.soft-line-art": "ask", "total-ink.high": "stop", "line.hairline": "stop"}
    found = []
    for turn, (kind, severity) in enumerate(kinds.items()):
        (tmp_path / f"{turn}.jpg").write_bytes(b"\xff\xd8\xffwhole")
        found.append(finding(kind, severity, details={"picture": f"{turn}.jpg"}))
    written = letter(about(*found), pictures=tmp_path)

    assert len(written.pictures) == 1
    assert [bool(point.picture) for section in written.sections[:2] for point in section.points] == [
        True,
        True,
        False,
        False,
    ]
    [image] = [part for part in mail_of(written).walk() if part.get_content_maintype() == "image"]
    assert letter_html(written).count("<img") == 2
    assert mail_of(written).get_body(("html",)).get_content().count(image["Content-ID"].strip("<>")) == 2


def test_only_pictures_are_taken_and_none_that_is_too_large(whole: Report, tmp_path: Path) -> None:
    names = {Path(str(entry.details["picture"])).name for entry in whole.findings if entry.details.get("picture")}
    for name in names:
        (tmp_path / name).write_bytes(b"GIF89a not one of ours")
    assert not letter(whole, pictures=tmp_path).pictures

    for name in names:
        (tmp_path / name).write_bytes(b"\xff\xd8\xff" + bytes(MOST_BYTES))
    assert not letter(whole, pictures=tmp_path).pictures

    for turn, name in enumerate(sorted(names)):
        (tmp_path / name).write_bytes(b"\xff\xd8\xff" + bytes([turn]) * (MOST_BYTES // 2 - 3))
    large = letter(whole, pictures=tmp_path)
    assert len(large.pictures) == 2
    assert len(letter_mail(large)) < 1_000_000


def test_no_picture_from_outside_its_folder(tmp_path: Path) -> None:
    secret = tmp_path / "secret.jpg"
    secret.write_bytes(b"\xff\xd8\xffsecret")
    folder = tmp_path / "pictures"
    folder.mkdir()
    for name in ("../secret.jpg", str(secret), "..", "", "\x00"):
        assert not letter(about(finding("line.hairline", details={"picture": name})), pictures=folder).pictures


def test_the_html_file_stands_alone(whole: Report, pictures: Path) -> None:
    written = letter(whole, "de", pictures=pictures)
    html = letter_html(written)
    tree = Tree(html)

    assert len(html) < 1_000_000
    assert '<html lang="de">' in html
    assert html.count('src="data:image/jpeg;base64,') == len(written.pictures) >= 2
    assert not re.search(r"<(script|link|iframe|form)|@import|url\(", html)
    assert all(image.get("alt") for image in tree.all("img"))


# --- strangers' text -----------------------------------------------------------------------------------------------------


def test_strangers_names_are_escaped_and_start_no_header() -> None:
    bad = hostile_report()
    evil = "Press\r\nBcc: everyone@example.org"
    for shop in (
        dict.fromkeys(SHOP, HOSTILE),
        {**SHOP, "name": evil, "email": "a@b.example\r\nBcc: x@y.example"},
        {"name": 7},
    ):
        written = letter(replace(bad, shop=shop))
        message = mail_of(written)
        assert set(message.keys()) - {"From"} == {
            "Subject", "Date", "X-Unsent", "Content-Language", "MIME-Version", "Content-Type",
        }  # fmt: skip
        assert len(message.keys()) == len(set(message.keys()))
        assert "\n" not in message["Subject"]
        assert message["Bcc"] is None
        html = letter_html(written)
        assert "<script" not in html
        assert "&lt;script&gt;" in html
        assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f\u202e\ud800-\udfff]", letter_text(written))


def test_a_job_number_cannot_add_a_header() -> None:
    ticket = TicketReport("FBG-1\r\nBcc: all@example.org\r\n\r\nbody", "0" * 64, None, "Ü" * 300)
    message = mail_of(letter(replace(about(), ticket=ticket)))

    assert message["Bcc"] is None
    assert "FBG-1" in message["Subject"]
    assert message.get_body(("plain",)).get_content().count("Bcc:") == 1


def test_a_shop_name_beyond_ascii_is_a_sender() -> None:
    message = mail_of(letter(replace(about(), shop={**SHOP, "name": 'Druckerei "Mühlrad", Köln'})))

    assert message["From"].addresses[0].display_name == 'Druckerei "Mühlrad", Köln'
    assert message["From"].addresses[0].addr_spec == "prepress@tidewheel.example"


def test_odd_figures_and_boxes_are_no_harm() -> None:
    odd = [
        finding("resolution.low", box=[1.0], measured=1e300, limit=0.0, unit="ppi", details={"placed_mm": ["a", 1]}),
        finding("bleed.missing", details={"edge": 7, "words": "x", "pages": "all"}),
        finding("bleed.empty", details={"words": {"wanted": "much"}, "pages": [None, 3, True]}),
        finding("colour.unexpected-ink", details={"ink": "", "inks": [1, 2], "subject": None}),
        finding("pages.binding-multiple", page=None, details={"multiple": 0, "blanks": -4}),
        finding("font.faulty", details={"font": "F" * 5000, "picture": 12}),
    ]
    for language in LANGUAGES:
        text = said(about(*odd), language)
        assert max(len(line) for line in text.splitlines()) <= 72
        assert letter_mail(letter(about(*odd), language))


# --- the command ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def filed(whole: Report, pictures: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "set"
    (folder / "pictures").mkdir(parents=True)
    for path in pictures.iterdir():
        (folder / "pictures" / path.name).write_bytes(path.read_bytes())
    (folder / "report.json").write_text(report_to_json(whole), encoding="utf-8")
    return folder


def run(*arguments: object) -> Any:
    return CliRunner().invoke(main, ["letter", *map(str, arguments)])


def test_the_command_writes_beside_the_report(filed: Path) -> None:
    result = run(filed / "report.json", "--language", "de")

    assert result.exit_code == 0
    assert result.output.splitlines() == [str(filed / f"letter-de.{ending}") for ending in ("txt", "html", "eml")]
    message = email.message_from_bytes((filed / "letter-de.eml").read_bytes(), policy=email.policy.default)
    assert [part.get_content_type() for part in message.walk()].count("image/jpeg") >= 2
    assert "Mit freundlichen Grüßen" in (filed / "letter-de.txt").read_text(encoding="utf-8")


def test_the_command_writes_where_it_is_told(filed: Path, tmp_path: Path) -> None:
    result = run(filed / "report.json", "--out", tmp_path / "sent" / "today", "--units", "inch")

    assert result.exit_code == 0
    assert sorted(path.name for path in (tmp_path / "sent" / "today").iterdir()) == [
        "letter-en.eml", "letter-en.html", "letter-en.txt",
    ]  # fmt: skip
    assert not list(filed.glob("letter-*"))


def test_the_command_takes_the_report_before(filed: Path) -> None:
    data = json.loads((filed / "report.json").read_text(encoding="utf-8"))
    data["file"]["sha256"] = "77" * 32
    new = filed / "new.json"
    new.write_text(json.dumps(data), encoding="utf-8")

    assert run(new, "--earlier", filed / "report.json").exit_code == 0
    assert "Thank you for the new file." in (filed / "letter-en.txt").read_text(encoding="utf-8")


def test_a_language_without_a_letter_is_answered_in_english(filed: Path) -> None:
    result = run(filed / "report.json", "--language", "it-IT")

    assert result.exit_code == 0
    assert "--language it-IT: no letter in it yet; it is written in English" in result.output
    assert "Kind regards" in (filed / "letter-en.txt").read_text(encoding="utf-8")
    assert "preflight:" not in run(filed / "report.json", "--language", "en_US").output


@pytest.mark.parametrize(
    ("content", "arguments", "word"),
    [
        ("{", (), "not valid JSON"),
        ("[]", (), "expected a JSON report of one file"),
        ('{"report_version": 2}', (), "expected 1"),
        (None, (), "no such file"),
        ("{}", ("--language", "xx"), "expected one of en, de, es, fr"),
        ("{}", ("--language", ""), "expected one of en"),
        ("{}", ("--earlier", "nowhere.json"), "no such file"),
    ],
)
def test_wrong_usage_is_one_line(tmp_path: Path, content: str | None, arguments: tuple[str, ...], word: str) -> None:
    path = tmp_path / "report.json"
    if content is not None:
        path.write_text(content)
    result = run(path, *arguments)

    assert result.exit_code == 2
    assert word in result.output
    assert len(result.output.strip().splitlines()) == 1


def test_a_report_that_went_through_json_gives_the_same_letter(whole: Report) -> None:
    assert said(report_from_json(report_to_json(whole))) == said(whole)


# --- from artwork to letter ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def leaflet(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """A leaflet whose green ground stops at the edge, with a line much too thin."""
    book = Book()
    book.page(f"0.6 0 0.8 0 k {rectangle(0, 0, 100, 150)} 0 0 0 1 K 0.05 w 40 60 m 200 60 l S", trim_mm=(100.0, 150.0))
    path = book.save(tmp_path_factory.mktemp("leaflet") / "leaflet.pdf")
    return report_of(path, job_for(job="FBG-7", trim_mm=(100.0, 150.0), bleed_mm=4.0))


def test_a_leaflet_gets_its_letter(leaflet: Report, tmp_path: Path) -> None:
    text = flat(said(leaflet, "de"))

    assert "Ein Bild oder eine farbige Fläche reicht bis an den Seitenrand und hört dort auf." in text
    # The bleed ordered is said in figures, although the finding's text was made in English.
    assert "Wir brauchen 4 mm über jeden Rand hinaus" in text
    assert "Die dünnste hier: 0,05 pt." in text
    paths = write_letter(letter(leaflet, "fr"), tmp_path)
    assert all(path.stat().st_size > 500 for path in paths)


def test_values_of_a_text_are_kept_for_other_languages(leaflet: Report) -> None:
    words = [entry.details["words"] for entry in leaflet.findings if entry.id.startswith("bleed.")]

    assert words
    assert all(held["wanted"] == "4" and held["edge"] in ("left", "right", "top", "bottom") for held in words)


def test_language_tags_as_people_write_them() -> None:
    assert language_of("DE").tag == "de"
    assert language_of("de_AT").tag == "de-AT"
    assert language_of("en_US").units == "inch"
    assert language_of("fr-CA").units == "mm"


def test_a_picture_of_unknown_size_is_told_what_it_will_bear() -> None:
    sizes = [{"ppi": 300.0, "size_mm": [101.6, 67.7]}, {"ppi": 225.0, "size_mm": [135.5, 90.3]}]
    unknown = finding("image.unknown-size", "ask", details={"pages": [1], "sizes": sizes})

    assert "It prints well up to 102 × 68 mm, at most up to 136 × 90 mm." in flat(said(about(unknown)))
    assert "prints well" not in said(about(replace(unknown, details={"sizes": [{}, {"size_mm": "?"}]})))


def test_a_bar_code_is_named_by_what_it_holds() -> None:
    code = finding(
        "barcode.colour", "ask", details={"symbology": "ITF", "text": "4006381333931", "subject": "ITF 4006381333931"}
    )

    assert "do not suit a scanner. Bar code: 4006381333931." in flat(said(about(code)))
    assert "Bar code:" not in said(about(replace(code, details={"text": "", "subject": "ITF"})))


def test_a_picture_file_has_no_pages() -> None:
    whole = about(finding("image.crooked", "ask", box=[0, 0, 148, 210], measured=1.24, limit=0.5, unit="deg"))
    picture = replace(whole, file=replace(whole.file, name="plan.tif", kind="tiff", pages=1))

    assert "The tilt is about 1.2°. Where: the picture In print:" in flat(said(picture))
    assert "Where: page 1" in said(whole)


def test_where_to_send_follows_what_the_shop_says() -> None:
    change, ask = finding("line.hairline"), finding("colour.rgb", "ask")

    assert "Please send your answer or a new file as a reply to this message." in flat(said(about(ask)))
    assert "Please send a new file as a reply to this message." in said(about(change))
    mail = {"email": "prepress@tidewheel.example"}
    assert "Please send your answer or a new file to prepress@tidewheel.example." in flat(said(about(ask, shop=mail)))
    assert "Please send a new file to prepress@tidewheel.example." in said(about(change, shop=mail))
    text = flat(said(about(change, ask, shop=SHOP)))
    assert "Please send your answer to prepress@tidewheel.example." in text
    assert "Please send a new file here: https://tidewheel.example/upload" in text
    assert "We need your decision on 1 point." in said(about(ask))
