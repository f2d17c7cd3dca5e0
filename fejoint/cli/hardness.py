"""`fejoint hardness`."""

from __future__ import annotations

from fejoint.cli import console
from fejoint.cli.options import Json


def hardness(*value: str, of: str | None = None, as_json: Json = False) -> None:
    """Convert a hardness to the other scales and to tensile strength, for steel.

    Parameters
    ----------
    value
        The hardness, for example 48 HRC, 500 HV or 285 HB.
    of
        The material it was measured on, if it is in the library: only carbon and low-alloy steel
        converts.
    """
    from fejoint.materials import hardness as scales
    from fejoint.materials import library

    found = scales.parse(" ".join(value))
    family = scales.STEEL if of is None else library.entry(of, "of").get("family", "metal")
    estimate = scales.to_strength(found, family)
    on = {scale: scales.convert(found, scale) for scale in ("HV", "HB", "HRC")}
    second = estimate.second_rm
    if as_json:
        numbers = {k: None if number is None else round(number, 1) for k, number in on.items()}
        strength = {
            "rm_MPa": round(estimate.rm),
            "rm_low_MPa": round(estimate.low),
            "rm_high_MPa": round(estimate.high),
            "scatter": estimate.scatter,
            "valid": estimate.valid,
            "holds_for": scales.STEEL,
            "source": estimate.source,
            "second_rm_MPa": None if second is None else round(second),
            "second_source": estimate.second_source or None,
        }
        console.say_json(numbers | strength, indent=2)
        return
    rows = [
        (scale, "below the table (softer than 20 HRC)" if number is None else f"{number:.4g}")
        for scale, number in on.items()
    ]
    rows += [
        ("Rm", f"{estimate.rm:.0f} MPa, {estimate.low:.0f} to {estimate.high:.0f} MPa"),
        ("source", estimate.source),
    ]
    if second is not None:
        rows += [("second table", f"{second:.0f} MPa, {estimate.second_source}")]
    rows += [
        ("range", estimate.valid),
        (
            "scatter",
            f"standard deviation {100 * estimate.scatter:.0f} % (common practice, no source); of "
            "all conversions, strength is the least reliable",
        ),
        ("holds for", f"{scales.STEEL}; never for austenitic or cold-drawn metal"),
    ]
    console.say_pairs(str(found), rows)
