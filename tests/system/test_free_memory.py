"""What memory is free: the system's, the process's own limit, a container's."""

from __future__ import annotations

import resource
import subprocess
import sys

import pytest

from fejoint.system import free_memory

MB = 1e6


def test_free_memory_is_the_least_of_system_own_limit_and_container(tmp_path):
    (tmp_path / "meminfo").write_text("MemTotal: 9 kB\nMemAvailable:   2048 kB\n")
    assert list(free_memory._system_free(tmp_path)) == [2048 * 1024]
    (tmp_path / "memory.max").write_text("5000\n")
    (tmp_path / "memory.current").write_text("2000\n")
    assert list(free_memory._container_free(tmp_path)) == [3000.0]
    (tmp_path / "memory.max").write_text("max\n")
    assert list(free_memory._container_free(tmp_path)) == []
    # an older container's limit
    (tmp_path / "memory").mkdir()
    (tmp_path / "memory/memory.limit_in_bytes").write_text("700\n")
    (tmp_path / "memory/memory.usage_in_bytes").write_text("900\n")
    assert list(free_memory._container_free(tmp_path)) == [0.0]


def test_a_system_without_proc_tells_its_whole_memory(tmp_path):
    (whole,) = free_memory._system_free(tmp_path)
    assert whole > 1e8


@pytest.mark.parametrize("broken", [AttributeError, OSError, ValueError])
def test_a_system_that_tells_nothing_yields_no_number(tmp_path, monkeypatch, broken):
    def sysconf(name):
        raise broken

    monkeypatch.setattr(free_memory.os, "sysconf", sysconf)
    assert list(free_memory._system_free(tmp_path)) == []


def test_without_proc_the_own_limit_is_left_whole(tmp_path, monkeypatch):
    monkeypatch.setattr(resource, "getrlimit", lambda _: (7 * MB, 9 * MB))
    assert list(free_memory._own_limit(tmp_path)) == [7.0 * MB]


def test_the_own_limit_leaves_what_is_not_taken_yet():
    code = (
        "import resource; from fejoint.system import free_memory as m;"
        "assert list(m._own_limit()) == [];"
        "resource.setrlimit(resource.RLIMIT_AS, (6_000_000_000, 6_000_000_000));"
        "(left,) = m._own_limit(); assert 1e9 < left < 6e9, left; assert m.free_bytes() <= left"
    )
    unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    done = subprocess.run(
        [sys.executable, "-c", code],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, unlimited),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
