"""Trim boxes and sizes: the box rules of ISO 32000-2 Table 31, ISO 216 sizes, and the order's tolerance of half a millimetre."""

from __future__ import annotations

import pytest
from by_hand import boxes_of, document_of, file_answers, ids, job_of, judged, not_judged, summary

A4, A5 = (210.0, 297.0), (148.0, 210.0)  # ISO 216


def trims(*pages, document=None, **order):
    job = job_of(**order)
    return judged("trim", file_answers("trim", list(pages), job, document), job)


# --- the ordered size ---


@pytest.mark.parametrize(
    "size",
    [A5, (148.5, 210.0), (147.5, 210.5), (148.003, 209.997), (210.0, 148.0)],
    ids=["ISO 216 A5", "half a millimetre", "both ways", "rounding of points", "on its side"],
)
def test_within_half_a_millimetre_is_the_ordered_size(size) -> None:
    assert "trim.wrong-size" not in [finding.id for finding in trims(summary(trim_mm=size), trim_mm=A5)]


@pytest.mark.parametrize(
    ("size", "measured", "limit"),
    [
        ((148.6, 210.0), 148.6, 148.0),
        ((148.0, 209.4), 209.4, 210.0),
        ((140.0, 216.0), 140.0, 148.0),  # an American half letter: 8 mm off in width, 6 in height
        ((216.0, 140.0), 140.0, 148.0),  # the same on its side: compared in the orientation that fits
    ],
)
def test_a_wrong_size_measures_the_worse_side(size, measured, limit) -> None:
    (finding,) = trims(summary(trim_mm=size), trim_mm=A5)
    assert (finding.id, finding.severity, finding.unit) == ("trim.wrong-size", "stop", "mm")
    assert finding.measured == pytest.approx(measured)
    assert finding.limit == pytest.approx(limit)
    assert finding.details["trim_mm"] == list(size)
    assert finding.details["ordered_mm"] == list(A5)


def test_one_wrong_size_on_many_pages_is_told_once() -> None:
    pages = [summary(1, A5), summary(2, A4), summary(3, A4)]
    (finding,) = trims(*pages, trim_mm=A5)
    assert (finding.page, finding.count, finding.details["pages"]) == (2, 2, [2, 3])


def test_without_an_order_nothing_is_compared_with_it_and_that_is_said_once() -> None:
    answers = file_answers("trim", [summary(1), summary(2)], job_of())
    assert judged("trim", answers, job_of()) == []
    assert len(not_judged(answers)) == 1


def test_a_cover_is_compared_with_the_flat_size() -> None:
    flat = (148.0 * 2 + 6.0, 210.0)
    assert trims(summary(trim_mm=flat), trim_mm=flat, part="cover", spine_mm=6.0) == []


def test_a_cover_of_twice_the_width_is_no_spread() -> None:
    assert ids(trims(summary(trim_mm=(296.0, 210.0)), trim_mm=A5, part="cover")) == ["trim.wrong-size stop"]


# --- spreads, mixed, turned ---


@pytest.mark.parametrize("spread", [(296.0, 210.0), (297.0, 210.0)], ids=["2 x 148", "ISO 216 A4 lying"])
def test_spreads_are_told_instead_of_a_wrong_size(spread) -> None:
    (finding,) = trims(summary(1, spread), summary(2, spread), trim_mm=A5)
    assert ids([finding]) == ["trim.spread ask"]
    assert finding.measured == spread[0]
    assert finding.limit == 148.0


def test_an_upright_page_of_twice_the_width_is_no_spread() -> None:
    assert ids(trims(summary(trim_mm=A4), trim_mm=A5)) == ["trim.wrong-size stop"]


def test_pages_of_two_sizes_without_an_order() -> None:
    (finding,) = trims(summary(1, A5), summary(2, A4), summary(3, A5))
    assert ids([finding]) == ["trim.mixed-sizes ask"]
    assert (finding.page, finding.measured, finding.limit) == (2, 297.0, 210.0)


def test_rounding_does_not_make_sizes_differ() -> None:
    assert trims(summary(1, A5), summary(2, (148.17, 209.9)), summary(3, (148.5, 210.0))) == []


def test_landscape_among_portrait_is_turned() -> None:
    (finding,) = trims(summary(1, A5), summary(2, A5), summary(3, A5[::-1]))
    assert ids([finding]) == ["trim.turned ask"]
    assert (finding.page, finding.measured, finding.limit, finding.unit) == (3, None, None, None)


def test_turned_against_the_order() -> None:
    (finding,) = trims(summary(1, A5[::-1]), summary(2, A5[::-1]), trim_mm=A5)
    assert ids([finding]) == ["trim.turned ask"]
    assert finding.details["pages"] == [1, 2]


@pytest.mark.parametrize("order", [{}, {"trim_mm": (120.0, 120.0)}], ids=["no order", "ordered"])
def test_a_square_is_never_turned(order) -> None:
    assert trims(summary(1, (120.0, 120.0)), summary(2, (120.1, 119.9)), summary(3, (119.9, 120.1)), **order) == []


