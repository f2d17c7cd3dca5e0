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
        (Field("text"), "a \x1b[2J b", "control character (U+001B)"),
        (Field("text"), "a \x9b b", "control character (U+009B)"),
        (Field("text"), "a \x7f b", "control character (U+007F)"),
        (Field("text"), "a \0 b", "control character (U+0000)"),
        (Field("text"), "a\rb", "control character (U+000D)"),
        (Field("text"), "a\nb", "end of a line"),
        (Field("text"), "a\tb", "tab"),
        (Field("text"), "a \u202e b", "turns the direction of writing (U+202E)"),
        (Field("text", lines=True), "a \x1b[2J b", "control character (U+001B)"),
        (Field("text", lines=True), "a \u2066 b", "turns the direction of writing (U+2066)"),
        (Field("texts"), ["a", "\x07"], "without a control character (U+0007)"),
        (Field("numbers"), 3.0, "list of numbers"),
        (Field("numbers"), [1.0] * 2001, "list of numbers"),
    ],
)
def test_what_no_file_can_keep_is_refused(wanted, value, said):
    reading = Reading()
    assert reading.value("here", value, wanted) is None
    assert [f.field for f in reading.faults] == ["here"]
    assert said in reading.faults[0].allowed


@pytest.mark.parametrize(
    ("wanted", "value"),
    [
        (Field("text"), "Öse Ø 4\u00a0mm, \u200fחור\u200f, 👩\u200d🔧"),
        (Field("text", lines=True), "a\nb\r\n\tc"),
        (Field("texts"), ("a\nb",)),
    ],
)
def test_any_writing_is_kept_as_it_is(wanted, value):
    reading = Reading()
    assert reading.value("here", value, wanted) == value
    assert not reading.faults


def test_a_list_full_of_faults_tells_the_first_five():
    reading = Reading()
    assert reading.value("here", ["no"] * 300, Field("numbers")) is None
    assert [f.field for f in reading.faults] == [f"here.{k}" for k in range(1, 6)]


def test_a_quantity_without_an_upper_end_is_told_its_lower_one():
    with pytest.raises(BadInput, match=r"at least 2 mm.*make it larger"):
        fields.quantity("--kept", "1 mm", "length", 2.0)
    assert fields.quantity("--kept", "1e9 mm", "length", 2.0) < math.inf
