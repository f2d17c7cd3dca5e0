"""A hole's edge and a pin's surface, no bodies behind them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.kernel.assembly import SparsityChanged
from fejoint.kernel.contact import Circle, PinContact, SecondaryEdge, SmoothEdge

HOLE, PIN = 2.05, 2.0
PENALTY, DRAG = 1e5, 3e4


@dataclass
class Pair:
    """A hole's edge and a pin's surface, no bodies behind them."""

    contact: PinContact
    z: np.ndarray
    secondary_dofs: np.ndarray
    primary_dofs: np.ndarray

    def settled(self, z=None):
        """Let the pattern grow, then give the state at z."""
        z = self.z if z is None else z
        for _ in range(50):
            try:
                return self.contact.evaluate(z, self.contact.initial_state()).state
            except SparsityChanged:
                continue
        raise AssertionError

    def places(self, z):
        """Positions of all nodes (secondary, then primary; a circle's centre) in the order of z."""
        return self.reference + z.reshape(-1, 2)


def pair(
    primary: str,
    friction: float = 0.0,
    *,
    half: bool = False,
    rough: float = 2e-3,
    push: float = 0.06,
) -> Pair:
    turn = np.pi if half else 2.0 * np.pi
    count = 16 if half else 32
    steps = 2 * count + (1 if half else 0)
    around = np.linspace(0.0, turn, 2 * count + 1)[:steps]
    hole = HOLE * np.stack([np.cos(around), np.sin(around)], axis=1)
    start = np.arange(0, 2 * count, 2)
    edges = np.stack([start, (start + 2) % steps if not half else start + 2, start + 1], axis=1)
    n_slave = len(hole)
    rng = np.random.default_rng(7)
    if primary == "circle":
        points = np.vstack([hole, [[push, 0.0]]])
        dofs = np.array([2 * n_slave, 2 * n_slave + 1])
        surface = Circle(np.array([push, 0.0]), PIN, dofs)
    else:
        n_pin = 25 if half else 48
        at = np.linspace(0.0, turn, n_pin) if half else np.linspace(0.0, turn, n_pin + 1)[:-1]
        pin = PIN * np.stack([np.cos(at), np.sin(at)], axis=1) + [push, 0.0]
        points = np.vstack([hole, pin])
        dofs = 2 * n_slave + 2 * np.arange(n_pin)[:, None] + np.arange(2)
        surface = SmoothEdge(pin, dofs, half)
    z = rough * rng.normal(size=2 * len(points))
    if half:  # what lies on the mirror stays on it
        pin_ends = [n_slave, len(points) - 1] if primary != "circle" else [n_slave]
        z[2 * np.array([0, n_slave - 1, *pin_ends]) + 1] = 0.0
    secondary = SecondaryEdge.from_mesh(points, edges, 2.0)
    contact = PinContact(secondary, surface, PENALTY, friction=friction, tangential_stiffness=DRAG)
    made = Pair(contact, z, np.arange(2 * n_slave), np.unique(dofs))
    made.reference = points
    return made
