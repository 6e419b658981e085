"""Live transparency where it is forbidden, blend spaces; and what must be left alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from by_hand import document_of, ids, job_of, judged, page_answers
from inked import K100, area, page_with, picture

from preflight.findings import Finding, Severity
from preflight.inventory.model import ClaimFacts

BOX = (10.0, 10.0, 60.0, 40.0)
LIVE: dict[str, Any] = {"transparency": ("opacity under 100 %",), "has_group": True, "group_family": "cmyk"}


def findings(claim: str | None = None, forbidden: bool = False, kind: str = "pdf", **facts: Any) -> list[Finding]:
    job = job_of()
    if forbidden:
        table = job.severity["transparency"] | {"live": Severity.STOP}
        job = replace(job, severity=job.severity | {"transparency": table})
    page = page_with(area(K100, BOX, alpha=0.5), area(K100, (0, 0, 90, 70)), spread={}, **facts)
    answers = page_answers("transparency", page, job, document_of(kind, claim=ClaimFacts(claim=claim)))
    return judged("transparency", answers, job)


@pytest.mark.parametrize("claim", ["PDF/X-1a:2001", "PDF/X-1a:2003", "PDF/X-3:2002", "PDF/X-3:2003"])
def test_a_claim_that_forbids_transparency(claim):
    (finding,) = findings(claim, **LIVE)
    assert (finding.id, finding.severity) == ("transparency.live", "ask")
    assert finding.details["mild"] is True
    assert finding.box_mm == list(BOX)
    assert claim in finding.message


def test_a_shop_that_forbids_transparency():
    (finding,) = findings(None, forbidden=True, **LIVE)
    assert (finding.id, finding.severity) == ("transparency.live", "stop")
    assert ids(findings("PDF/X-3:2003", forbidden=True, **LIVE)) == ["transparency.live stop"]


@pytest.mark.parametrize("claim", [None, "PDF/X-4", "PDF/X-6"])
def test_transparency_is_welcome_otherwise(claim):
    assert findings(claim, **LIVE) == []


@pytest.mark.parametrize("claim", ["PDF/X-1a:2001", "PDF/X-3:2003"])
def test_nothing_transparent_breaks_no_claim(claim):
    assert findings(claim, has_group=True, group_family="cmyk") == []


@pytest.mark.parametrize(
    ("has_group", "family"), [(True, "rgb"), (True, "icc-rgb"), (True, "cal-rgb"), (True, None), (False, None)]
)
def test_transparency_mixed_in_rgb_or_in_nothing(has_group, family):
    (finding,) = findings(**LIVE | {"has_group": has_group, "group_family": family})
    assert (finding.id, finding.severity) == ("transparency.blend-space", "ask")
    assert finding.details["blend_space"] == family
    assert "mild" not in finding.details


def test_an_rgb_group_where_nothing_is_transparent_is_a_note():
    (finding,) = findings(has_group=True, group_family="rgb")
    assert (finding.id, finding.severity) == ("transparency.blend-space", "note")
    assert finding.details["mild"] is True


@pytest.mark.parametrize(
    "facts",
    [
        pytest.param(LIVE, id="CMYK"),
        pytest.param(LIVE | {"group_family": "icc-cmyk"}, id="CMYK with a profile"),
        pytest.param({}, id="nothing transparent, no group"),
        pytest.param({"has_group": True}, id="nothing transparent, a group without a space"),
    ],
)
def test_blend_spaces_left_alone(facts):
    assert findings(**facts) == []


def test_image_files_have_no_blend_space():
    assert findings("PDF/X-3:2003", kind="tiff", transparency=("soft mask of a picture",)) == []


def test_a_picture_with_a_soft_mask_is_the_place():
    shown = picture(BOX)
    assert shown.image is not None
    masked = replace(shown, image=replace(shown.image, mask_bits=8))
    job = job_of()
    page = page_with(area(K100, (0, 0, 90, 70)), masked, spread={}, transparency=("soft mask of a picture",))
    (finding,) = judged("transparency", page_answers("transparency", page, job), job)
    assert finding.box_mm == list(BOX)
