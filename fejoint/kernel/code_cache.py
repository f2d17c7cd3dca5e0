"""Machine code on disk, known again by a sum over its bytes: torn code is made anew, never run.

numba keeps a function's code as pickles, and takes whatever stands in them.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType
from uuid import uuid4

_CODE = (".nbi", ".nbc")


@dataclass(frozen=True)
class KeptCode:
    """The files of one function's machine code.

    Attributes
    ----------
    folder : Path
        Where numba keeps them.
    name : str
        What their names hold, whichever module they are named after.
    """

    folder: Path
    name: str

    @classmethod
    def of(cls, function: FunctionType, folder: str) -> KeptCode:
        """Return those of a function in a folder."""
        code = function.__code__
        called = function.__qualname__.replace("<", "").replace(">", "")
        version = "py{}{}".format(*sys.version_info[:2])
        return cls(Path(folder), f"{called}-{code.co_firstlineno}.{version}")

    @property
    def _sum(self) -> Path:
        return self.folder / f"{self.name}.sha256"

    def _files(self) -> list[Path]:
        found = self.folder.glob(f"*.{self.name}*")
        return sorted(path for path in found if path.suffix in _CODE)

    def _found(self) -> str:
        whole = hashlib.sha256()
        for path in self._files():
            whole.update(path.name.encode() + b"\n" + path.read_bytes())
        return whole.hexdigest()

    def is_sound(self) -> bool:
        """Tell whether the files are as they were sealed; none at all are.

        Raises
        ------
        OSError
            If they cannot be read.
        """
        if not self._files():
            return True
        try:
            return self._sum.read_text(encoding="ascii", errors="replace") == self._found()
        except FileNotFoundError:
            return False

    def seal(self) -> None:
        """Note the files as they are now.

        Raises
        ------
        OSError
            If that cannot be written.
        """
        beside = self._sum.with_name(f"{self._sum.name}.{uuid4().hex[:8]}")
        try:
            beside.write_text(self._found(), encoding="ascii")
            os.replace(beside, self._sum)
        finally:
            beside.unlink(missing_ok=True)

    def remove(self) -> bool:
        """Remove the files, and return whether there was machine code that was sealed once.

        Raises
        ------
        OSError
            If they cannot be removed.
        """
        sealed = self._sum.exists()
        for path in [*self._files(), self._sum]:
            path.unlink(missing_ok=True)
        return sealed


def compiled(
    make: Callable[..., Callable[..., object]], function: FunctionType, signature: str
) -> tuple[Callable[..., object], bool]:
    """Compile a function, or take its machine code from disk if it is as it was left there.

    Parameters
    ----------
    make : callable
        numba's decorator with its options, of a function.
    function : FunctionType
    signature : str

    Returns
    -------
    callable, bool
        The compiled function, and whether damaged code was replaced on disk.

    Raises
    ------
    RuntimeError, OSError
        If there is no place for it, or a damaged one cannot be removed.
    """
    dispatcher = make(function)
    kept = KeptCode.of(function, dispatcher.stats.cache_path)  # type: ignore[attr-defined]
    damaged = not kept.is_sound() and kept.remove()
    dispatcher.compile(signature)  # type: ignore[attr-defined]
    dispatcher.disable_compile()  # type: ignore[attr-defined]
    if not kept.is_sound():
        kept.seal()
    return dispatcher, damaged
