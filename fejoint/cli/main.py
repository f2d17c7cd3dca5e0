"""The command line: parses, calls, prints."""

from __future__ import annotations

import atexit
import gc
import io
import json
import logging
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from cyclopts import CycloptsError, Parameter

from fejoint.cli import commands, failures  # noqa: F401  registers its commands
from fejoint.cli.app import app
from fejoint.cli.options import Case, FinerRefine, Flag, Json, Refine
from fejoint.errors import BadInput, Fault, FejointError

__all__ = ["app", "main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; those of the process if left out.

    Returns
    -------
    int
        Exit code: 0 fine, 1 a check failed, 2 bad input or nowhere to write, 3 the solve could not
        finish.
    """
    # the interpreter's last collection would walk through all that was loaded: 0.3 s
    atexit.register(gc.freeze)
    # where no folder takes its font list, the plotting library makes one anew; no need to tell
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            # a terminal that knows no mm² or umlauts gets a question mark, not a traceback
            stream.reconfigure(errors="replace")
    try:
        words = None if arguments is None else list(arguments)
        done = app(words, exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
    except CycloptsError as error:
        print(f"fejoint: {' '.join(str(error).split())}", file=sys.stderr)
        return BadInput.exit_code
    except FejointError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        _drop_output()  # the reader of a pipe has left
        return 0
    except Exception as error:
        found = failures.told(error)
        if found is None:
            raise
        print(f"fejoint: {found[0]}", file=sys.stderr)
        _drop_output()
        return found[1]
    return done if isinstance(done, int) else 0


def _drop_output() -> None:
    """Write what is left of the output if it can be; else Python would complain again at exit."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@app.command
def pull(
    case: Path,
    /,
    *,
    out: Path | None = None,
    refine: FinerRefine = 1.0,
    solver: str = "fastest",
    pictures: Annotated[bool, Parameter(negative="--no-pictures")] = True,
    as_json: Json = False,
) -> int:
    """Pull a joint and say which part gives first, at what pull.

    Parameters
    ----------
    case
        The case file; `fejoint new` writes one to begin from.
    out
        Folder for the answer's files and pictures; "out/NAME" of the case if left out.
    solver
        fastest, pardiso or superlu.
    pictures
        Whether to draw pictures.
    """
    from fejoint.cli import pull as pulled

    return pulled.run(
        case, out=out, refine=refine, solver=solver, pictures=pictures, as_json=as_json
    )


@app.command
def directions(
    case: Case,
    /,
    *,
    every: float = 15.0,
    out: Path | None = None,
    refine: Refine = 1.0,
    as_json: Json = False,
) -> int:
    """Pull a joint straight, obliquely, sideways and back, and compare.

    Parameters
    ----------
    every
        Degrees from one direction to the next, from 0 to 180.
    out
        Folder for the picture; "out/NAME" of the case if left out.
    """
    from fejoint.cli import directions as oblique_table

    return oblique_table.run(case, every=every, out=out, refine=refine, as_json=as_json)


@app.command
def doctor() -> int:
    """Try the mesher, a probe picture and the solvers; print the line that mends what fails."""
    from fejoint.system import doctor as examination

    return examination.main()


@app.command
def new(
    file: Path,
    /,
    *,
    overwrite: Flag = False,
    as_json: Json = False,
) -> None:
    """Write a commented case file to begin from.

    Parameters
    ----------
    file
        Where to write it.
    overwrite
        Replace the file if it is there.
    """
    from fejoint.files import write_atomically
    from fejoint.joint import writer

    if file.exists() and not overwrite:
        raise BadInput(Fault(str(file), "", "is there already", "name another, or --overwrite"))
    write_atomically(file, writer.starter())
    if as_json:
        print(json.dumps({"case_file": str(file)}))
    else:
        print(f"wrote {file}\nnext: fejoint pull {file}")


@app.command
def demo(
    folder: Path = Path("demo"),
    /,
    *,
    overwrite: Flag = False,
    as_json: Json = False,
) -> None:
    """Write the demo's case files and measured pulls into a folder.

    Parameters
    ----------
    folder
        Where to write them.
    overwrite
        Replace files that are there.
    """
    from fejoint.system import resources

    files = [str(path) for path in resources.copy_demo(folder, overwrite)]
    if as_json:
        print(json.dumps({"files": files}))
    else:
        print("\n".join(f"wrote {path}" for path in files))
        print(f"next: fejoint pull {files[0]}")


@app.command
def materials(
    *name: str,
    diameter: str | None = None,
    as_json: Json = False,
) -> None:
    """List the materials, or show one in full.

    Parameters
    ----------
    name
        The material to show; all of them if left out.
    diameter
        Diameter of a wire, for example "4 mm": the strength of spring wire depends on it.
    """
    from fejoint.cli import materials as listing

    if not name:
        listing.list_materials(as_json=as_json)
    else:
        listing.show_material(" ".join(name), diameter, as_json=as_json)


@app.command
def hardness(
    *value: str,
    of: str | None = None,
    as_json: Json = False,
) -> None:
    """Convert a hardness to the other scales and to tensile strength, for steel.

    Parameters
    ----------
    value
        For example 48 HRC, 500 HV or 285 HB.
    of
        The material it was measured on, if it is in the library: only carbon and low-alloy steel
        converts.
    """
    from fejoint.cli import materials as listing

    listing.show_hardness(" ".join(value), of, as_json=as_json)


if __name__ == "__main__":
    sys.exit(main())
