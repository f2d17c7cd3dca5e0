"""The fuzzer's corpus, and the fuzzer itself for a bounded time."""

from __future__ import annotations

import subprocess
import sys

import pytest
from support import ROOT
from support.parsers import CORPUS, PARSERS

SCRIPT = ROOT / "scripts" / "fuzz.py"
KEPT = sorted(path.relative_to(CORPUS).as_posix() for path in CORPUS.glob("*/*"))


@pytest.mark.parametrize("kept", KEPT)
def test_what_is_kept_is_read_or_refused(kept):
    PARSERS[kept.partition("/")[0]]((CORPUS / kept).read_bytes())


def test_the_corpus_covers_every_parser_and_is_small():
    assert {kept.partition("/")[0] for kept in KEPT} == set(PARSERS)
    assert sum((CORPUS / kept).stat().st_size for kept in KEPT) < 20_000


@pytest.mark.sampled
@pytest.mark.parametrize("parser", PARSERS)
def test_the_fuzzer_finds_nothing_in_its_time(parser, draws, tally, tmp_path):
    pytest.importorskip("atheris", reason="atheris is not installed: scripts/fuzz installs it")
    runs = draws(20_000)
    words = [sys.executable, str(SCRIPT), parser, "60", str(runs), str(tmp_path)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=120.0, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    assert list(tmp_path.iterdir()) == []
    tally(next(line for line in done.stderr.splitlines() if line.startswith("Done")))
