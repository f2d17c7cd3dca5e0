"""What a value of a table is refused for, and how often."""

from __future__ import annotations

import math

import pytest

from fejoint.errors import BadInput
from fejoint.inputs import fields
from fejoint.inputs.fields import Field, Reading

HALF = "\ud800"
"""Half a surrogate pair: no file can hold it."""


@pytest.mark.parametrize(
    ("wanted", "value", "said"),
    [
        (Field("text"), f"a {HALF}", "half a character"),
        (Field("texts"), ["a", HALF], "at most 500 texts"),
        (Field("texts"), ["a"] * 501, "at most 500 texts"),
        (Field("texts"), ["a" * 4001], "of at most 4000 characters"),
        (Field("numbers"), 3.0, "list of numbers"),
        (Field("numbers"), [1.0] * 2001, "list of numbers"),
    ],
)
def test_what_no_file_can_keep_is_refused(wanted, value, said):
    reading = Reading()
    assert reading.value("here", value, wanted) is None
    assert [f.field for f in reading.faults] == ["here"]
    assert said in reading.faults[0].allowed


def test_a_list_full_of_faults_tells_the_first_five():
    reading = Reading()
    assert reading.value("here", ["no"] * 300, Field("numbers")) is None
    assert [f.field for f in reading.faults] == [f"here.{k}" for k in range(1, 6)]


def test_a_quantity_without_an_upper_end_is_told_its_lower_one():
    with pytest.raises(BadInput, match=r"at least 2 mm.*make it larger"):
        fields.quantity("--kept", "1 mm", "length", 2.0)
    assert fields.quantity("--kept", "1e9 mm", "length", 2.0) < math.inf
