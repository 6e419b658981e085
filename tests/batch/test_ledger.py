"""Results kept by content: found again whole, never half, never under other rules, ticket, version or tighter limits."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

import preflight.batch.ledger as ledger_module
from preflight.batch.ledger import Ledger, Result, key_of, scratch_in, sha256_of
from preflight.errors import UsageFault
from preflight.isolate import Limits

RESULT = Result("k" * 32, "a.pdf", "go", "0" * 64, 10, 1, 0.2, {"stop": 0}, time_limit_s=10.0, memory_limit_mb=500)


@pytest.fixture
def ledger(tmp_path):
    ledger = Ledger(tmp_path / "out")
    ledger.folder.mkdir(parents=True)
    return ledger


def test_what_was_kept_is_read_again(ledger):
    odd = replace(RESULT, name="caf\udce9\n\U0001f338.pdf", faults=["bleed.missing"], worst="<b>")
    ledger.keep(odd)
    assert ledger.read(odd.key) == odd
    ledger.keep(odd)
    assert [path.name for path in ledger.folder.iterdir()] == [f"{odd.key}.json"]


def test_key_is_content_rules_ticket_and_version(monkeypatch):
    key = key_of("a", "b", "c")
    assert key == key_of("a", "b", "c")
    assert len({key, key_of("x", "b", "c"), key_of("a", "x", "c"), key_of("a", "b", "x"), key_of("ab", "", "c")}) == 5
    monkeypatch.setattr(ledger_module, "__version__", "99.0")
    assert key_of("a", "b", "c") != key


def test_sha256_is_the_standards_own(tmp_path):
    """FIPS 180-4, the example of three letters."""
    (tmp_path / "abc").write_bytes(b"abc")
    assert sha256_of(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize("spoilt", ["", "{", "[]", '{"key": 1}', '{"unknown": 1}', "null", "[" * 100_000])
def test_half_a_result_is_none(ledger, spoilt):
    (ledger.folder / f"{RESULT.key}.json").write_text(spoilt)
    assert ledger.read(RESULT.key) is None


@pytest.mark.parametrize(
    "odd",
    [
        {"name": 5},
        {"faults": "bleed"},
        {"counts": {"stop": "2"}},
        {"seconds": None},
        {"pages": "1"},
        {"unchecked": [1]},
    ],
)
def test_value_of_another_kind_is_none(ledger, odd):
    ledger.keep(RESULT)
    path = ledger.folder / f"{RESULT.key}.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | odd))
    assert ledger.read(RESULT.key) is None


def test_unknown_verdict_is_none(ledger):
    ledger.keep(RESULT)
    path = ledger.folder / f"{RESULT.key}.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {"verdict": "fine"}))
    assert ledger.read(RESULT.key) is None


def test_result_without_its_report_is_none(ledger):
    ledger.keep(replace(RESULT, report="reports/a"))
    assert ledger.read(RESULT.key) is None
    (ledger.out / "reports/a").mkdir(parents=True)
    (ledger.out / "reports/a/report.json").write_text("{}")
    assert ledger.read(RESULT.key) is not None


def test_answer_spoilt_by_a_limit_is_not_good_enough_under_a_higher_one(ledger):
    ledger.keep(replace(RESULT, verdict="unchecked", unchecked=["not finished within the time limit of 10 s"]))
    assert ledger.read(RESULT.key, Limits(10.0, 500)) is not None
    assert ledger.read(RESULT.key, Limits(5.0, 100)) is not None
    assert ledger.read(RESULT.key, Limits(11.0, 500)) is None
    assert ledger.read(RESULT.key, Limits(10.0, 501)) is None
    ledger.keep(RESULT)  # the twin: a full answer holds under any limit
    assert ledger.read(RESULT.key, Limits(11.0, 501)) == RESULT


def test_only_one_run_holds_a_folder(tmp_path):
    with Ledger(tmp_path).held():
        with pytest.raises(UsageFault, match="another run is using this folder"), Ledger(tmp_path).held():
            pass
        with Ledger(tmp_path / "other").held():
            pass
    with Ledger(tmp_path).held():
        pass


def test_what_a_killed_run_left_half_written_is_swept(ledger):
    ledger.keep(RESULT)
    with scratch_in(ledger.scratch) as scratch:
        (scratch / "1.png").write_bytes(b"x")
    left = [ledger.folder / ".k.json.abc.part", ledger.out / ".summary.json.abc.part", ledger.scratch / "old" / "1.png"]
    for path in left:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"half")
    with ledger.held():
        assert not any(path.exists() for path in left)
        assert ledger.read(RESULT.key) == RESULT
    assert not ledger.scratch.exists()
