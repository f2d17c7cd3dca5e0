"""The contact's tangent is the derivative of its forces."""

from __future__ import annotations

import numpy as np
import pytest
from support.touching import contact_of, dense, forces, random_push, random_touch


@pytest.mark.parametrize("primary", ["circle", "half", "whole"])
@pytest.mark.parametrize(("friction", "slip"), [(0.0, 0.0), (0.3, 1e-4), (0.3, 0.05), (50.0, 0.05)])
@pytest.mark.parametrize("held", [False, True])
def test_differences_of_the_forces_approach_the_tangent_with_h_squared(
    primary: str, friction: float, slip: float, held: bool
) -> None:
    contact, n = contact_of(primary, friction)
    z = random_push(contact, n, 1)
    touch = random_touch(contact, z, 2, slip)
    touch = contact.assume_closed(touch) if held else touch
    tangent = dense(contact, contact.evaluate(z, touch), n)
    direction = np.random.default_rng(3).normal(size=n)
    miss = []
    for h in (3e-5, 3e-6):
        ahead, behind = (
            forces(contact.evaluate(z + side * h * direction, touch), n) for side in (1, -1)
        )
        difference = (ahead - behind) / (2.0 * h)
        miss.append(np.linalg.norm(difference - tangent @ direction) / np.linalg.norm(difference))
    assert miss[1] < 1e-8
    assert miss[1] < 0.03 * miss[0] + 1e-10


@pytest.mark.parametrize("primary", ["circle", "half", "whole"])
def test_without_friction_the_tangent_is_symmetric(primary: str) -> None:
    contact, n = contact_of(primary, 0.0)
    z = random_push(contact, n, 4)
    tangent = dense(contact, contact.evaluate(z, contact.initial_state()), n)
    assert np.abs(tangent).max() > 0.0
    assert np.abs(tangent - tangent.T).max() < 1e-13 * np.abs(tangent).max()


@pytest.mark.parametrize("primary", ["circle", "whole"])
@pytest.mark.parametrize("friction", [0.0, 0.3])
def test_the_forces_on_hole_and_pin_balance(primary: str, friction: float) -> None:
    contact, n = contact_of(primary, friction)
    z = random_push(contact, n, 5)
    f = forces(contact.evaluate(z, random_touch(contact, z, 6, 0.05)), n)
    assert np.linalg.norm(f.reshape(-1, 2).sum(axis=0)) < 1e-12 * np.abs(f).sum()


def test_what_touched_is_held_together_only_in_a_first_guess() -> None:
    contact, n = contact_of("whole", 0.3)
    z = random_push(contact, n, 1)
    touch = random_touch(contact, z, 2, 0.0)
    gap = contact.evaluate(z, touch).state.gap
    torn = (touch.gap < 0.0) & (gap > 0.0)
    assert torn.any()
    held = contact.evaluate(z, contact.assume_closed(touch))
    assert not held.state.assume_closed
    assert np.all(held.state.tangential_traction[torn] != 0.0)
    assert np.all(contact.evaluate(z, touch).state.tangential_traction[torn] == 0.0)
    # a pair that never touched stays apart
    apart = (touch.gap > 0.0) & (gap > 0.0)
    assert np.all(held.state.tangential_traction[apart] == 0.0)
