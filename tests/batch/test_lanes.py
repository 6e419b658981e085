"""What a run over a folder loads once, so that no child loads it again."""

from __future__ import annotations

import json
import re
import struct
import subprocess
import sys
from collections import Counter

import pytest
from artwork import Book, mm
from night import small_pdf
from pictured import texture
from PIL import Image
from symbols import drawn, ean_13

from preflight import fork_server

_IN_A_CHILD = """
import gc, importlib, json, sys
from pathlib import Path

for name in json.loads(sys.argv[1]):
    importlib.import_module(name)
from preflight import flow
from preflight.rules import settle

job = settle(None, None).to_check_by
folder = Path(sys.argv[2])
pictures = folder / "pictures"
pictures.mkdir()
before = set(sys.modules)
for path in sorted(folder.glob("*.*")):
    told = []
    numbers = (number for number in [1] if told[0].pages)
    flow.examine(path, path.name, job, numbers, told.append, pictures)
    assert isinstance(told[-1], flow.PageResult), told
print(json.dumps(sorted(set(sys.modules) - before)))
"""


@pytest.fixture
def artwork(tmp_path):
    """Files that need all that is needed now and then: pictures of several kinds, a bar code, too much ink."""
    folder = tmp_path / "in"
    folder.mkdir()
    sheet = Image.fromarray(texture(900, 600))
    sheet.convert("CMYK").save(folder / "a.tif", dpi=(300, 300))
    sheet.paste(128, (0, 300, 900, 600))  # as a JPEG looks that lacks its last rows
    for name in ("b.jpg", "c.png", "d.webp"):
        sheet.convert("RGB").save(folder / name, dpi=(300, 300))
    # Header, neither palette nor resources nor layers, rows as they are.
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, 3, 60, 30, 8, 3) + bytes(12)
    (folder / "f.psd").write_bytes(head + bytes(2 + 60 * 30 * 3))
    book = Book()
    book.page(f"1 1 1 1 k {mm(10)} {mm(60)} {mm(50)} {mm(30)} re f 0 0 0 1 k {drawn(ean_13(), 20, 20, 0.33)}")
    book.save(folder / "e.pdf")
    return folder


def test_no_child_of_a_run_loads_anything(artwork):
    loaded = [*fork_server._PRELOAD, fork_server._PICTURES, *fork_server.NOW_AND_THEN]
    child = subprocess.run(
        [sys.executable, "-c", _IN_A_CHILD, json.dumps(loaded), artwork], capture_output=True, text=True, check=False
    )
    assert child.returncode == 0, child.stderr
    assert json.loads(child.stdout) == []


def test_no_child_loads_anything_to_hear_its_errand(tmp_path):
    """Up to there a child still has the run's standard error, where ``-X importtime`` tells each module it looks for."""
    files = 15
    for number in range(files):
        small_pdf(tmp_path / "in" / f"{number}.pdf", number)
    command = [sys.executable, "-X", "importtime", "-m", "preflight", "batch", "in", "--out", "out", "--jobs", "1"]
    run = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert run.returncode == 0
    told = Counter(re.findall(r"^import time: .*\| +(\S+)$", run.stderr, re.MULTILINE))
    # By the run itself, the server that children are forked from, and a process that looks after shared resources.
    assert told["multiprocessing"] == 3
    assert {module for module, times in told.items() if times >= files} == set()
