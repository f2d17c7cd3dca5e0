"""The command line."""

from fejoint.cli import interrupt

interrupt.end_quietly()
