"""Files that we wrote, then changed: each is told in a line, or gives what it gave before."""

from __future__ import annotations

import random
import shutil
import tomllib

import numpy as np
import pytest
from support import DEMO, cheap
from support.anything import is_readable
from support.mutants import damage_bytes, damage_cell
from support.written_logs import written

import fejoint
from fejoint.errors import BadInput
from fejoint.measured import caliper, log_reader, results_book
from fejoint.measured.results_book import Entry
from fejoint.studies.sweeps import store
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse

pytestmark = pytest.mark.sampled
FULL = 500


@pytest.fixture(scope="module")
def joint():
    return fejoint.load(DEMO)


def told_or(read, *given, **named):
    """Return what was read, or None where a line said why not; nothing else may be raised."""
    try:
        return read(*given, **named)
    except BadInput as refused:
        bad = refused
    assert is_readable(bad), str(bad)
    return None


def by_joint(frame):
    drop = [c for c in ("wall_s", "key") if c in frame]
    rows = frame.drop(columns=drop).astype(object).where(frame.drop(columns=drop).notna(), None)
    return {row["joint"]: row for row in rows.to_dict("records")}


def test_no_mutant_of_a_sweep_s_rows_is_taken_for_one(joint, tmp_path, draws, tally):
    rng, told, right = random.Random(251), 0, 0
    plan = Plan(joint, (parse("ear.hole=3.9,4.1,4.2 mm"), parse("ear.width=14,15 mm")))
    whole = tmp_path / "whole"
    expected = by_joint(run(plan, {}, model=cheap.closed_form, folder=whole, workers=0).frame)
    for k in range(draws(FULL)):
        folder = tmp_path / "mutant"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        shutil.copy(whole / store.FILE, folder)
        how = (damage_bytes, damage_cell)[k % 2](folder / store.FILE, rng)
        found = told_or(store.read, folder)
        if found is not None and len(found):
            rows = by_joint(found)
            assert rows.keys() == expected.keys(), how
            for number, row in rows.items():
                if row["state"] != "not solved yet":
                    assert {c: row[c] for c in expected[number]} == expected[number], how
        again = told_or(run, plan, {}, model=cheap.closed_form, folder=folder, workers=0)
        told, right = told + (again is None), right + (again is not None)
        assert again is None or by_joint(again.frame) == expected, how
    tally(f"{told} told in a line, {right} resumed to the table of an unharmed sweep")
    assert right > told > 0


def test_no_mutant_of_a_book_is_taken_for_one(joint, tmp_path, draws, tally):
    rng, told, same = random.Random(252), 0, 0
    whole, file = tmp_path / "whole.sqlite", tmp_path / "book.sqlite"
    for k in range(4):
        entry = Entry(
            "Anchor", f"log {k}", "peak", 9000.0 + k, 9500.0, "pin bends", data_digest=f"{k}"
        )
        results_book.add(whole, joint, [entry])
    expected = results_book.entries(whole)
    for k in range(draws(FULL)):
        shutil.copy(whole, file)
        how = (damage_bytes, damage_cell)[k % 2](file, rng)
        found = told_or(results_book.entries, file)
        told, same = told + (found is None), same + (found is not None)
        # a pull that is not there is seen by its number; what is there is as it was entered
        assert found is None or all(entry in expected for entry in found), how
        told_or(results_book.strike, file, 2)
        told_or(results_book.add, file, joint, [expected[0]])
    tally(f"{told} told in a line, {same} read as they were entered")
    assert told > 0
    assert same > 0


def test_a_mutant_of_a_caliper_sheet_is_read_within_its_limits_or_told(
    joint, tmp_path, draws, tally
):
    rng, told, kept = random.Random(253), 0, 0
    text = caliper.blank(joint).replace('peak = ""', 'peak = "850 kgf"')
    text = text.replace('before = ""', 'before = "4.1 mm"').replace('after = ""', "after = 4.2")
    file = tmp_path / "sheet.toml"
    sheet = caliper.read(tomllib.loads(text))
    assert sheet.holes
    for _ in range(draws(FULL)):
        file.write_text(text, encoding="utf-8")
        how = damage_bytes(file, rng)
        found = told_or(caliper.load, file)
        told, kept = told + (found is None), kept + (found == sheet)
        if found is not None:
            assert 1.0 <= found.peak <= 1e8, how
            lengths = [(h.before, h.after) for h in found.holes]
            assert all(0.1 <= x <= 1e3 for pair in lengths for x in pair), how
    tally(f"{told} told in a line, {kept} not changed in what they say")
    assert told > 0


def test_a_mutant_of_a_log_is_finite_numbers_or_told(tmp_path, draws, tally):
    rng, told, read = random.Random(254), 0, 0
    file = tmp_path / "log.csv"
    for k in range(draws(FULL)):
        file.write_bytes(written(np.random.default_rng([254, k])).raw)
        how = damage_bytes(file, rng)
        found = told_or(log_reader.read_tests, file)
        told, read = told + (found is None), read + (found is not None)
        for log in found or ():
            assert np.isfinite(log.force).all(), how
    tally(f"{told} told in a line, {read} read as finite numbers")
    assert told > 0
    assert read > 0
