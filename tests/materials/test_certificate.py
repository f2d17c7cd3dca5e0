"""A metal by its mill certificate: what is taken from it, what is assumed, and with which band."""

from __future__ import annotations

import math

import pytest

from fejoint.errors import BadInput
from fejoint.materials import certificate, library

STRIP = {"modulus": "193 GPa", "rp02": "305 MPa", "rm": "618 MPa"}


def made(**more: object) -> library.Material:
    return library.custom({**STRIP, **more}, "strip")


def test_a50_of_a_strip_loses_the_neck_by_barba() -> None:
    metal = made(a50="54 %", thickness="2 mm")
    assert metal.uniform_strain == pytest.approx(0.54 - 0.5 * math.sqrt(2.0 * 12.5) / 50.0)
    assert (metal.rp02, metal.rm) == (305.0, 618.0)
    assert any("49.0 % (46.0 to 51.0 %): A50 less" in said for said in metal.assumptions)


def test_a5_and_a80_are_of_other_test_pieces() -> None:
    assert made(a5="54 %").uniform_strain == pytest.approx(0.54 - 0.5 / 5.65)
    metal = made(a80="54 %", thickness="2 mm")
    assert metal.uniform_strain == pytest.approx(0.54 - 0.5 * math.sqrt(40.0) / 80.0)


def test_two_gauges_tell_the_neck_themselves() -> None:
    neck, uniform = 0.7, 0.42
    shares = certificate.neck_shares({"a5": 1, "a50": 1, "thickness": 2.0})
    printed = {key: uniform + neck * share for key, share in shares.items()}
    metal = made(**printed, thickness="2 mm")
    assert metal.uniform_strain == pytest.approx(uniform, rel=1e-6)
    assert any("from A5 and A50 by Barba's law" in said for said in metal.assumptions)


def test_two_gauges_that_contradict_each_other_are_not_believed() -> None:
    metal = made(a5="40 %", a50="60 %", thickness="2 mm")
    assert any("less the neck's part" in said for said in metal.assumptions)
    assert metal.uniform_strain == pytest.approx(0.60 - 0.5 * 0.1)


def test_z_gives_the_fracture_strain_with_its_band() -> None:
    metal = made(a5="54 %", reduction_of_area="70 %")
    assert metal.fracture_strain == pytest.approx(-math.log(0.30))
    assert metal.fracture_band == pytest.approx((-math.log(0.35), -math.log(0.25)))
    assert any("from Z" in said for said in metal.assumptions)


def test_without_z_the_fracture_strain_is_a_judgement_and_says_so() -> None:
    metal = made(a5="54 %")
    start = math.log1p(metal.uniform_strain)
    assert metal.fracture_strain == pytest.approx(start + 0.5)
    assert metal.fracture_band == pytest.approx((start + 0.2, start + 0.9))
    assert any("not printed" in said for said in metal.assumptions)


def test_what_the_case_gives_besides_is_kept() -> None:
    metal = made(a5="54 %", fracture_strain=1.1, fracture_band=[0.9, 1.3], strength_band="1 %")
    assert (metal.fracture_strain, metal.fracture_band) == (1.1, (0.9, 1.3))
    assert metal.strength_band == 0.01
    assert not any("fracture strain" in said for said in metal.assumptions)
    assert made(a5="54 %").strength_band == certificate.OWN_LOT
    assert "mill certificate" in made(a5="54 %").source


def test_a_certificate_s_metal_survives_its_own_dict() -> None:
    metal = made(a50="54 %", thickness="2 mm", reduction_of_area="65 %")
    assert library.custom(metal.to_dict(), "strip") == metal


def test_a_strong_thin_strip_keeps_a_share_of_its_stretch() -> None:
    metal = library.custom(
        {"modulus": "200 GPa", "rp02": "1400 MPa", "rm": "1500 MPa", "a5": "5 %"}, "hard"
    )
    assert metal.uniform_strain == pytest.approx(0.3 * 0.05)
    assert metal.fracture_strain > math.log1p(metal.uniform_strain)


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({"a50": "54 %"}, "thickness"),
        ({"law": "certificate"}, "a5, a50 or a80"),
        ({"reduction_of_area": "60 %"}, "a5, a50 or a80"),
        ({"a5": "54 %", "rm": "300 MPa"}, "must exceed rp02"),
        ({"a5": "54 %", "reduction_of_area": "99 %"}, "0.95"),
        ({"law": "certificate", "a5": "54 %", "uniform_strain": "40 %"}, "uniform_strain"),
    ],
)
def test_what_tells_nothing_is_refused_in_a_line(more: dict[str, object], word: str) -> None:
    with pytest.raises(BadInput, match=word):
        made(**more)


def test_known_metals_come_back_from_what_their_certificate_would_print() -> None:
    for name in ("316 strip, annealed", "6082-T6 plate", "S355 steel", "DC01 strip"):
        metal = library.find(name)
        printed = metal.uniform_strain + 0.55 / 5.65
        table = {"modulus": metal.modulus, "rp02": metal.rp02, "rm": metal.rm, "a5": printed}
        again = library.custom(table, "again")
        assert again.uniform_strain == pytest.approx(metal.uniform_strain, abs=0.012)
        low, high = again.fracture_band
        assert low < metal.fracture_strain < high
