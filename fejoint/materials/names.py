"""What a metal may be called: library names, standards' numbers, and the nearest by meaning.

"1.4404", "AISI 316L" and "UNS S31603" are one steel; which of its conditions is meant, the entry
says that lists the name. A name that nobody knows gets a suggestion only if that metal is of the
same kind and not of the opposite hardness: for a spring steel no soft one is offered.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from typing import Any

_PREFIX = re.compile(r"^(?:aisi|uns|en aw|en|w\.? ?nr\.?|sae|astm|type|alloy)[- ]+(?=\S)")
_WORD = re.compile(r"[^\W\d_]+|\d+/\d+|[\w.]*\d[\w.]*")

_SAME: Mapping[str, str] = {
    **dict.fromkeys(("stainless", "inox", "edelstahl", "niro", "rostfrei"), "stainless"),
    **dict.fromkeys(("spring", "springs", "federstahl", "feder", "piano", "music"), "spring"),
    **dict.fromkeys(("soft", "annealed", "normalised", "normalized", "weich"), "soft"),
    **dict.fromkeys(("hard", "hardened", "hart", "tempered"), "hard"),
    **dict.fromkeys(("aluminium", "aluminum", "alu"), "aluminium"),
    **dict.fromkeys(("brass", "messing"), "brass"),
    **dict.fromkeys(("bronze",), "bronze"),
    **dict.fromkeys(("titanium", "titan", "ti"), "titanium"),
    **dict.fromkeys(("wire", "draht"), "wire"),
    **dict.fromkeys(("strip", "sheet", "band", "blech"), "strip"),
    **dict.fromkeys(("bar", "rod", "rundstahl"), "bar"),
    **dict.fromkeys(("bolt", "screw", "schraube"), "bolt"),
    **dict.fromkeys(("tool", "werkzeugstahl"), "tool"),
    **dict.fromkeys(("half", "1/2"), "half"),
    **dict.fromkeys(("quarter", "1/4"), "quarter"),
    **dict.fromkeys(("3/4", "three"), "three-quarter"),
    **dict.fromkeys(("full", "4/4"), "full"),
}  # fmt: skip
"""Words that mean the same."""
_KINDS = ("stainless", "aluminium", "brass", "bronze", "titanium")
"""Kinds of metal of which one is never offered for another."""
_IN_FAMILY = {
    "stainless": "stainless", "aluminium": "aluminium", "titanium": "titanium",
    "cold": "hard", "precipitation": "hard", "hardened": "hard",
}  # fmt: skip
_LIKE = 0.75
"""How like two spellings of a grade must be."""
_ENOUGH = 0.9
"""Least score of a suggestion."""


def folded(name: str) -> str:
    """Return a name as it is compared: letter case and the width of blanks do not matter."""
    return " ".join(name.split()).casefold()


def bare(name: str) -> str:
    """Return a designation without its system's name, blanks and signs: "AISI 316 L" is "316l"."""
    plain = _PREFIX.sub("", folded(name))
    return re.sub(r"[\s,()+/-]", "", plain)


def known(name: str, library: Mapping[str, Mapping[str, Any]]) -> str | None:
    """Return the library's name for a name, a designation or a condition of one; None without."""
    wanted, short = folded(name), bare(name)
    for own in library:
        if folded(own) == wanted:
            return own
    for own, entry in library.items():
        if short and short in (bare(also) for also in (own, *entry.get("also", ()))):
            return own
    return None


def nearest_by_meaning(
    name: str, library: Mapping[str, Mapping[str, Any]], also: Iterable[str] = ()
) -> str | None:
    """Return the metal most likely meant by a name that is none, or None.

    Parameters
    ----------
    name : str
    library : mapping
        Entries by name, with their "family" and "also".
    also : iterable of str
        The case's own metals: known by their spelling alone.
    """
    name = name[:100]
    own = {folded(each): each for each in also}
    like = difflib.get_close_matches(folded(name), own, n=1, cutoff=_LIKE)
    if like:
        return own[like[0]]
    said = _meaning(name)
    scores = {each: _score(name, said, each, entry) for each, entry in library.items()}
    best = max(scores, key=lambda each: scores[each])
    return best if scores[best] >= _ENOUGH else None


def _meaning(text: str) -> frozenset[str]:
    words = _WORD.findall(folded(text))
    tags = {_nearest_word(word) for word in words} - {""}
    return frozenset(tags | ({"hard"} if "spring" in tags else set()))


def _nearest_word(word: str) -> str:
    if word in _SAME:
        return _SAME[word]
    like = difflib.get_close_matches(word, _SAME, n=1, cutoff=0.8) if len(word) > 3 else []
    return _SAME[like[0]] if like else ""


def _score(name: str, said: frozenset[str], own: str, entry: Mapping[str, Any]) -> float:
    """Return how well an entry fits; a contradiction rules it out."""
    family = str(entry.get("family", "")).split()
    is_meant = _meaning(own) | {_IN_FAMILY[w] for w in family if w in _IN_FAMILY}
    if "soft" in is_meant and "annealed" not in folded(own):
        is_meant -= {"hard"}
    tempers = {"half", "quarter", "three-quarter", "full"}
    if tempers & is_meant:
        is_meant |= {"hard"}
    hard = "hard" in said or tempers & said
    if (hard and "soft" in is_meant) or ("soft" in said and "hard" in is_meant):
        return -1.0
    kinds, own_kinds = said & set(_KINDS), is_meant & set(_KINDS)
    if kinds and kinds != own_kinds:
        return -1.0
    others = frozenset().union(*map(_meaning, entry.get("also", ())))
    if "spring" in said and "spring" not in is_meant | others:
        return -1.0
    whole = difflib.SequenceMatcher(None, folded(name), folded(own)).ratio()
    grade = max((_alike(name, each) for each in (own, *entry.get("also", ()))), default=0.0)
    of_few = 0.5 if kinds & {"brass", "bronze", "titanium"} else 0.0
    return whole + grade + of_few + 0.4 * len(said & is_meant)


def _alike(name: str, other: str) -> float:
    """Return how like the grades in two names are: 0, or from `_LIKE` to about 1."""
    ratios = [_spelt_alike(one, of) for one in _grades(name) for of in _grades(other)]
    ratio = max(ratios, default=0.0)
    return ratio if ratio >= _LIKE else 0.0


def _grades(text: str) -> list[str]:
    words = [word for word in text.split() if re.search(r"\d", word)]
    return [found for each in (*words, text) if (found := bare(each).replace(".", ""))]


def _spelt_alike(one: str, other: str) -> float:
    """Return the likeness of two spellings; of equal ones the longer common beginning counts."""
    longest = min(len(one), len(other))
    begun = next((k for k in range(longest) if one[k] != other[k]), longest)
    ratio = difflib.SequenceMatcher(None, one, other).ratio()
    return ratio + 0.05 * begun / max(len(one), len(other))
