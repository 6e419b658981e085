"""Fuzzes what this tool parses itself, guided by the code that runs; for as long as is wished.

    python tests/hostile/fuzz.py ticket --seconds 600       (needs atheris: the extra [fuzz])

Targets: ticket, rules, report, result (``parsing.py``). What fails is printed, and kept in the folder it was started in as ``crash-...``;
``python tests/hostile/fuzz.py ticket crash-...`` runs it again. What is found good on the way is kept in ``--corpus`` for the next time.
The short run of every test run is done by hypothesis (``tests/test_parsing.py``).
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from pathlib import Path

import atheris

sys.path[:0] = [str(Path(__file__).resolve().parents[1])]

with atheris.instrument_imports(include=["preflight", "tomllib"]):
    from hostile.parsing import TARGETS, seeds


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("again", nargs="*", help="kept inputs to run again")
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--corpus", type=Path)
    asked = parser.parse_args()
    scratch = Path(tempfile.mkdtemp(prefix="preflight-fuzz-"))
    corpus = asked.corpus or scratch / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    words: set[bytes] = set()
    for number, seed in enumerate(seeds()[asked.target]):
        (corpus / f"seed-{number}").write_bytes(seed)
        words |= set(re.findall(rb"[A-Za-z_][\w-]{2,40}", seed))
    dictionary = scratch / "words"
    dictionary.write_text("".join(f'"{word.decode()}"\n' for word in sorted(words)))
    run = TARGETS[asked.target]
    options = [f"-max_total_time={asked.seconds}", f"-dict={dictionary}", "-max_len=20000", "-timeout=60"]
    atheris.Setup([sys.argv[0], *options, *(asked.again or [str(corpus)])], lambda data: run(data, scratch))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
