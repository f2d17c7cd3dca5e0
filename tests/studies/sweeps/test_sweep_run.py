"""Running a sweep: rows, faults, cache, and what survives a kill."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing

import pandas as pd
import psutil
import pytest
from support import DEMO, ROOT, cheap

import fejoint
from fejoint.analysis import pull
from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps import store
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse


def plan_of(joint, *texts):
    return Plan(joint, tuple(parse(text) for text in texts))


def same_tables(one, other):
    drop = [c for c in one_joint.COST if c in one]
    pd.testing.assert_frame_equal(
        one.drop(columns=drop), other.drop(columns=drop), check_exact=True
    )


def test_a_faulty_joint_becomes_a_row_with_its_reason(joint):
    rows = plan_of(joint, "ear.hole=3.9,4.1 mm", "ear.width=14,15 mm")
    frame = run(rows, {}, model=cheap.fails_on_wide, workers=0).frame
    assert list(frame["state"]) == ["refused", "refused", "solved", "failed"]
    assert "at least the pin's diameter" in frame["reason"][0]
    assert frame["reason"][3] == "ArithmeticError: no equilibrium"
    assert list(frame["ear.hole_mm"]) == [3.9, 3.9, 4.1, 4.1]


def test_a_plan_without_any_joint_is_refused(joint):
    with pytest.raises(BadInput, match="no joint at all"):
        run(plan_of(joint, "ear.hole=3,3.9 mm"), {}, model=cheap.closed_form, workers=0)


def test_a_failed_joint_is_tried_again_and_a_solved_one_is_not(joint, tmp_path):
    rows = plan_of(joint, "ear.width=14,15 mm")
    first = run(rows, {}, model=cheap.fails_on_wide, folder=tmp_path, workers=0)
    again = run(rows, {}, model=cheap.fails_on_wide, folder=tmp_path, workers=0)
    assert (first.solved, again.solved, again.known) == (2, 1, 1)


def test_ctrl_c_keeps_what_was_solved_and_tells_so(joint, tmp_path):
    rows = plan_of(joint, "ear.width=13,14,15,16 mm")
    table = run(rows, {}, model=cheap.stopped_by_hand, folder=tmp_path, workers=0)
    assert table.interrupted
    assert list(table.frame["state"]) == ["solved", "solved", "not solved yet", "not solved yet"]
    assert list(pd.read_parquet(tmp_path / "table.parquet")["state"]) == list(table.frame["state"])
    pd.testing.assert_frame_equal(store.read(tmp_path), table.frame)


def test_equal_joints_are_solved_once(joint, tmp_path):
    log = tmp_path / "log"
    settings = {"log": str(log)}
    rows = plan_of(joint, "ear.edge_distance=6,7,7,6 mm")
    table = run(rows, settings, model=cheap.closed_form, folder=tmp_path, workers=0)
    assert (table.solved, table.known) == (2, 2)
    assert table.frame["load_N"][0] == table.frame["load_N"][3]
    wider = plan_of(joint, "ear.edge_distance=6,7,8 mm")
    assert run(wider, settings, model=cheap.closed_form, folder=tmp_path, workers=0).solved == 1
    assert len(log.read_text().splitlines()) == 3


def test_the_title_does_not_name_a_row_but_settings_do(joint, tmp_path):
    def solved(joint, refine):
        rows = plan_of(joint, "ear.edge_distance=6 mm")
        settings = {"refine": refine}
        return run(rows, settings, model=cheap.closed_form, folder=tmp_path, workers=0).solved

    assert [solved(joint, 1.0), solved(joint.replace("title", "other"), 1.0)] == [1, 0]
    assert solved(joint, 0.5) == 1


def test_parquet_and_csv_hold_the_table(joint, tmp_path):
    rows = plan_of(joint, "ear.hole=3.9,4.1 mm", "ear.width=14,16 mm")
    frame = run(rows, {}, model=cheap.closed_form, folder=tmp_path, workers=0).frame
    pd.testing.assert_frame_equal(pd.read_parquet(tmp_path / "table.parquet"), frame)
    csv = pd.read_csv(tmp_path / "table.csv")
    assert list(csv.columns) == list(frame.columns)
    assert list(csv["load_N"][2:]) == list(frame["load_N"][2:])


@pytest.mark.stress
def test_memory_stays_flat_over_two_thousand_joints(joint, tmp_path, monkeypatch):
    # a slow machine would write tables, and load what writes them, between the two looks
    monkeypatch.setattr(sys.modules[run.__module__], "FIRST_TABLES", 1e9)
    process = psutil.Process()
    seen = {}

    def tell(done, total, row):
        if done in (500, 2000):
            seen[done] = process.memory_info().rss

    rows = plan_of(joint, "ear.hole=4.1:4.5:200 mm", "ear.edge_distance=5:7:10 mm")
    table = run(
        rows, {}, model=cheap.closed_form, folder=tmp_path, workers=0, progress=tell
    )  # fmt: skip
    assert len(table) == 2000
    assert seen[2000] - seen[500] < 10e6


SCRIPT = """
import sys
sys.path.insert(0, {here!r})
import fejoint
from support import cheap
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse
if __name__ == "__main__":
    joint = fejoint.load({case!r})
    rows = Plan(joint, tuple(parse(t) for t in {vary!r}))
    run(rows, {settings!r}, model=cheap.{model}, folder=__import__("pathlib").Path({folder!r}),
        workers={workers})
