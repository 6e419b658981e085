"""A short run over spoilt files; ``tests/hostile/run.py`` makes long ones."""

from __future__ import annotations

import io
import os
import random
import subprocess
import sys
from pathlib import Path

from artwork import Book
from hostile import mutate
from hypothesis import given, settings
from hypothesis import strategies as st

HOSTILE = Path(__file__).parent / "hostile"
FILES_CHECKED = 300


def test_spoilt_files_end_with_a_report(tmp_path):
    seed = random.SystemRandom().randrange(10**6)
    limits = [
        "--count",
        str(FILES_CHECKED),
        "--seed",
        str(seed),
        "--time-limit",
        "5",
        "--lanes",
        str(os.cpu_count() or 1),
    ]
    command = [sys.executable, HOSTILE / "run.py", *limits, "--keep", tmp_path]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=1800, check=False)
    assert ended.returncode == 0, f"seed {seed}\n{ended.stdout}\n{ended.stderr}"


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(mutate.BLIND_HANDS))
def test_same_seed_spoils_the_same_way(seed, hand):
    data = bytes(range(256)) * 40
    spoilt = hand(data, random.Random(seed))
    assert spoilt == hand(data, random.Random(seed))


def test_every_hand_changes_a_good_pdf():
    book = Book()
    book.page("/P Do", resources={"P": book.image(20, 20)})
    book.page("0 0 0 1 k 0 0 9 9 re f")
    whole = io.BytesIO()
    book.pdf.save(whole, deterministic_id=True)
    for seed in range(len(mutate.HANDS)):
        name, spoilt = mutate.spoil(whole.getvalue(), seed)
        assert name == mutate.HANDS[seed].__name__
        assert spoilt != whole.getvalue(), name
