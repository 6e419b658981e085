"""The letter to the customer about a file: what has to be changed, what they decide, what is good to know, how to go on.

Made from a report and the pictures beside it, as text, as HTML and as a mail to open, in the customer's language and units. No
codes of this tool, no blame, no promise. With the report of the former version it thanks for what is settled and lists what is open.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from preflight.findings import Finding, Report, Severity
from preflight.report.compare import Comparison, compare
from preflight.report.files import write_whole
from preflight.report.letter_items import Item, Items, items_of, points_of
from preflight.report.letter_language import Language, Units, language_of
from preflight.report.letter_language import marked as _
from preflight.report.letter_parts import Letter, Point, Section
from preflight.report.letter_pictures import PictureShelf
from preflight.report.letter_shop import shop_words
from preflight.report.letter_texts import NAME, NAMES, NEW_FILE, SUBJECTS, wording_of
from preflight.report.letter_values import values_of, where
from preflight.report.words import plain


def letter(
    report: Report,
    language: Language | str = "en",
    earlier: Report | None = None,
    *,
    pictures: Path | None = None,
    units: Units | None = None,
) -> Letter:
    """The letter about a report; ``earlier`` is the report of the version before, ``pictures`` the folder of the pictures."""
    if isinstance(language, str):
        language = language_of(language, units)
    return _Writer(report, language, earlier, PictureShelf(pictures)).write()


def write_letter(said: Letter, folder: Path) -> list[Path]:
    """Writes ``letter-<language>.txt``, ``.html`` and ``.eml`` and returns their paths."""
    from preflight.report.letter_html import letter_html
    from preflight.report.letter_mail import letter_mail
    from preflight.report.letter_text import letter_text

    folder.mkdir(parents=True, exist_ok=True)
    stem = f"letter-{said.language.tag}"
    written = []
    for ending, data in (
        ("txt", letter_text(said).encode()),
        ("html", letter_html(said).encode()),
        ("eml", letter_mail(said)),
    ):
        path = folder / f"{stem}.{ending}"
        write_whole(path, data)
        written.append(path)
    return written


#: Of what was agreed so many points are listed; the others are counted.
MOST_AGREED = 5
#: What two pictures of one place show, by the key of the second.
BESIDE = {
    "picture_without_overprint": (_("As it prints"), _("As most screens show it")),
    "picture_out_of_register": (_("As it is meant"), _("As it prints when one colour shifts by a hair")),
}


class _Writer:
    """Says one letter."""

    def __init__(self, report: Report, language: Language, earlier: Report | None, shelf: PictureShelf) -> None:
        self.report = report
        self.language = language
        self.say = language.say
        self.count = language.count
        self.items: Items = items_of(report)
        self.comparison: Comparison | None = compare(earlier, report) if earlier is not None else None
        self.shelf = shelf
        self.shop = shop_words(report.shop, language.locale.language)

    def write(self) -> Letter:
        changes = tuple(self._point(str(turn), item) for turn, item in enumerate(self.items.change, 1))
        decisions = tuple(self._point(chr(ord("A") + turn), item) for turn, item in enumerate(self.items.decide))
        notes = tuple(self._point("", item) for item in self.items.know)
        sections = [
            self._to_change(changes),
            self._to_decide(decisions),
            Section(self.say(_("Good to know")), points=notes),
            Section(self.say(_("Agreed before")), listed=tuple(self._agreed())),
            Section(self.say(_("We still have to look at")), listed=tuple(self._still_to_look_at())),
            Section(self.say(_("What happens next")), listed=tuple(self._how_to_go_on())),
            self._contact(),
        ]
        return Letter(
            language=self.language,
            subject=self._subject(),
            greeting=self.say(_("Hello,")),
            facts=tuple(self._facts()),
            verdict=self._verdict(),
            thanks=tuple(self._thanks()),
            sections=tuple(section for section in sections if section.points or section.before or section.listed),
            close=tuple(line for line in (self.say(_("Kind regards")), self.shop.name) if line),
            shop=self.shop,
            made_at=self.report.made_at,
            pictures=tuple(self.shelf.taken),
            words={
                "where": self.say(_("Where")),
                "in_print": self.say(_("In print")),
                "do": self.say(_("What to do")),
                "choices": self.say(_("Your choice")),
            },
        )

    # --- head ------------------------------------------------------------------------------------------------------------

    def _job(self) -> str:
        ticket = self.report.ticket
        return ", ".join(plain(part, 80) for part in (ticket.job, ticket.title) if part) if ticket else ""

    def _subject(self) -> str:
        parts = []
        if self.items.changes:
            parts.append(self.count("{number} change needed", "{number} changes needed", self.items.changes))
        if self.items.decisions:
            parts.append(self.count("{number} question for you", "{number} questions for you", self.items.decisions))
        if not parts:
            parts = [self.say(_("not quite checked yet") if self.report.unchecked else _("can go to print"))]
        answer = ", ".join(parts)
        if self._job():
            return self.say(_("Job {job}: {answer}"), job=self._job(), answer=answer)
        return self.say(_("Your file {file}: {answer}"), file=plain(self.report.file.name, 80), answer=answer)

    def _facts(self) -> Iterable[tuple[str, str]]:
        if self._job():
            yield self.say(_("Job")), self._job()
        if self.report.ticket is not None and self.report.ticket.customer:
            yield self.say(_("For")), plain(self.report.ticket.customer, 120)
        file = self.report.file
        about = [plain(file.name, 120)]
        if file.pages is not None:
            about.append(self.count("{number} page", "{number} pages", file.pages))
        if file.bytes:
            about.append(self.language.megabytes(file.bytes))
        yield self.say(_("File")), ", ".join(about)
        moment = self.language.moment(self.report.made_at)
        if moment:
            yield self.say(_("Checked")), moment

    def _verdict(self) -> str:
        changes, decisions = self.items.changes, self.items.decisions
        if changes:
            parts = [self.count("{number} change", "{number} changes", changes)]
            if decisions:
                parts.append(
                    self.count("your decision on {number} point", "your decision on {number} points", decisions)
                )
            return self.say(_("Your file needs {parts}."), parts=self.language.listed(parts))
        if decisions:
            return self.count(
                "We need your decision on {number} point.", "We need your decision on {number} points.", decisions
            )
        if self.report.unchecked:
            return self.say(_("We have not quite finished with this file; for now there is nothing you need to do."))
        if any(finding.waived is not None for finding in self.report.findings):
            return self.say(
                _("This file can go to print: apart from what was agreed before, we found nothing against our rules.")
            )
        return self.say(_("This file can go to print: we found nothing against our rules."))

    def _thanks(self) -> Iterable[str]:
        comparison = self.comparison
        if comparison is None or comparison.same_file:
            return
        yield self.say(_("Thank you for the new file."))
        told = [finding for finding in comparison.fixed if finding.severity in (Severity.STOP, Severity.ASK)]
        open_now = points_of(self.report.findings)
        # Said in the words of a check: while another of its points is open, it would be thanked for and asked for at once.
        still = {_check_of(item) for item in open_now if item.severity in (Severity.STOP, Severity.ASK)}
        settled = [item for item in points_of(told) if not any(_is_same_point(item, other) for other in open_now)]
        settled = [item for item in settled if _check_of(item) not in still]
        if settled:
            checks = dict.fromkeys(map(_check_of, settled))
            subjects = [self.say(SUBJECTS[check]) for check in checks if check in SUBJECTS]
            yield self.count(
                "{number} point from our last letter is settled: {things}.",
                "{number} points from our last letter are settled: {things}.",
                len(settled),
                things=self.language.listed(subjects),
            )
        if self.items.changes or self.items.decisions:
            yield self.say(_("Below is only what is still open."))

    # --- points ----------------------------------------------------------------------------------------------------------

    def _point(self, mark: str, item: Item) -> Point:
        wording = item.wording
        findings = item.findings
        pictures = self._pictures(item) if mark else {}
        place = where(findings, self.report, self.language)
        if self._is_new(findings):
            place = self.say(_("{place} (new in this file)"), place=place)
        if wording is None:
            # A kind of a later version: its own text for the customer, as it stands in the report.
            what, in_print, do = self.say(_("One point needs a look.")), "", plain(findings[0].remedy, 600)
            choices: tuple[str, ...] = (NEW_FILE,)
        else:
            values = values_of(findings, self.report, self.language)
            what, do = self._sentences(wording.what, values), self._sentences(wording.do, values)
            in_print, choices = self.say(wording.in_print), wording.choices
        if item.severity is Severity.STOP:
            return Point(mark, what, place, in_print, do, **pictures)
        if item.severity is Severity.NOTE:
            return Point(mark, what, place, in_print)
        said = []
        for turn, choice in enumerate(choices, 1):
            text = f"{self.say(choice)} {do}" if choice == NEW_FILE else self.say(choice)
            said.append((f"{mark}{turn}", text))
        return Point(mark, what, place, in_print, "", tuple(said), **pictures)

    def _pictures(self, item: Item) -> dict[str, Any]:
        """The picture of a point with its caption, and a second one where two say more."""
        must = item.severity is Severity.STOP
        picture = self.shelf.take(item.picture, must=must)
        if picture is None:
            return {}
        if item.picture_page is None or self.report.file.kind != "pdf":
            caption = self.say(_("The place is framed, a dashed line shows where it is cut."))
        else:
            page = self.language.pages([item.picture_page])
            caption = self.say(
                _("Picture of {page}; the place is framed, a dashed line shows where it is cut."), page=page
            )
        beside = item.second_picture
        second = self.shelf.take(beside[1], must=True) if beside is not None and beside[0] in BESIDE else None
        if beside is None or second is None:
            return {"picture": picture, "caption": caption}
        first_is, second_is = (self.say(words) for words in BESIDE[beside[0]])
        caption = self.say(_("{picture}. {caption}"), picture=first_is, caption=caption)
        return {"picture": picture, "caption": caption, "second": second, "second_caption": second_is}

    def _sentences(self, texts: Sequence[str], values: dict[str, str]) -> str:
        """The sentences whose figures are known."""
        several = values.get("several_names")
        chosen = (NAMES if text == NAME and several else text for text in texts)
        return " ".join(self.say(text, **values) for text in chosen if _is_known(text, values))

    def _is_new(self, findings: Sequence[Finding]) -> bool:
        if self.comparison is None:
            return False
        added = {id(finding) for finding in self.comparison.added}
        return all(id(finding) in added for finding in findings)

    # --- sections --------------------------------------------------------------------------------------------------------

    def _to_change(self, points: tuple[Point, ...]) -> Section:
        after: tuple[str, ...] = ()
        if self.items.more_to_change:
            after = (
                self.count(
                    "{number} more point of this kind is not listed here; we come back to it with your new file.",
                    "{number} more points of this kind are not listed here; we come back to them with your new file.",
                    self.items.more_to_change,
                ),
            )
        return Section(self.say(_("What needs to be changed")), points=points, after=after)

    def _to_decide(self, points: tuple[Point, ...]) -> Section:
        if not points:
            return Section("")
        example = ", ".join(f"{point.mark}{1 + turn % 2}" for turn, point in enumerate(points[:3]))
        before = (
            self.say(_("Please reply with the numbers of your choices, for example: {example}."), example=example),
        )
        after: tuple[str, ...] = ()
        if self.items.more_to_decide:
            after = (
                self.count(
                    "{number} more question will follow once these are answered.",
                    "{number} more questions will follow once these are answered.",
                    self.items.more_to_decide,
                ),
            )
        return Section(self.say(_("What we ask you to decide")), before, points=points, after=after)

    def _agreed(self) -> Iterable[str]:
        """What somebody accepted: what and where, and by whom and when; the reason is the shop's own note."""
        together: dict[tuple[object, ...], list[Finding]] = {}
        for finding in self.report.findings:
            if finding.waived is not None:
                together.setdefault((finding.id, finding.waived.by, finding.waived.on), []).append(finding)
        for findings in list(together.values())[:MOST_AGREED]:
            first, waived = findings[0], findings[0].waived
            wording = wording_of(first.id, mild=bool(first.details.get("mild")), case=first.details.get("case"))
            if waived is None:
                continue
            yield self.say(
                _("{what} Where: {place}. Accepted by {name}, {date}."),
                what=self.say(wording.what[0] if wording else _("One point needs a look.")),
                place=where(findings, self.report, self.language),
                name=plain(waived.by, 80),
                date=self.language.day(waived.on),
            )
        if len(together) > MOST_AGREED:
            yield self.count("{number} more", "{number} more", len(together) - MOST_AGREED)

    def _still_to_look_at(self) -> Iterable[str]:
        """What was not checked, by what it looks at, without a word about why."""
        pages: dict[str, set[int]] = {}
        for gap in self.report.unchecked:
            check = gap.check.partition(".")[0]
            numbers = pages.setdefault(check if check in SUBJECTS else "all", set())
            numbers |= {gap.page} if gap.page is not None else set()
        for check, numbers in pages.items():
            subject = self.say(SUBJECTS[check if numbers or check != "all" else "file"])
            yield f"{subject} ({self.language.pages(numbers)})" if numbers else subject

    def _how_to_go_on(self) -> Iterable[str]:
        shop = self.shop
        if self.items.changes or self.items.decisions:
            yield from self._where_to_send()
            if shop.deadline:
                yield self.say(_("Deadline: {deadline}"), deadline=shop.deadline)
            if shop.fees:
                yield self.say(_("What it costs if we make the change: {fees}"), fees=shop.fees)
            if self.items.changes:
                yield self.say(_("If you would rather not change the file yourself, please talk to us."))
        else:
            yield self.say(_("There is nothing you need to do."))
        yield self.say(_("We look at how the file prints; we do not read the text for spelling or content."))

    def _where_to_send(self) -> Iterable[str]:
        shop = self.shop
        if shop.upload:
            if self.items.decisions and shop.email:
                yield self.say(_("Please send your answer to {address}."), address=shop.email)
            elif self.items.decisions:
                yield self.say(_("Please send your answer as a reply to this message."))
            yield self.say(_("Please send a new file here: {address}"), address=shop.upload)
        elif shop.email and self.items.decisions:
            yield self.say(_("Please send your answer or a new file to {address}."), address=shop.email)
        elif shop.email:
            yield self.say(_("Please send a new file to {address}."), address=shop.email)
        elif self.items.decisions:
            yield self.say(_("Please send your answer or a new file as a reply to this message."))
        else:
            yield self.say(_("Please send a new file as a reply to this message."))

    def _contact(self) -> Section:
        shop = self.shop
        lines = [shop.contact]
        lines += [self.say(_("Telephone: {number}"), number=shop.phone)] if shop.phone else []
        lines += [self.say(_("E-mail: {address}"), address=shop.email)] if shop.email else []
        lines += [shop.web, *shop.address]
        lines = [line for line in lines if line]
        if not lines:
            lines = [self.say(_("If you have a question, please reply to this message."))]
        return Section(self.say(_("If you have questions")), before=tuple(lines))


def _is_known(text: str, values: dict[str, str]) -> bool:
    try:
        text.format(**values)
    except KeyError:
        return False
    return True


def _check_of(item: Item) -> str:
    return item.findings[0].id.partition(".")[0]


def _is_same_point(one: Item, other: Item) -> bool:
    return one.wording is other.wording if one.wording else one.findings[0].id == other.findings[0].id