"""
VARY = ("ear.edge_distance=5:7:8 mm", "ear.hole=3.9:4.5:5 mm")
CASE = str(DEMO)


def begin(folder, settings, workers, model="closed_form"):
    """Begin a sweep in a process of its own."""
    text = SCRIPT.format(
        here=str(ROOT / "tests"), case=CASE, vary=VARY, settings=settings, folder=str(folder),
        workers=workers, model=model,
    )  # fmt: skip
    script = folder.parent / f"{folder.name}.py"
    script.write_text(text)
    return subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        start_new_session=True,
    )  # fmt: skip


def lines(path):
    return path.read_text().splitlines() if path.exists() else []


def wait_for(condition, seconds=60.0):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "nothing happened"
        time.sleep(0.01)


def kill_and_go_on(joint, folder, after, workers):
    """Kill a sweep once so many joints are solved; return the resumed table and the solves."""
    log = folder.parent / f"{folder.name}.log"
    settings = {"log": str(log), "seconds": 0.02}
    process = begin(folder, settings, workers)
    try:
        wait_for(lambda: len(lines(log)) >= after or process.poll() is not None)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
    done = int(store.read(folder)["state"].eq("solved").sum())
    table = run(
        plan_of(joint, *VARY), settings, model=cheap.closed_form, folder=folder, workers=0
    )  # fmt: skip
    return table, done, lines(log)


@pytest.mark.sampled
def test_a_killed_sweep_goes_on_without_losing_or_repeating_a_joint(joint, tmp_path, draws, tally):
    whole = run(plan_of(joint, *VARY), {}, model=cheap.closed_form, workers=0).frame
    dice, kills = random.Random(7), max(1, draws(200) // 7)
    for k in range(kills):
        after = dice.randrange(1, 31)
        table, done, log = kill_and_go_on(joint, tmp_path / f"kill{k}", after, 0)
        same_tables(table.frame.drop(columns="key"), whole.drop(columns="key"))
        assert table.known >= done
        assert table.solved + table.known == 40
        # only the joint in hand when the kill came may have been begun twice
        assert len(log) - len(set(log)) <= 1
    tally(f"{kills} of {kills} killed sweeps resumed to the table of an unbroken one")


def test_a_sweep_on_two_processes_survives_kill_9_of_its_parent(joint, tmp_path):
    whole = run(plan_of(joint, *VARY), {}, model=cheap.closed_form, workers=0).frame
    table, done, log = kill_and_go_on(joint, tmp_path / "two", 9, 2)
    same_tables(table.frame.drop(columns="key"), whole.drop(columns="key"))
    assert done > 0
    assert len(log) - len(set(log)) <= 8


def test_a_lost_worker_loses_no_joint(joint, tmp_path):
    whole = run(plan_of(joint, *VARY), {}, model=cheap.closed_form, workers=0).frame
    settings = {"mark": str(tmp_path / "mark")}
    at = plan_of(joint, *VARY).values(20)[0]
    settings["at"] = at
    table = run(plan_of(joint, *VARY), settings, model=cheap.dies_once, workers=2)
    assert (tmp_path / "mark").exists()
    assert set(table.frame["reason"]) == set(whole["reason"])
    same_tables(table.frame.drop(columns="key"), whole.drop(columns="key"))


def test_a_scheduler_started_by_hand_gives_the_same_table_though_a_worker_is_killed(
    joint, tmp_path
):
    whole = run(plan_of(joint, *VARY), {}, model=cheap.closed_form, workers=0).frame
    where = tmp_path / "scheduler.json"
    root = str(ROOT)
    paths = [str(ROOT / "tests"), root, os.environ.get("PYTHONPATH", "")]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(paths)}
    command = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", "0",
               "--no-dashboard", "--scheduler-file", str(where)]  # fmt: skip
    worker = [sys.executable, "-m", "distributed.cli.dask_worker", "--scheduler-file", str(where),
              "--nthreads", "1", "--no-dashboard", "--local-directory", str(tmp_path)]  # fmt: skip
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": environment}
    started = [subprocess.Popen(command, **quiet)]
    try:
        wait_for(where.exists)
        started += [subprocess.Popen(worker, **quiet) for _ in range(2)]
        from distributed import Client

        with Client(scheduler_file=str(where), set_as_default=False) as client:
            client.wait_for_workers(2, timeout=60)
            address = client.scheduler.address
        settings = {"mark": str(tmp_path / "mark"), "at": plan_of(joint, *VARY).values(20)[0]}
        table = run(plan_of(joint, *VARY), settings, model=cheap.dies_once, scheduler=address)
    finally:
        for process in reversed(started):
            process.kill()
            process.wait(30)
    assert (tmp_path / "mark").exists()
    assert set(table.frame["reason"]) == set(whole["reason"])
    same_tables(table.frame.drop(columns="key"), whole.drop(columns="key"))


def test_no_scheduler_is_told(joint):
    with pytest.raises(BadInput, match="does not answer"):
        run(
            plan_of(joint, "ear.width=14 mm"), {}, model=cheap.closed_form,
            scheduler="tcp://127.0.0.1:1",
        )  # fmt: skip


def test_solves_carry_no_state_that_changes_a_digit(joint):
    short = joint.replace("pull.stop_displacement", "0.3 mm")
    vary = {"ear.edge_distance": "6,7 mm", "fit.gap": "0.1,0.2 mm"}
    back = {"fit.gap": "0.2,0.1 mm", "ear.edge_distance": "7,6 mm"}
    there = fejoint.sweep(short, vary, refine=0.25, workers=0).frame
    again = fejoint.sweep(short, back, refine=0.25, workers=0).frame
    by = ["ear.edge_distance_mm", "fit.gap_mm"]
    one, other = (f.sort_values(by, ignore_index=True)[sorted(f.columns)] for f in (there, again))
    drop = ["joint"]
    same_tables(one.drop(columns=drop), other.drop(columns=drop))
    assert again["reused"].str.contains("ear's face section").any()
    lone = fejoint.pull(
        short.replace("ear.edge_distance", 6.0).replace("fit.gap", 0.2), refine=0.25
    )  # fmt: skip
    assert lone.verdict.first.load == one["load_N"][1]


@pytest.mark.parametrize("hard", ["220 HV", "480 HV"])
def test_the_first_part_to_give_is_the_same_as_in_a_pull_to_the_end(joint, hard):
    vary = {"pin.hardness": [hard]}
    soon = fejoint.sweep(joint, vary, refine=0.25, workers=0).frame
    end = fejoint.sweep(joint, vary, refine=0.25, workers=0, whole=True).frame
    assert soon["pulled"][0] == "until the first part gave"
    assert end["pulled"][0] == "to the end"
    assert soon["mode"][0] == end["mode"][0]
    assert soon["load_N"][0] == pytest.approx(end["load_N"][0], rel=2e-3)
    assert soon["factorisations"][0] < 0.8 * end["factorisations"][0]


def interrupted_but_answers(case, settings):
    """As a solve that keeps what it has when Ctrl-C comes."""
    try:
        signal.raise_signal(signal.SIGINT)
    except KeyboardInterrupt:
        pass
    return cheap.closed_form(case, settings)


def test_a_joint_in_hand_when_ctrl_c_comes_is_not_kept(joint):
    before = signal.getsignal(signal.SIGINT)
    rows = plan_of(joint, "ear.width=14,15 mm")
    table = run(rows, {}, model=interrupted_but_answers, workers=0)
    assert table.interrupted
    assert list(table.frame["state"]) == ["not solved yet", "not solved yet"]
    assert signal.getsignal(signal.SIGINT) is before


def test_the_tables_can_be_read_while_the_sweep_runs(joint, tmp_path, monkeypatch):
    monkeypatch.setattr(sys.modules[run.__module__], "FIRST_TABLES", 0.0)
    there = []

    def tell(done, total, row):
        there.append((tmp_path / "table.csv").exists())

    rows = plan_of(joint, "ear.width=13,14 mm")
    run(rows, {}, model=cheap.closed_form, folder=tmp_path, workers=0, progress=tell)
    assert there == [False, True]


def test_a_sweep_takes_the_command_line_s_words(joint):
    short = joint.replace("pull.stop_displacement", "0.2 mm")
    table = fejoint.sweep(short, ["ear.hole=3.9,4.1 mm"], refine=0.25, workers=0)
    assert list(table.frame["ear.hole_mm"]) == [3.9, 4.1]
    assert list(table.frame["state"]) == ["refused", "solved"]


@pytest.mark.parametrize("begun", [False, True])
def test_a_folder_without_a_sweep_is_refused(tmp_path, begun):
    if begun:
        store.Store(tmp_path).close()
    with pytest.raises(BadInput, match="holds no sweep"):
        store.read(tmp_path)


def refuses(case, settings):
    raise BadInput(Fault("ear.hole", "3 mm", "is too small", "widen it"))


def stops(case, settings):
    message = "no equilibrium beyond travel 1 mm"
    raise SolveStopped(message)


def ends_early(case, settings):
    return {"finished": False, "stopped_because": "crept", "load_N": 5.0}


@pytest.mark.parametrize(
    ("model", "state", "reason"),
    [
        (refuses, "refused", "ear.hole = 3 mm: is too small; widen it"),
        (stops, "stopped early", "no equilibrium beyond travel 1 mm"),
        (ends_early, "stopped early", "crept"),
    ],
)
def test_whatever_happens_to_a_joint_is_a_row(model, state, reason):
    row = one_joint.attempt(model, {}, {}, one_joint.version_of(model))
    assert (row["state"], row["reason"]) == (state, reason)
    assert row.get("load_N") == (5.0 if model is ends_early else None)


def test_a_worker_of_another_version_solves_nothing():
    row = one_joint.attempt(refuses, {}, {}, "another")
    assert row["state"] == "failed"
    assert "this worker runs version" in row["reason"]


def test_an_interrupted_pull_is_no_row(joint, monkeypatch):
    trust = type("Trust", (), {"stopped_because": Stop(StopReason.INTERRUPTED, "at 3 mm")})
    answer = type("Answer", (), {"trust": trust})
    monkeypatch.setattr(pull, "pull", lambda *_, **__: answer)
    with pytest.raises(KeyboardInterrupt):
        one_joint._pulled(joint, {})


@pytest.fixture(scope="module")
def package_copy(tmp_path_factory):
    copy = tmp_path_factory.mktemp("copy") / "fejoint"
    shutil.copytree(ROOT / "fejoint", copy, ignore=shutil.ignore_patterns("__pycache__", "static"))
    return copy


@pytest.mark.parametrize(
    ("file", "changes"),
    [
        ("kernel/newton.py", True),
        ("sections/face/problem.py", True),
        ("analysis/limit_loads.py", True),
        ("materials/materials.toml", True),
        ("studies/sweeps/row.py", True),
        ("output/pictures/theme.py", False),
        ("cli/pull.py", False),
        ("page/server.py", False),
        ("studies/sweeps/maps.py", False),
    ],
)
def test_rows_grow_old_by_what_computes_and_by_nothing_else(file, changes, package_copy):
    before = one_joint.code_version.__wrapped__(package_copy)
    path = package_copy / file
    path.write_text(path.read_text() + "# another digit or a comment\n")
    assert (one_joint.code_version.__wrapped__(package_copy) != before) is changes


@pytest.mark.parametrize(
    "damage",
    [
        "update found set row = substr(row, 1, 20)",
        "update found set row = replace(row, '\"load_N\": ', '\"load_N\": 9')",
        "update found set row = '[1, 2]'",
        "update found set row = null",
        "update found set state = 'refused'",
        "update found set digest = null",
    ],
)
def test_a_damaged_row_is_told_and_solved_again(joint, tmp_path, damage):
    plan = Plan(joint, (parse("ear.width=9:15:3 mm"),))
    settings = {"log": str(tmp_path / "log")}
    whole = run(plan, settings, model=cheap.closed_form, folder=tmp_path / "s", workers=0).frame
    with sqlite3.connect(tmp_path / "s" / "rows.sqlite") as file:
        file.execute(f"{damage} where key = (select key from plan where number = 1)")
    file.close()
    known = store.Store(tmp_path / "s")
    states = [row["state"] for row in known.rows(known.latest())]
    known.close()
    assert states.count("not solved yet") == 1
    again = run(plan, settings, model=cheap.closed_form, folder=tmp_path / "s", workers=0).frame
    assert len((tmp_path / "log").read_text().splitlines()) == 4
    same_tables(again, whole)


def test_a_damaged_plan_is_told_in_a_line(joint, tmp_path):
    plan = Plan(joint, (parse("ear.width=9:15:3 mm"),))
    run(plan, {}, model=cheap.closed_form, folder=tmp_path / "s", workers=0)
    with sqlite3.connect(tmp_path / "s" / "rows.sqlite") as file:
        file.execute("update plan set inputs = '{' where number = 1")
    file.close()
    known = store.Store(tmp_path / "s")
    with pytest.raises(BadInput, match="is damaged at joint 1"):
        known.frame()
    known.close()
    again = run(plan, {}, model=cheap.closed_form, folder=tmp_path / "s", workers=0)
    assert (again.solved, list(again.frame["state"])) == (0, ["solved"] * 3)


def test_the_rows_of_a_file_without_digests_are_made_anew(joint, tmp_path):
    plan = plan_of(joint, "ear.width=14,15 mm")
    whole = run(plan, {}, model=cheap.closed_form, folder=tmp_path, workers=0).frame
    with closing(sqlite3.connect(tmp_path / "rows.sqlite")) as file, file:
        for table, column, _ in store._LATER:
            file.execute(f"alter table {table} drop column {column}")
    with pytest.raises(BadInput, match="was written by an older fejoint"):
        store.read(tmp_path)
    again = run(plan, {}, model=cheap.closed_form, folder=tmp_path, workers=0)
    assert again.solved == 2
    same_tables(again.frame, whole)


def test_a_row_that_a_torn_index_hides_is_found_again(joint, tmp_path):
    plan = plan_of(joint, "ear.width=14,15 mm")
    run(plan, {}, model=cheap.closed_form, folder=tmp_path, workers=0)
    file = tmp_path / "rows.sqlite"
    with closing(sqlite3.connect(file)) as known:
        key = known.execute("select max(key) from found").fetchone()[0].encode()
        size = known.execute("pragma page_size").fetchone()[0]
        place = "select rootpage from sqlite_master where name = 'sqlite_autoindex_found_1'"
        page = known.execute(place).fetchone()[0]
    raw = file.read_bytes()
    at = raw.index(key, (page - 1) * size, page * size)
    file.write_bytes(raw[:at] + b" " + raw[at + 1 :])
    again = run(plan, {}, model=cheap.closed_form, folder=tmp_path, workers=0)
    assert list(again.frame["state"]) == ["solved", "solved"]
