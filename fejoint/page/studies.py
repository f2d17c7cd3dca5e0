"""Long studies of the page: each is the command itself, run in a process beside the solvers.

What a study writes are therefore the command's own files. One runs at a time, the others wait;
they belong to the server, so that a page which is loaded again finds them.
"""

from __future__ import annotations

import asyncio
import json
import os
import secrets
import shutil
import signal
import sys
import tempfile
import time
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fejoint.page.jobs import Refused

COMMAND = (sys.executable, "-m", "fejoint.cli.main")
KEPT = 12
"""Studies that are kept with their files; the oldest that has ended goes first."""
PATIENCE = 5.0
"""Seconds after which a study that was cancelled is ended."""
LONGEST_WORDS = 200_000
"""Characters of what a command prints that are kept."""
SHOWN = frozenset({".png", ".svg", ".json", ".csv", ".html", ".toml", ".parquet", ".vtu", ".webp"})
"""Endings of the files that can be fetched."""


@dataclass(frozen=True)
class Asked:
    """The joint that a study was asked of.

    Attributes
    ----------
    joint : str
        The page's name of it; "" where a script asked.
    case, plain : mapping
        Its case as it was given, and in mm, N, MPa and degrees.
    """

    joint: str = ""
    case: Mapping[str, Any] = field(default_factory=dict)
    plain: Mapping[str, Any] = field(default_factory=dict)


@dataclass(eq=False)
class Study:
    """One study.

    Attributes
    ----------
    number : str
        Its name in addresses.
    kind : str
        The command.
    title : str
    words : list of str
        The command's words.
    inputs : mapping
        Files that it reads, by name, with their text.
    state : str
        "waits", "runs", "done", "failed" or "cancelled".
    done, total : int
        Of what is counted; total 0 where it is not known.
    said, complained : str
        What the command printed, and its last words of progress or of what went wrong.
    """

    number: str
    kind: str
    title: str
    words: list[str]
    inputs: Mapping[str, str]
    folder: Path
    state: str = "waits"
    done: int = 0
    total: int = 0
    said: str = ""
    complained: str = ""
    began: float = 0.0
    seconds: float = 0.0
    options: Mapping[str, Any] = field(default_factory=dict)
    asked: Asked = field(default_factory=Asked)
    process: asyncio.subprocess.Process | None = None

    @property
    def going(self) -> bool:
        """Whether it waits or runs."""
        return self.state in ("waits", "runs")

    def summary(self) -> dict[str, Any]:
        """Return where it stands; `left_s` is null while nothing is known."""
        now = time.monotonic() - self.began if self.state == "runs" else self.seconds
        left = now * (self.total - self.done) / self.done if self.done and self.going else None
        return {
            "id": self.number, "kind": self.kind, "title": self.title, "state": self.state,
            "done": self.done, "total": self.total, "what": self.complained[-300:],
            "seconds": round(now, 1), "left_s": None if left is None else round(left, 1),
            "options": dict(self.options), "joint": self.asked.joint,
        }  # fmt: skip

    def whole(self) -> dict[str, Any]:
        """Return all that is known of it."""
        told = {"said": self.said, "files": self.files()}
        return self.summary() | told | {"case": self.asked.case, "plain": self.asked.plain}

    def files(self) -> list[str]:
        """Return the names of what it wrote, relative to its folder."""
        out = self.folder / "out"
        found = (p for p in out.rglob("*") if p.is_file() and p.suffix in SHOWN)
        # the rows of a sweep are many small files that its table holds
        return sorted(str(p.relative_to(out)) for p in found if p.parent.name != "rows")

    def file(self, name: str) -> Path | None:
        """Return where one of its files lies, None where there is no such file."""
        return self.folder / "out" / name if name in self.files() else None


