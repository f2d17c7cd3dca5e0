"""Writes `static/colours.js`: the pictures' own colour maps as small tables for the page."""

from __future__ import annotations

from pathlib import Path

from fejoint.files import write_atomically

STEPS = 33
_HEADING = """\
// Colours of stress and plastic strain, even steps from little to much, on light and dark paper:
// the maps of fejoint.output.pictures. Written by `python -m fejoint.page.colours`.
"""


def text() -> str:
    """Return the module's text."""
    import numpy as np
    from matplotlib.colors import to_hex

    from fejoint.output.pictures import theme as look

    lines = [_HEADING, "export const COLOURS = {"]
    for theme, name in (("light", "screen"), ("dark", "dark")):
        lines.append(f"  {theme}: {{")
        for what in ("stress", "plastic"):
            steps = look.colours(what, look.theme(name))(np.linspace(0.0, 1.0, STEPS))
            table = " ".join(to_hex(step)[1:] for step in steps)
            lines.append(f'    {what}: "{table}",')
        lines.append("  },")
    return "\n".join([*lines, "};", ""])


if __name__ == "__main__":
    write_atomically(Path(__file__).parent / "static" / "colours.js", text())
