"""How sure an answer is: a band for every limit, and how often which member gives first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from fejoint.inputs.units import both_units

MOST_FIGURES = 3
"""Figures of a load where the band would allow more."""


def figures_as_sure(load: float, odds: Odds | None) -> int:
    """Return to how many figures a pull (N) may be told: by the odds, where there are any."""
    return MOST_FIGURES if odds is None else odds.figures_of(load)


def both_as_sure(load: float, odds: Odds | None) -> str:
    """Write a pull in both units to the figures that the odds allow."""
    return both_units(load, figures_as_sure(load, odds))


@dataclass(frozen=True)
class LimitBand:
    """Where nine in ten such joints reach a limit, the model's known bias taken off.

    Attributes
    ----------
    member, mode, cause : str
        The limit.
    load : float
        As computed, N; no bias is taken off it.
    low, median, high : float
        5, 50 and 95 in 100 such joints lie below, N.
    model : str
        Where the model's error in such a limit is known from.
    """

    member: str
    mode: str
    cause: str
    load: float
    low: float
    median: float
    high: float
    model: str

    @property
    def figures(self) -> int:
        """How many figures of the load the band allows: steps of 0.02 to 0.2 of its half width."""
        half = 0.5 * (self.high - self.low)
        if not 0.0 < half < math.inf or self.load <= 0.0:
            return MOST_FIGURES
        step = math.floor(math.log10(0.2 * half))
        return min(max(math.floor(math.log10(self.load)) - step + 1, 1), MOST_FIGURES)


@dataclass(frozen=True)
class Cause:
    """What moves the first limit: its name, one standard deviation of ln(load), and words."""

    name: str
    deviation: float
    words: str


@dataclass(frozen=True)
class Odds:
    """How sure a verdict is.

    Attributes
    ----------
    first : str
        The member that the verdict names.
    shares : mapping of str to float
        Member: share of such joints in which it gives first, the likeliest first.
    bands : tuple of LimitBand
        Every limit's that the pull met before its highest load.
    causes : tuple of Cause
        Of the first limit's band, the strongest first.
    lowest : float or None
        Pull below which nothing at all gives in 95 of 100 such joints, N; None in an answer
        written before it was told.
    seconds : float
        CPU time that it cost.
    """

    first: str
    shares: Mapping[str, float]
    bands: tuple[LimitBand, ...]
    causes: tuple[Cause, ...]
    lowest: float | None
    seconds: float

    @classmethod
    def of_answer(cls, plain: Mapping[str, Any]) -> Odds | None:
        """Return what the plain data of `answer.json` hold of it; None where they hold nothing."""
        trust = plain["trust"]
        if "band_N" not in trust:
            return None
        bands = tuple(
            LimitBand(
                b["member"], b["mode"], b["cause"], b["load_N"], b["low_N"], b["median_N"],
                b["high_N"], b["model"],
            )
            for b in trust["band_N"]
        )  # fmt: skip
        told = trust["odds"]
        causes = tuple(Cause(**c) for c in trust["causes"])
        lowest = told.get("nothing_gives_below_N")
        return cls(told["first"], told["shares"], bands, causes, lowest, trust["band_cpu_s"])

    def band(self, member: str, mode: str, cause: str) -> LimitBand | None:
        """Return a limit's band, None for one without."""
        for band in self.bands:
            if (band.member, band.mode, band.cause) == (member, mode, cause):
                return band
        return None

    def figures_of(self, load: float) -> int:
        """Return how many figures a load (N) may be told to: those of the nearest limit."""
        if not self.bands or load <= 0.0:
            return MOST_FIGURES
        return min(self.bands, key=lambda b: abs(math.log(b.load / load))).figures

    @property
    def of_100(self) -> str:
        """Say in how many of 100 such joints the verdict's member gives first."""
        share = 100.0 * self.shares.get(self.first, 0.0)
        if share > 99.5:
            return "more than 99 of 100"
        return f"{share:.0f} of 100" if share >= 0.5 else "less than 1 of 100"

    @property
    def matters(self) -> str:
        """Say what moves the first limit most, and what else does."""
        told = [cause.words for cause in self.causes if cause.deviation > 0.01]
        if not told:
            return ""
        also = f"; then {', '.join(told[1:])}" if told[1:] else ""
        return f"What matters most: {told[0]}{also}."

    def to_dict(self) -> dict[str, Any]:
        """Return what `trust` of `answer.json` holds of it."""
        rows = [
            {
                "member": b.member, "mode": b.mode, "cause": b.cause, "load_N": b.load,
                "low_N": b.low, "median_N": b.median, "high_N": b.high, "model": b.model,
                "figures": b.figures,
            }
            for b in self.bands
        ]  # fmt: skip
        return {
            "band_N": rows,
            "band_holds": 0.9,
            "odds": {
                "first": self.first,
                "of_100": self.of_100,
                "shares": dict(self.shares),
                "nothing_gives_below_N": self.lowest,
            },
            "causes": [asdict(cause) for cause in self.causes],
            "matters_most": self.matters,
            "band_cpu_s": self.seconds,
        }