@dataclass(eq=False)
class StudyDesk:
    """Runs studies one after the other; all methods belong to the event loop's thread."""

    studies: OrderedDict[str, Study] = field(default_factory=OrderedDict)
    _root: Path | None = None
    _runs: asyncio.Task[None] | None = None

    def begin(
        self,
        kind: str,
        title: str,
        words: list[str],
        inputs: Mapping[str, str],
        options: Mapping[str, Any],
        asked: Asked,
    ) -> Study:
        """Queue a study.

        Raises
        ------
        Refused
            If as many wait already.
        """
        ended = [n for n, s in self.studies.items() if not s.going]
        if len(self.studies) >= KEPT and not ended:
            raise Refused(503, {"message": "too many studies wait; cancel one, or wait for one"})
        if len(self.studies) >= KEPT:
            self.forget(ended[0])
        if self._root is None:
            self._root = Path(tempfile.mkdtemp(prefix="fejoint-studies-"))
        number = secrets.token_urlsafe(8)
        study = Study(number, kind, title, words, inputs, self._root / number)
        study.options, study.asked = options, asked
        self.studies[number] = study
        if self._runs is None or self._runs.done():
            self._runs = asyncio.ensure_future(self._run_all())
        return study

    def find(self, number: str) -> Study:
        """Return a study by its name.

        Raises
        ------
        Refused
            If there is none.
        """
        if number not in self.studies:
            raise Refused(410, {"message": "the study is kept no longer"})
        return self.studies[number]

    def cancel(self, number: str) -> None:
        """End a study that waits or runs; what it has written stays."""
        study = self.find(number)
        if not study.going:
            return
        study.state = "cancelled"
        if study.process is not None:
            _signal(study.process, signal.SIGINT)
            asyncio.get_running_loop().call_later(PATIENCE, _end, study.process)

    def forget(self, number: str) -> None:
        """Throw a study and its files away."""
        self.cancel(number)
        study = self.studies.pop(number)
        shutil.rmtree(study.folder, ignore_errors=True)

    def close(self) -> None:
        """End every study and throw all files away."""
        for study in self.studies.values():
            if study.process is not None:
                _end(study.process)
        if self._runs is not None:
            self._runs.cancel()
        if self._root is not None:
            shutil.rmtree(self._root, ignore_errors=True)

    async def _run_all(self) -> None:
        while waiting := [s for s in self.studies.values() if s.state == "waits"]:
            try:
                await _run(waiting[0])
            except OSError as error:
                waiting[0].state, waiting[0].complained = "failed", str(error)


async def _run(study: Study) -> None:
    for name, text in study.inputs.items():
        path = study.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    study.state, study.began = "runs", time.monotonic()
    study.process = await asyncio.create_subprocess_exec(
        *COMMAND,
        study.kind,
        *study.words,
        cwd=study.folder,
        env=os.environ | {"FEJOINT_PROGRESS": "lines", "COLUMNS": "100", "NO_COLOR": "1"},
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        start_new_session=True,
        preexec_fn=_step_back,
    )
    said = asyncio.ensure_future(_read_all(study))
    await _follow(study)
    code = await study.process.wait()
    study.said = await said
    study.seconds = time.monotonic() - study.began
    if study.state == "runs":
        # 1 is an answer too, such as that no change reaches the target; a crash says nothing
        answered = code == 0 or (code == 1 and study.said.strip())
        study.state = "done" if answered else "failed"


def _step_back() -> None:
    """Let the page's own solves go first."""
    os.nice(10)


async def _read_all(study: Study) -> str:
    assert study.process is not None
    assert study.process.stdout is not None
    text = (await study.process.stdout.read()).decode("utf-8", "replace")
    return text[:LONGEST_WORDS]


async def _follow(study: Study) -> None:
    """Take words of progress, one a line; any other line is kept as what went wrong."""
    assert study.process is not None
    assert study.process.stderr is not None
    try:
        async for line in study.process.stderr:
            text = line.decode("utf-8", "replace").strip()
            try:
                told = json.loads(text)
                study.done, study.total = int(told["done"]), int(told["total"] or 0)
                text = str(told["what"])
            except (ValueError, TypeError, KeyError):
                pass
            study.complained = text
    except ValueError:  # a line without end
        pass


def _signal(process: asyncio.subprocess.Process, number: signal.Signals) -> None:
    if process.returncode is None:
        try:
            os.killpg(process.pid, number)
        except ProcessLookupError:
            pass


def _end(process: asyncio.subprocess.Process) -> None:
    _signal(process, signal.SIGKILL)