# --- boxes ---


def test_no_trim_box_asks_and_says_what_is_taken() -> None:
    page = summary(trim_mm=(120.0, 100.0), trim_from="crop-box", boxes=boxes_of(None, None))
    (finding,) = trims(page)
    assert ids([finding]) == ["trim.undefined ask"]
    assert "media box" in finding.message
    assert finding.details["taken"] == "crop-box"


def test_no_trim_box_on_a_page_of_another_size_than_ordered() -> None:
    page = summary(trim_mm=(120.0, 100.0), trim_from="crop-box", boxes=boxes_of(None, None))
    assert ids(trims(page, trim_mm=A5)) == ["trim.wrong-size stop", "trim.undefined ask"]


@pytest.mark.parametrize(
    ("trim_from", "why"),
    [("ticket", "with the same margin on all sides."), ("crop-box", "which is the ordered size.")],
    ids=["even margin", "exactly the ordered size"],
)
def test_no_trim_box_where_the_order_settles_it_is_a_note(trim_from, why) -> None:
    page = summary(trim_mm=A5, trim_from=trim_from, boxes=boxes_of(None, None))
    (finding,) = trims(page, trim_mm=A5)
    assert ids([finding]) == ["trim.undefined note"]
    assert finding.details["mild"] is True
    assert finding.message.endswith(why)


def test_an_art_box_stands_in_for_the_trim_box() -> None:
    boxes = boxes_of(None, None, art=(10.0, 10.0, 110.0, 90.0))
    assert trims(summary(trim_from="art-box", boxes=boxes)) == []


@pytest.mark.parametrize(
    ("boxes", "what", "past"),
    [
        (boxes_of(bleed=(12.0, 10.0, 110.0, 90.0)), "bleed box is smaller", 2.0),
        (boxes_of(media=(105.0, 100.0), bleed_mm=None), "outside the media box", 5.0),
    ],
)
def test_boxes_that_contradict_each_other_are_asked_about(boxes, what, past) -> None:
    findings = [finding for finding in trims(summary(boxes=boxes)) if finding.severity == "ask"]
    (finding,) = findings
    assert finding.id == "trim.boxes-crossed"
    assert what in finding.message
    assert finding.measured == pytest.approx(past)


def test_crossed_boxes_are_measured_with_the_user_unit() -> None:
    small = boxes_of(bleed=(11.0, 10.0, 110.0, 90.0))
    boxes = type(small)(**{**vars(small), "user_unit": 2.0})
    (finding,) = (each for each in trims(summary(boxes=boxes, user_unit=2.0)) if each.id == "trim.boxes-crossed")
    assert finding.measured == pytest.approx(2.0)


@pytest.mark.parametrize(
    "boxes",
    [boxes_of(crop=(10.0, 10.0, 110.0, 90.0)), boxes_of(art=(15.0, 15.0, 105.0, 85.0))],
    ids=["crop box within the bleed", "art box beside the trim"],
)
def test_harmless_boxes_are_notes(boxes) -> None:
    (finding,) = trims(summary(boxes=boxes))
    assert ids([finding]) == ["trim.boxes-crossed note"]


@pytest.mark.parametrize(
    "boxes",
    [
        boxes_of(),
        boxes_of(bleed_mm=None),
        boxes_of(bleed_mm=0.0),
        boxes_of(crop=(0.0, 0.0, 120.0, 100.0)),
        boxes_of(bleed=(10.03, 10.0, 110.0, 90.0)),
    ],
    ids=["usual", "no bleed box", "bleed box = trim box", "crop box = media box", "0.03 mm of rounding"],
)
def test_ordinary_boxes_are_silent(boxes) -> None:
    assert trims(summary(boxes=boxes)) == []


def test_a_user_unit_is_a_note() -> None:
    (finding,) = trims(summary(trim_mm=(254.0, 254.0), user_unit=2.0), trim_mm=(254.0, 254.0))
    assert ids([finding]) == ["trim.scaled note"]
    assert (finding.measured, finding.limit, finding.unit) == (2.0, 1.0, None)


# --- image files ---


def test_an_image_has_no_boxes_to_judge() -> None:
    document = document_of("tiff")
    assert trims(summary(trim_mm=A5, trim_from="image", boxes=None), document=document, trim_mm=A5) == []


def test_an_image_is_held_against_its_printed_size() -> None:
    page = summary(trim_mm=(50.0, 70.0), trim_from="image", boxes=None)
    document = document_of("jpeg")
    assert trims(page, document=document, trim_mm=A5, printed_size_mm=(50.0, 70.0)) == []
    assert ids(trims(page, document=document, trim_mm=A5, printed_size_mm=(60.0, 84.0))) == ["trim.wrong-size stop"]


def test_an_image_of_unknown_size_is_not_judged() -> None:
    page = summary(trim_mm=None, trim_from="image", boxes=None)
    answers = file_answers("trim", [page], job_of(trim_mm=A5), document_of("png"))
    assert judged("trim", answers, job_of(trim_mm=A5)) == []
    assert any("size" in why for why in not_judged(answers))
