"""Names of metals: standards' designations, and suggestions by meaning."""

from __future__ import annotations

from collections import Counter

import pytest

import fejoint
from fejoint.errors import BadInput
from fejoint.joint.writer import STARTER
from fejoint.materials import library, names

ENTRIES = {name: library.entry(name) for name in library.names()}


@pytest.mark.parametrize(
    ("asked", "known"),
    [
        ("1.4404", "316 strip, annealed"),
        ("316L", "316 strip, annealed"),
        ("aisi 316 l", "316 strip, annealed"),
        ("UNS S31603", "316 strip, annealed"),
        ("AISI 304", "304 strip, annealed"),
        ("18-8", "304 strip, annealed"),
        ("301 1/2 hard", "301 strip, half hard"),
        ("1.4310", "301 strip, annealed"),
        ("1.4310 spring wire", "1.4310 spring wire, as drawn"),
        ("1.4542", "17-4PH bar, H900"),
        ("EN AW-6082-T6", "6082-T6 plate"),
        ("grade 5 titanium", "Ti-6Al-4V, annealed"),
        ("W.Nr. 1.7225", "42CrMo4 steel, quenched and tempered"),
        ("S355J2", "S355 steel"),
        ("CW508L", "CuZn37 brass strip, half hard"),
        ("music wire", "spring steel wire, grade SM"),
    ],
)
def test_designations_are_known(asked: str, known: str) -> None:
    assert library.known_name(asked, "material") == known


@pytest.mark.parametrize(
    ("mistyped", "meant"),
    [
        ("316 srip anealed", "316 strip, annealed"),
        ("1.4044", "316 strip, annealed"),
        ("stainles spring wire", "1.4310 spring wire, as drawn"),
        ("federstahl rostfrei", "1.4310 spring wire, as drawn"),
        ("inox spring strip", "301 strip, full hard"),
        ("spring steel", "C75S spring strip, hardened"),
        ("6061 T6 alu", "6061-T6 aluminium"),
        ("17-4 ph h90", "17-4PH bar, H900"),
        ("messing", "CuZn37 brass strip, half hard"),
        ("bronce", "CuSn6 bronze strip, R420"),
        ("S335", "S355 steel"),
        ("titanium gr 2", "titanium grade 2 sheet"),
        ("42CrMo", "42CrMo4 steel, quenched and tempered"),
        ("soft stainless", "soft stainless wire"),
    ],
)
def test_a_mistyped_name_gets_the_nearest_by_meaning(mistyped: str, meant: str) -> None:
    with pytest.raises(BadInput) as caught:
        library.known_name(mistyped, "material")
    assert caught.value.faults[0].mend == f'did you mean "{meant}"?'


@pytest.mark.parametrize("word", ["poetry", "unobtainium", "edelstahl", "", "%"])
def test_nothing_is_suggested_where_nothing_is_meant(word: str) -> None:
    assert names.nearest_by_meaning(word, ENTRIES) is None


SOFT = [n for n in ENTRIES if any(w in n for w in ("annealed", "soft", "normalised"))]
HARD = [n for n in ENTRIES if any(w in n for w in ("hard", "spring", "H900", "CH900"))]


@pytest.mark.parametrize("grade", ["", "316 ", "304 ", "301 ", "1.4310 ", "1.4401 ", "430 "])
@pytest.mark.parametrize("words", ["spring stainless", "stainless spring strip", "hard stainless",
                                   "spring wire inox", "half hard stainless"])  # fmt: skip
def test_a_hard_metal_never_suggests_a_soft_one(grade: str, words: str) -> None:
    assert names.nearest_by_meaning(grade + words, ENTRIES) not in SOFT


@pytest.mark.parametrize("grade", ["316 ", "304 ", "301 ", "1.4310 ", "C45 "])
@pytest.mark.parametrize("words", ["soft", "anealed strip", "normalised bar", "weich"])
def test_a_soft_metal_never_suggests_a_hard_one(grade: str, words: str) -> None:
    assert names.nearest_by_meaning(grade + words, ENTRIES) not in HARD


@pytest.mark.parametrize("kind", ["brass", "bronze", "aluminium", "titanium", "stainless"])
def test_a_kind_of_metal_never_suggests_another(kind: str) -> None:
    for grade in ("316", "S355", "CuZn39", "6060-T6", "grade 4", "17-4PH"):
        found = names.nearest_by_meaning(f"{kind} {grade}", ENTRIES)
        assert found is None or kind in names._meaning(found) | set(
            str(ENTRIES[found]["family"]).split()
        )


def test_no_name_means_two_metals() -> None:
    every = Counter(names.bare(n) for own, e in ENTRIES.items() for n in (own, *e.get("also", ())))
    assert [name for name, count in every.items() if count > 1] == []


def test_the_case_s_own_metals_are_suggested_by_their_spelling() -> None:
    assert names.nearest_by_meaning("my stripp", ENTRIES, ["my strip"]) == "my strip"


def test_an_answer_says_what_a_designation_was_taken_as() -> None:
    case = STARTER | {"shank": {**STARTER["shank"], "material": "AISI 304"}}
    joint = fejoint.load(case)
    assert joint.shank.material.name == "304 strip, annealed"
    assert 'shank: "AISI 304" is taken as "304 strip, annealed"' in joint.assumptions
    again = fejoint.load(joint.to_dict())
    assert again.shank.material == joint.shank.material
    assert not any("taken as" in said and "strip" in said for said in fejoint.load(STARTER)
                   .assumptions)  # fmt: skip
