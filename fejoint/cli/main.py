"""The command line: its commands, what it says of errors, and its exit codes."""

from __future__ import annotations

import atexit
import gc
import io
import logging
import os
import signal
import sys
from collections.abc import Sequence

from cyclopts import App, CycloptsError

import fejoint
from fejoint.cli import console, failures, interrupt, usage
from fejoint.errors import BadInput, FejointError

COMMANDS = {
    "advise": "Say the smallest change of one dimension, and of two, by which a joint carries a "
    "pull.",
    "blow": "Push one ear sideways, across and along the pin.",
    "book": "List a results book and say how its predictions did.",
    "check": "Compute the reference cases and compare with textbooks, tests and a second library.",
    "completion": "Print the lines by which a shell completes commands, options and file names.",
    "cut": "Write each plate of a joint as a drawing for a cutter, DXF and SVG.",
    "demo": "Write the demo's case files and measured pulls into a folder.",
    "directions": "Pull a joint straight, obliquely, sideways and back, and compare.",
    "doctor": "Try the mesher, a probe picture and the solvers; print the line that mends what "
    "fails.",
    "guide": "Show a page of the guide, or list its pages.",
    "hardness": "Convert a hardness to the other scales and to tensile strength, for steel.",
    "match": "Put measured pulls beside the prediction: plan, compare, learn, and keep a record.",
    "materials": "List the materials, or show one in full.",
    "new": "Write a commented case file to begin from.",
    "page": "Serve the page: a drawing of the joint to turn, and the answer beside it.",
    "picture": "Draw one picture of an answer.",
    "pin-range": "Pull a joint with steel pins from soft to hard; find where the first part to "
    "give changes.",
    "pull": "Pull a joint and say which part gives first, at what pull.",
    "report": "Write a report of one answer, or set several side by side.",
    "scatter": "Pull joints drawn from the case's [scatter] table: median, 5 to 95 %, modes and "
    "causes.",
    "solid": "Pull an ear in the round: what it loses when its end leaves its plane.",
    "sweep": "Pull many joints that differ in some dimensions, into one table; run it again to "
    "resume.",
    "used": "Say which pull a used joint has seen, and what it still bears.",
}
"""Each command's summary. Its function stands in the module of its name, which is imported only
when the command is given or its help asked for: a light command imports no solver."""


def _version() -> str:
    return fejoint.__version__


app = App(
    name="fejoint",
    help="A pin in a hole, pulled until something gives.",
    version=_version,
    help_format="plaintext",
    help_formatter=console.HelpPages(),
    suppress_keyboard_interrupt=False,
)
for _name, _summary in COMMANDS.items():
    _module = _name.replace("-", "_")
    app.command(f"fejoint.cli.{_module}:{_module}", name=_name, help=_summary)


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
        finish, 130 interrupted before there was anything to keep.
    """
    if arguments is None:
        interrupt.handle()
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
        console.warn(f"fejoint: {usage.told(error)}")
        return BadInput.exit_code
    except FejointError as error:
        console.warn(*str(error).splitlines())
        return error.exit_code
    except BrokenPipeError:
        _drop_output()  # the reader of a pipe has left
        return 0
    except KeyboardInterrupt:
        _drop_output()
        if arguments is None:
            interrupt.die()
        return 128 + signal.SIGINT
    except Exception as error:
        found = failures.told(error)
        if found is None:
            raise
        console.warn(f"fejoint: {found[0]}")
        _drop_output()
        return found[1]
    return done if isinstance(done, int) else 0


def _drop_output() -> None:
    """Write what is left of the output if it can be; else Python would complain again at exit."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
