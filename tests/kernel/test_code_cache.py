"""Machine code on disk that was torn or changed is made anew, and never run."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from fejoint.kernel import code_cache, compiled

numba = pytest.importorskip("numba")


def thrice(x: float) -> float:
    return 3.0 * x


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Take one function from a folder of its own: what it says, damaged before, read from disk."""
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(compiled, "_not_cached", [])

    def call() -> tuple[float, int, int]:
        monkeypatch.setattr(compiled, "_made_anew", [])
        made = compiled.jit("float64(float64)")(thrice)
        assert compiled._not_cached == []
        return made(14.0), compiled.made_anew(), sum(made.stats.cache_hits.values())

    return call


def kept(tmp_path: Path) -> list[Path]:
    return sorted(p for p in tmp_path.rglob("*") if p.suffix in (".nbi", ".nbc"))


def test_code_is_kept_and_taken_again(run, tmp_path):
    assert run() == (42.0, 0, 0)
    assert len(kept(tmp_path)) == 2
    assert run() == (42.0, 0, 1)


def damage(path: Path, how: str, rng: random.Random) -> None:
    raw = bytearray(path.read_bytes())
    if how == "torn":
        del raw[rng.randrange(len(raw)) :]
    elif how == "flipped":
        raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
    elif how == "emptied":
        raw.clear()
    else:
        raw[:] = b"cos\nsystem\n(S'echo obeyed'\ntR."  # a pickle that runs a command
    path.write_bytes(raw)


@pytest.mark.sampled
def test_damaged_code_is_replaced_and_told_once(run, tmp_path, draws, tally, capfd):
    rng = random.Random(4)
    run()
    count = draws(200)
    for k in range(count):
        which = rng.choice([*kept(tmp_path), *tmp_path.rglob("*.sha256")])
        damage(which, ["torn", "flipped", "emptied", "foreign"][k % 4], rng)
        assert run() == (42.0, 1, 0)
        assert run() == (42.0, 0, 1)
    tally(f"{count} of {count} damaged pieces of machine code made anew")
    assert "obeyed" not in capfd.readouterr().out


def test_code_without_a_seal_is_made_anew_in_silence(run, tmp_path):
    run()
    for seal in tmp_path.rglob("*.sha256"):
        seal.unlink()
    assert run() == (42.0, 0, 0)
    assert run() == (42.0, 0, 1)


def test_code_that_cannot_be_removed_is_not_run(run, tmp_path, monkeypatch):
    run()
    for path in kept(tmp_path):
        path.write_bytes(b"torn")

    def refuse(kept):
        raise PermissionError

    monkeypatch.setattr(code_cache.KeptCode, "remove", refuse)
    assert compiled.jit("float64(float64)")(thrice)(14.0) == 42.0
    assert compiled._not_cached == ["thrice"]
