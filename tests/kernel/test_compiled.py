"""The compiled kernels answer what bare Python answers."""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.sparse import csr_array
from support.bare import MODULES, SOLID, bare_load
from support.one_body import made
from support.touching import (
    contact_of,
    dense,
    forces,
    random_push,
    random_touch,
)

from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response, SparsityChanged
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal

pytest.importorskip("numba")

METALS = {
    "elastic": Metal(193e3, 0.3),
    "swift": Metal(193e3, 0.3, Hardening.swift(290.0, 0.02235, 0.394)),
    "perfectly plastic": Metal(70e3, 0.33, Hardening.linear(100.0)),
}
CLOSE = 2e-12
BODY = 20
"""Elements of the body; bare Python takes a millisecond for each."""


@pytest.fixture
def without_numba(monkeypatch: pytest.MonkeyPatch):
    """Let bare Python run one call."""

    def call(function, *arguments):
        with monkeypatch.context() as patch:
            patch.setattr(compiled, "load", bare_load)
            answer = function(*arguments)
            return replace(answer, tangent=partial(call, answer.tangent)) if arguments else answer

    return call


def agree(a: np.ndarray, b: np.ndarray, rounding: float = 0.0) -> bool:
    """Whether the difference is rounding; `rounding` is what the unit's last digit makes."""
    return bool(np.abs(a - b).max() <= CLOSE * np.abs(b).max() + 4.0 * rounding)


def curved_body(metal: Metal, large: bool) -> Solid:
    corners = np.array([[0.0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]])
    random = np.random.default_rng(0)
    points = (corners + 2.0 * np.arange(BODY)[:, None, None]).reshape(-1, 2)
    points = points + 0.03 * random.normal(size=points.shape)
    triangles = np.arange(len(points)).reshape(BODY, 6)
    dofs = np.arange(2 * len(points)).reshape(BODY, 12)
    thickness = random.uniform(1.0, 2.0, (BODY, 3))
    return Solid(metal, dofs, Quadrature.from_mesh(points, triangles), thickness, large)


def same(a: Response, b: Response, modulus: float) -> None:
    rounding = 2e-16 * modulus  # of a strain read off a deformation gradient near 1
    assert agree(a.forces, b.forces, 8.0 * rounding)
    assert agree(a.tangent(), b.tangent())
    assert agree(a.state.inverse_plastic_metric, b.state.inverse_plastic_metric)
    assert agree(a.state.equivalent, b.state.equivalent, 2e-16)
    assert agree(a.state.stress, b.state.stress, rounding)
    assert a.stored == pytest.approx(b.stored, rel=1e-9)


def test_the_kernels_are_there() -> None:
    assert compiled.warm()


@pytest.mark.parametrize("large", [True, False])
@pytest.mark.parametrize("metal", METALS)
@pytest.mark.parametrize("size", [1e-6, 1e-3, 0.03])
def test_a_body_answers_as_in_bare_python_step_after_step(
    metal: str, large: bool, size: float, without_numba
) -> None:
    body = curved_body(METALS[metal], large)
    random = np.random.default_rng(1)
    z, state = np.zeros(body.dofs.size), body.initial_state()
    for _ in range(3):
        z = z + size * random.normal(size=z.size)
        fast, slow = body.evaluate(z, state), without_numba(body.evaluate, z, state)
        same(fast, slow, body.metal.modulus)
        state = slow.state


def test_a_body_turned_inside_out_has_no_answer() -> None:
    body = curved_body(METALS["swift"], True)
    z = np.zeros(body.dofs.size)
    z[::2] = -2.0 * np.tile([0.0, 1.0, 0.0, 0.5, 0.5, 0.0], BODY)
    assert not np.isfinite(body.evaluate(z, body.initial_state()).forces).all()


@pytest.mark.parametrize("primary", ["circle", "half", "whole"])
@pytest.mark.parametrize(("friction", "slip"), [(0.0, 0.0), (0.3, 1e-4), (0.3, 0.05), (50.0, 0.05)])
@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("held", [False, True])
def test_a_contact_answers_as_in_bare_python(
    primary: str, friction: float, slip: float, seed: int, held: bool, without_numba
) -> None:
    contact, n = contact_of(primary, friction)
    z = random_push(contact, n, seed)
    touch = random_touch(contact, z, seed, slip)
    touch = contact.assume_closed(touch) if held else touch
    fast, slow = contact.evaluate(z, touch), without_numba(contact.evaluate, z, touch)
    assert np.count_nonzero(fast.forces) > 10
    assert agree(forces(fast, n), forces(slow, n))
    assert agree(dense(contact, fast, n), dense(contact, slow, n))
    for name in ("tangential_traction", "where", "gap"):
        assert agree(getattr(fast.state, name), getattr(slow.state, name))
    assert fast.stored == pytest.approx(slow.stored, rel=1e-11)
    assert fast.lost == pytest.approx(slow.lost, rel=1e-11)


