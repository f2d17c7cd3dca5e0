"""The page's colours are those of the pictures."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb

import fejoint.page
from fejoint.output.pictures import theme as look
from fejoint.page import colours

KEPT = Path(fejoint.page.__file__).parent / "static/colours.js"


def test_the_page_s_table_is_what_the_pictures_maps_give():
    assert KEPT.read_text(encoding="utf-8") == colours.text()


@pytest.mark.parametrize(("theme", "name"), [("light", "screen"), ("dark", "dark")])
@pytest.mark.parametrize("what", ["stress", "plastic"])
def test_a_table_s_ends_are_the_map_s(theme, name, what):
    block = KEPT.read_text(encoding="utf-8").partition(f"  {theme}: {{")[2]
    steps = re.search(rf'{what}: "([^"]+)"', block).group(1).split()
    assert len(steps) == colours.STEPS
    wanted = look.colours(what, look.theme(name))(np.array([0.0, 1.0]))[:, :3]
    assert np.allclose([to_rgb(f"#{steps[k]}") for k in (0, -1)], wanted, atol=0.5 / 255 + 1e-9)
