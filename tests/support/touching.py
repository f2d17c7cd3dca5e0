"""A hole and a pin that press on each other, for the tests of contact."""

from __future__ import annotations

import numpy as np

from fejoint.kernel.assembly import Response
from fejoint.kernel.contact import Circle, ContactState, PinContact, SecondaryEdge, SmoothEdge
from support.one_body import made

PENALTY, DRAG_PENALTY = 2e5, 7e4


def round_edges(radius: float, sides: int, end: float) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and quadratic edges (start, end, middle) along an arc from angle 0."""
    whole = end > np.pi + 1.0
    count = 2 * sides if whole else 2 * sides + 1
    angle = np.linspace(0.0, end, 2 * sides + 1)[:count]
    points = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    first = 2 * np.arange(sides)
    return points, np.stack([first, (first + 2) % count, first + 1], axis=1)


def contact_of(primary: str, friction: float) -> tuple[PinContact, int]:
    """Return a hole of radius 2.05 with a pin of radius 2 that touches it on the right."""
    end = np.pi if primary == "half" else 2.0 * np.pi
    points, edges = round_edges(2.05, 8, end)
    secondary = SecondaryEdge.from_mesh(points, edges, 2.0)
    n = len(points)
    if primary == "circle":
        pin: Circle | SmoothEdge = Circle(np.array([0.05, 0.0]), 2.0, np.array([2 * n, 2 * n + 1]))
        n_dofs = 2 * n + 2
    else:
        nodes, _ = round_edges(2.0, 9, end)
        dofs = 2 * n + np.arange(2 * len(nodes)).reshape(-1, 2)
        pin = SmoothEdge(nodes + np.array([0.05, 0.0]), dofs, primary == "half")
        n_dofs = 2 * n + 2 * len(nodes)
    contact = PinContact(
        secondary,
        pin,
        PENALTY,
        friction=friction,
        tangential_stiffness=DRAG_PENALTY,
        soft_depth=0.5,
    )
    return contact, n_dofs


def random_push(contact: PinContact, n_dofs: int, seed: int) -> np.ndarray:
    """Displacements that press the pin into the hole's right side, with noise all over."""
    random = np.random.default_rng(seed)
    z = 3e-3 * random.normal(size=n_dofs)
    z[np.asarray(contact.primary.dofs).reshape(-1)[0::2]] += 0.04
    z[np.asarray(contact.primary.dofs).reshape(-1)[1::2]] += 0.01
    return z


def random_touch(contact: PinContact, z: np.ndarray, seed: int, slip: float) -> ContactState:
    """Return a history whose slip since then is about `slip` mm."""
    random = np.random.default_rng(seed)
    p = contact.primary.project(contact.secondary.positions(z), z)
    n = contact.n_points
    moved = slip * random.normal(size=n) / np.linalg.norm(p.along, axis=1)
    gap = np.where(random.random(n) < 0.5, 0.01, -0.01)
    return ContactState(50.0 * random.normal(size=n), p.where - moved, gap)


def dense(contact: PinContact, response: Response, n: int) -> np.ndarray:
    matrix = np.zeros((n, n))
    entries = made(response)
    np.add.at(matrix, contact.blocks()[0], entries)
    return matrix


def forces(response: Response, n: int) -> np.ndarray:
    return np.bincount(response.dofs, response.forces, n)