def test_a_contact_far_from_all_numbers_has_no_answer() -> None:
    contact, n = contact_of("whole", 0.3)
    response = contact.evaluate(np.full(n, np.nan), contact.initial_state())
    assert not np.isfinite(response.forces).any()


def test_a_missing_pair_asks_for_a_new_pattern_in_both_ways(without_numba) -> None:
    for way in (lambda f, *a: f(*a), without_numba):
        contact, n = contact_of("whole", 0.0)
        z = random_push(contact, n, 0)
        pin = contact.primary
        # turned by half a round, other spans of the pin face the hole's right side
        turned = np.roll(pin.nodes, len(pin.nodes) // 2, axis=0) - pin.nodes
        z[pin.dofs] += turned
        before = len(contact.blocks()[0][0])
        response = way(contact.evaluate, z, contact.initial_state())
        with pytest.raises(SparsityChanged):
            response.tangent()
        grown = len(contact.blocks()[0][0])
        assert response.tangent().size == grown > before


def test_pairs_that_do_not_touch_take_no_place(without_numba) -> None:
    for way in (lambda f, *a: f(*a), without_numba):
        contact, n = contact_of("whole", 0.0)
        response = way(contact.evaluate, random_push(contact, n, 0), contact.initial_state())
        made(response)
        edges = {e for e, _ in zip(*np.nonzero(contact._pattern.known), strict=True)}
        assert 3 <= len(edges) < len(contact.secondary.dofs)


def test_entries_add_up_at_their_places_and_no_others() -> None:
    slots = np.array([2, 0, 2, 4, 3, 2], np.int32)  # 4 lies past the end
    data = np.array([1.0, 1.0, 1.0, 1.0])
    compiled.adding_up()(slots, np.array([1.0, 2.0, 4.0, 8.0, 16.0, 32.0]), data)
    np.testing.assert_array_equal(data, [3.0, 1.0, 38.0, 17.0])


@pytest.mark.parametrize("symmetric", [True, False])
def test_a_solution_misses_by_what_numpy_says(symmetric: bool) -> None:
    random = np.random.default_rng(5)
    dense = random.normal(size=(40, 40)) * (random.random((40, 40)) < 0.2) + np.eye(40)
    if symmetric:
        dense = dense + dense.T
    held = csr_array(np.triu(dense) if symmetric else dense)
    rows = held.indptr.astype(np.int32), held.indices.astype(np.int32), held.data
    x, b, out = random.normal(size=40), random.normal(size=40), np.empty(40)
    squares = compiled.miss()(*rows, symmetric, x, b, out)
    np.testing.assert_allclose(out, dense @ x - b, rtol=1e-12, atol=1e-12)
    assert squares == pytest.approx(float(out @ out), rel=1e-12)


def test_bare_python_is_taken_when_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FEJOINT_COMPILED", "0")
    compiled.available.cache_clear()
    try:
        assert not compiled.available()
        assert not compiled.warm()
        assert compiled.adding_up() is None
    finally:
        compiled.available.cache_clear()


def test_a_missing_numba_leaves_bare_python(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "numba", None)
    compiled.available.cache_clear()
    try:
        assert not compiled.available()
    finally:
        monkeypatch.undo()
        compiled.available.cache_clear()


def test_a_cache_that_cannot_be_written_compiles_anew_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    numba = pytest.importorskip("numba")
    whole = numba.njit

    def refuse(*arguments, cache: bool = False, **options):
        if cache:
            message = "cannot cache function: no locator available"
            raise RuntimeError(message)
        return whole(*arguments, **options)

    monkeypatch.setattr(numba, "njit", refuse)
    monkeypatch.setattr(compiled, "_not_cached", [])
    twice = compiled.jit("float64(float64)")(lambda x: 2.0 * x)
    assert twice(1.5) == 3.0
    assert isinstance(twice, numba.core.dispatcher.Dispatcher)
    assert not compiled.warm()


def test_every_module_of_scalar_functions_is_compared() -> None:
    """One that `bare` does not know would be compared with itself."""
    folder = Path(compiled.__file__).parent
    found = {f.stem for f in folder.glob("*.py") if "import jit" in f.read_text()}
    assert found == {*MODULES, *SOLID}


def test_the_cache_grows_old_with_every_file_that_machine_code_is_made_of(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stamped(x: float) -> float:
        return x

    folder, times = Path(compiled.__file__).parent, {}
    monkeypatch.setattr(
        Path, "stat", lambda file: SimpleNamespace(st_mtime=times.get(file.stem, 1.0))
    )
    for module in (*MODULES, "compiled", "hardening"):
        times[module] = 2.0 + len(times)
        named = compiled._stamped(stamped).__code__.co_filename
        assert named == str(folder / f"{module}.py")
