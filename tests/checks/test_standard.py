"""The table of what PDF/X asks for, and what is said where facts are missing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from by_hand import document_of, file_answers, ids, job_of, judged, not_judged, page_answers, page_of, summary
from claim_cases import CASES

from preflight.checking import all_checks
from preflight.findings import Found, Unchecked
from preflight.inventory.model import ClaimFacts, ClaimSight, FontFact, OutputIntent
from preflight.pdfx import NOT_EXAMINED, REQUIREMENTS, requirements_of
from preflight.pdfx_parts import PARTS, part_of
from preflight.report.explain import explain_text

#: Requirements whose breaks are files of their own in the tests of artwork.
ELSEWHERE = {"object-streams", "file-identifier", "pdf-version", "metadata-agree", "fonts"}

KEPT = ClaimFacts(
    claim="PDF/X-4",
    xmp_version="PDF/X-4",
    xmp_version_in=("pdfxid",),
    header_version="1.6",
    trapped="False",
    has_file_id=True,
    in_xmp=("Title", "CreationDate", "ModDate"),
)
FOGRA39 = OutputIntent(
    "GTS_PDFX", "FOGRA39", profile_components=4, profile_bytes=500, profile_class="prtr", profile_space="CMYK", profile_version="2.4"
)  # fmt: skip


def answers(claim: ClaimFacts = KEPT, pages: int = 1, **facts):
    values = {"intents": (FOGRA39,), "claim": claim} | facts
    summaries = [replace(summary(number), claim_sights=facts.pop("sights", ())) for number in range(1, pages + 1)]
    values.pop("sights", None)
    return file_answers("standard", summaries, job_of(), document_of(pages=pages, **values))


def keys(found) -> list[str]:
    return sorted(answer.details["requirement"] for answer in found if isinstance(answer, Found))


def test_facts_of_a_kept_claim():
    assert keys(answers()) == []


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_each_part_asks_each_thing_once(part):
    asked = [requirement.key for requirement in requirements_of(part)]
    assert len(asked) == len(set(asked))
    assert {"fonts", "output-intent", "page-boxes", "encryption"} <= set(asked)


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_a_part_is_known_by_what_it_must_say(part):
    claim = ClaimFacts(claim=part.version, info_conformance=part.conformance)
    assert part_of(claim) == part


def test_every_requirement_is_broken_by_some_case():
    broken = {key for _, key, parts in CASES.values() if parts}
    assert broken | ELSEWHERE == {requirement.key for requirement in REQUIREMENTS}


def test_every_requirement_has_a_twin_that_keeps_it():
    """Requirements without a silent case of their own are kept by every file that keeps its claim."""
    kept = {key for _, key, parts in CASES.values() if not parts}
    assert {
        "actions",
        "annotations",
        "transparency",
        "transfer-curves",
        "halftones",
        "box-nesting",
        "page-boxes",
    } <= kept


def test_explain_names_what_is_not_examined():
    words = " ".join(explain_text("standard").split())
    for item in NOT_EXAMINED:
        assert item in words
    assert all(part.standard.removeprefix("ISO 15930") in words for part in PARTS)


def test_severity_and_words():
    finding = judged("standard", answers(encrypted=True), job_of())
    assert ids(finding) == ["standard.claim-broken ask"]
    assert finding[0].message == (
        "The file says it is PDF/X-4 and breaks it: the file is not encrypted (ISO 15930-7:2010, clause 6 (encryption)). "
        "Found: the file is encrypted."
    )
    for word in ("encrypt", "clause", "ISO", "object"):
        assert word not in finding[0].remedy


@pytest.mark.parametrize("fact", ["boxes", "paint", "fonts", "claim"])
def test_a_page_that_could_not_be_read_is_unchecked(fact):
    page = page_of(unknown={fact: "the engine gave up"})
    assert page_answers("standard", page, job_of(), document_of(claim=KEPT)) == [
        Unchecked("standard", 1, "the engine gave up")
    ]
    assert page_answers("standard", page, job_of(), document_of()) == []


@pytest.mark.parametrize(("embedded", "visible", "told"), [(None, True, 1), (None, False, 0), (True, True, 0)])
def test_a_font_nobody_knows_about(embedded, visible, told):
    page = page_of(fonts=(FontFact("Fern", "TrueType", embedded, used_visibly=visible),))
    assert len(page_answers("standard", page, job_of(), document_of(claim=KEPT))) == told


@pytest.mark.parametrize(
    ("fact", "unanswered"),
    [
        ("intents", {"blend-space", "output-intent", "printing-condition", "intent-profile", "device-colours"}),
        ("document", {"postscript", "opi", "external-content", "preseparated"}),
        ("layers", set()),
    ],
)
def test_file_facts_that_are_missing_are_unchecked(fact, unanswered):
    found = answers(unknown={fact: "damaged"})
    assert {answer.why.split(": ")[0].split(", ")[1] for answer in found if isinstance(answer, Unchecked)} == unanswered
    assert keys(found) == []


def test_metadata_or_filters_that_are_missing_are_unchecked():
    found = answers(
        replace(KEPT, in_xmp=(), details={"xmp": "cannot be read", "filters": "only the first were looked at"})
    )
    unanswered = {answer.why.split(": ")[0] for answer in found if isinstance(answer, Unchecked)}
    assert {key.removeprefix("PDF/X-4, ") for key in unanswered} == {
        "identification", "trapped", "title", "dates", "metadata-agree", "compression",
    }  # fmt: skip
    assert keys(found) == []


def test_long_lists_are_cut_in_the_message_and_whole_in_the_details():
    sights = tuple(ClaimSight("annotation", f"Kind{number}", 1, "annotation", number) for number in range(1, 10))
    (finding,) = judged("standard", answers(sights=sights), job_of())
    assert finding.count == 9
    assert "and 5 more" in finding.message
    assert len(finding.details["places"]) == 9


def test_other_parts_and_image_files():
    assert not_judged(answers(replace(KEPT, claim="PDF/X-5pg"))) == [
        "the file says it is PDF/X-5pg: that part of PDF/X is not held against"
    ]
    assert answers(kind="tiff") == []
    assert answers(ClaimFacts()) == []


def test_the_check_looks_at_no_more_than_the_claim():
    """Files without a claim cost nothing: only what a claim is read from is asked for."""
    assert all_checks()["standard"].needs == {"claim"}
