"""Meshes of 6-node triangles with curved sides, made by gmsh."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from fejoint.errors import SolveStopped
from fejoint.meshing import drawn_mesh
from fejoint.meshing.contours import Contour, nearest
from fejoint.meshing.gmsh_session import session
from fejoint.meshing.mesh import Mesh, jacobians

GROWTH = 0.5
"""Element size gained per mm of distance from an ear's hole: 0.3 moves its curve by 0.2 %."""
PLATE_GROWTH = 0.3
"""The same for a plate with an open hole, whose far edges tell too."""
UNGRADED = 0.06
"""Fraction of the hole's diameter over which the element size stays that of the hole's edge."""
LAYERS = 2.5
"""Elements asked for across the thinnest ligament."""
FAR_SIDES = 0.75
"""Share of its sides that the quarter of a hole that the pin is pulled away from keeps."""

Far = Literal["neck", "tip"]


@dataclass(frozen=True)
class EarOutline:
    """What the mesher needs of an ear: lengths in mm, the hole's centre at the origin.

    Attributes
    ----------
    width, hole, edge_distance, grip_length : float
        Of the plate; the hole's diameter; from the hole's centre to the end and to the grip.
    end : {"round", "square", "clipped"}
    clip : float
        Leg of the 45 degree cut of a clipped end.
    slot : float
        How much longer than round the hole is, towards the end.
    offset : float
        How far off the plate's axis the hole lies, towards positive y.
    drawn : tuple of Contour
        Of a plate that is no strip: its outside, whose last side is held, and every further hole.
        Width, edge distance and offset are then as measured beside and behind the hole.
    symmetric : bool
        Whether a drawn plate is its own mirror image about y = 0, with no hole on that line but
        the pin's.
    """

    width: float
    hole: float
    edge_distance: float
    grip_length: float
    end: Literal["round", "square", "clipped"] = "round"
    clip: float = 0.0
    slot: float = 0.0
    offset: float = 0.0
    drawn: tuple[Contour, ...] = ()
    symmetric: bool = True

    @property
    def contours(self) -> tuple[Contour, ...]:
        """The drawn contours with the pin's hole among them."""
        r = 0.5 * self.hole
        hole = ((self.slot, -r, 1.0), (self.slot, r, 0.0), (0.0, r, 1.0), (0.0, -r, 0.0))
        return (self.drawn[0], hole, *self.drawn[1:])

    @property
    def thinnest(self) -> float:
        """Thinnest ligament between the hole and the outline, mm."""
        if self.drawn:
            return nearest(self.contours[1], self.drawn)[0]
        half = self.width / 2.0
        ahead = self.edge_distance - self.slot
        if self.end == "round" and ahead < half:
            ahead = half - math.hypot(half - ahead, self.offset)
        return min(ahead, half - abs(self.offset)) - self.hole / 2.0

    @property
    def shoulder(self) -> float:
        """Where the end's arc or cut meets the straight edge, along the axis, mm."""
        back = {"round": self.width / 2.0, "clipped": self.clip, "square": 0.0}[self.end]
        return self.edge_distance - back


def ear_half(
    outline: EarOutline, sides: int, pin: float | None = None, far: Far | None = None
) -> Mesh:
    """Mesh the upper half of an ear, with the upper half of a pin disc beside it.

    Parameters
    ----------
    outline : EarOutline
        With its hole on the axis.
    sides : int
        Element sides round the whole hole, a multiple of 4.
    pin : float, optional
        Diameter of a pin disc to mesh, mm; its centre is at the origin too.
    far : {"neck", "tip"}, optional
        The side of the hole that the pin is pulled away from: coarser towards its axis.

    Returns
    -------
    Mesh
        Edges "hole", "grip", "outer", "ear axis" (two parts: "neck" towards the grip and "tip"
        towards the end), and with a pin "pin" and "pin axis"; regions "ear" and "pin".
        The hole and the pin are walked counter-clockwise.

    Raises
    ------
    SolveStopped
        If the end's arc or cut reaches past the grip, or an element comes out inverted.
    """
    _check_grip(outline)
    with session() as gmsh:
        geo = gmsh.model.geo
        r, top, slot = outline.hole / 2.0, outline.width / 2.0, outline.slot
        hole, (right, *_, left) = _round(geo, r, slot, 2)
        grip0 = geo.addPoint(-outline.grip_length, 0, 0)
        openings: list[list[int]] = []
        if outline.drawn:
            outer, tip0, grip1 = drawn_mesh.upper_half(geo, outline.drawn[0])
            openings = [
                drawn_mesh.closed(geo, c) for c in outline.drawn[1:] if drawn_mesh.is_above(c)
            ]
        else:
            grip1 = geo.addPoint(-outline.grip_length, top, 0)
            tip0 = geo.addPoint(outline.edge_distance, 0, 0)
            outer = _end(geo, outline, tip0, grip1)
        neck, tip = geo.addLine(left, grip0), geo.addLine(tip0, right)
        grip = geo.addLine(grip1, grip0)
        ring = [*outer, grip, -neck, *(-c for c in reversed(hole)), -tip]
        ear = geo.addPlaneSurface([geo.addCurveLoop(c) for c in (ring, *openings)])
        curves = {"hole": hole, "outer": outer, "grip": [grip], "neck": [neck], "tip": [tip]}
        curves |= {"openings": [c for opening in openings for c in opening]} if openings else {}
        surfaces = {"ear": ear}
        if pin is not None:
            arcs, (begin, *_, end) = _round(geo, pin / 2.0, 0.0, 2)
            axis = geo.addLine(end, begin)
            surfaces["pin"] = geo.addPlaneSurface([geo.addCurveLoop([*arcs, axis])])
            curves |= {"pin": arcs, "pin axis": [axis]}
        return _meshed(gmsh, outline, sides, pin, curves, surfaces, far)


def ear_whole(
    outline: EarOutline, sides: int, pin: float | None = None, far: Far | None = None
) -> Mesh:
    """Mesh a whole ear (and pin disc) as an upper half and its mirror image; see `ear_half`."""
    half = ear_half(outline, sides, pin, far)
    seam = ("neck", "tip", "pin axis") if pin is not None else ("neck", "tip")
    return half.mirrored(seam)


def ear_free(outline: EarOutline, sides: int, pin: float | None = None) -> Mesh:
    """Mesh a whole ear (and pin disc) in one piece, its hole on the axis or off it.

    Parameters and errors as for `ear_half`; no edges "neck", "tip" and "pin axis".
    """
    _check_grip(outline)
    with session() as gmsh:
        geo = gmsh.model.geo
        r, half, axis = outline.hole / 2.0, outline.width / 2.0, -outline.offset
        hole, _ = _round(geo, r, outline.slot, 4)
        openings: list[list[int]] = []
        if outline.drawn:
            *outer, grip = drawn_mesh.closed(geo, outline.drawn[0])
            ring = geo.addCurveLoop([*outer, grip])
            openings = [drawn_mesh.closed(geo, c) for c in outline.drawn[1:]]
        else:
            high, low = (geo.addPoint(-outline.grip_length, axis + y, 0) for y in (half, -half))
            tip = geo.addPoint(outline.edge_distance, axis, 0)
            upper = _end(geo, outline, tip, high)
            lower = _end(geo, outline, tip, low, -1.0)
            grip = geo.addLine(high, low)
            outer = [*upper, *lower]
            ring = geo.addCurveLoop([*upper, grip, *(-c for c in reversed(lower))])
        ear = geo.addPlaneSurface([ring, *(geo.addCurveLoop(c) for c in (hole, *openings))])
        curves = {"hole": hole, "outer": outer, "grip": [grip]}
        curves |= {"openings": [c for opening in openings for c in opening]} if openings else {}
        surfaces = {"ear": ear}
        if pin is not None:
            arcs, _ = _round(geo, pin / 2.0, 0.0, 4)
            surfaces["pin"] = geo.addPlaneSurface([geo.addCurveLoop(arcs)])
            curves["pin"] = arcs
        return _meshed(gmsh, outline, sides, pin, curves, surfaces)


def _check_grip(outline: EarOutline) -> None:
    if not outline.drawn and outline.shoulder <= -outline.grip_length:
        reach = (
            f"{-outline.shoulder:.3g} mm towards the grip, past its {outline.grip_length:.3g} mm"
        )
        message = f"the {outline.end} end reaches {reach}; hold the plate further from the hole"
        raise SolveStopped(message)


def _round(geo: Any, r: float, slot: float, quarters: int) -> tuple[list[int], list[int]]:
    """Add a circle's quarter arcs from the right on, drawn apart by a slot; return their points.

    The first curves are the arcs and lines in walking order.
    """
    far, near = geo.addPoint(slot, 0, 0), geo.addPoint(0, 0, 0)
    right, up = geo.addPoint(slot + r, 0, 0), geo.addPoint(slot, r, 0)
    left = geo.addPoint(-r, 0, 0)
    up_near = geo.addPoint(0, r, 0) if slot > 0.0 else up
    curves = [geo.addCircleArc(right, far, up)]
    if slot > 0.0:
        curves.append(geo.addLine(up, up_near))
    curves.append(geo.addCircleArc(up_near, near, left))
    if quarters == 2:
        return curves, [right, up, left]
    down = geo.addPoint(slot, -r, 0)
    down_near = geo.addPoint(0, -r, 0) if slot > 0.0 else down
    curves.append(geo.addCircleArc(left, near, down_near))
    if slot > 0.0:
        curves.append(geo.addLine(down_near, down))
    curves.append(geo.addCircleArc(down, far, right))
    return curves, [right, up, left, down]


def _meshed(
    gmsh: Any,
    o: EarOutline,
    sides: int,
    pin: float | None,
    curves: dict[str, list[int]],
    surfaces: dict[str, int],
    far: Far | None = None,
) -> Mesh:
    """Set the sizes of an ear and its pin, and mesh them."""
    gmsh.model.geo.synchronize()
    quarter = max(1, round(sides / 4))
    size = min(math.pi * o.hole / sides, o.thinnest / LAYERS)
    fewer = max(2, round(FAR_SIDES * quarter))
    growth = (quarter / fewer) ** (2.0 / (fewer - 1))  # the first side is as long as the others
    for name in ("hole", "pin"):
        round_curves = curves.get(name, ())
        coarse = {"neck": round_curves[-1:], "tip": round_curves[:1]}.get(far or "", ())
        for curve in round_curves:
            straight = gmsh.model.getType(1, curve) == "Line"
            along = max(1, round(o.slot * sides / (math.pi * o.hole))) if straight else quarter
            if curve in coarse:
                ratio = growth if far == "neck" else 1.0 / growth
                gmsh.model.mesh.setTransfiniteCurve(curve, fewer + 1, "Progression", ratio)
            else:
                gmsh.model.mesh.setTransfiniteCurve(curve, along + 1)
    graded = {surfaces["ear"]: (size, o.hole / 2.0, o.width / 5.0, o.slot)}
    if pin is not None:
        graded[surfaces["pin"]] = (math.pi * pin / sides, pin / 2.0, pin / 4.0, 0.0)
    finer = drawn_mesh.finer(gmsh, o.contours, surfaces["ear"], GROWTH, LAYERS) if o.drawn else []
    _grade(gmsh, graded, UNGRADED * o.hole, far, finer)
    return _checked(_generate(gmsh, curves, surfaces))


def quarter_plate(
    half_width: float, half_length: float, semi_axes: tuple[float, float], sides: int
) -> Mesh:
    """Mesh the first quadrant of a plate with a central elliptic hole.

    Parameters
    ----------
    half_width, half_length : float
        Extent of the quadrant along y and x, mm.
    semi_axes : (float, float)
        Semi-axes of the hole along x and y, mm.
    sides : int
        Element sides round the whole hole, a multiple of 4.

    Returns
    -------
    Mesh
        Edges "hole", "right" (x = half_length), "top" (y = half_width), "x axis", "y axis".
    """
    a, b = semi_axes
    with session() as gmsh:
        occ = gmsh.model.occ
        plate = occ.addRectangle(0, 0, 0, half_length, half_width)
        disk = occ.addDisk(0, 0, 0, max(a, b), min(a, b))
        if b > a:
            occ.rotate([(2, disk)], 0, 0, 0, 0, 0, 1, math.pi / 2)
        occ.cut([(2, plate)], [(2, disk)])
        occ.synchronize()
        curves: dict[str, list[int]] = {}
        for _, tag in gmsh.model.getEntities(1):
            x, y, _ = gmsh.model.occ.getCenterOfMass(1, tag)
            on_axis = {"x axis": abs(y), "y axis": abs(x)}
            far = {"right": abs(x - half_length), "top": abs(y - half_width)}
            near = [k for k, miss in {**on_axis, **far}.items() if miss < 1e-9 * half_length]
            curves.setdefault(near[0] if near else "hole", []).append(tag)
        for curve in curves["hole"]:
            gmsh.model.mesh.setTransfiniteCurve(curve, max(2, round(sides / 4)) + 1)
        (_, surface), *_ = gmsh.model.getEntities(2)
        mean = math.sqrt(a * b)
        size = 2.0 * math.pi * mean / sides
        grade = (
            f"{size} + {PLATE_GROWTH}*max(0, (sqrt((x/{a})^2 + (y/{b})^2) - 1)*{mean} - {mean / 4})"
        )
        _background(gmsh, {surface: f"min({grade}, {min(half_width, half_length) / 4})"})
        mesh = _generate(gmsh, curves, {"plate": surface})
    return _checked(mesh)


def _end(geo: Any, o: EarOutline, tip: int, grip: int, up: float = 1.0) -> list[int]:
    """Add the outline from the end's tip on the axis to the grip's upper (or lower) corner."""
    e, axis, half = o.edge_distance, -o.offset, up * o.width / 2.0
    side = axis + half
    if o.end == "round":
        back = e - o.width / 2.0
        middle, shoulder = geo.addPoint(back, axis, 0), geo.addPoint(back, side, 0)
        return [geo.addCircleArc(tip, middle, shoulder), geo.addLine(shoulder, grip)]
    if o.end == "clipped" and o.clip > 0.0:
        a, b = geo.addPoint(e, side - up * o.clip, 0), geo.addPoint(e - o.clip, side, 0)
        return [geo.addLine(tip, a), geo.addLine(a, b), geo.addLine(b, grip)]
    corner = geo.addPoint(e, side, 0)
    return [geo.addLine(tip, corner), geo.addLine(corner, grip)]


def _grade(
    gmsh: Any,
    graded: dict[int, tuple[float, float, float, float]],
    plateau: float,
    far: Far | None,
    finer: Sequence[int] = (),
) -> None:
    """Set the size per surface: fine at its hole's edge, growing with the distance from it.

    Fields that ask for less elsewhere may be given.
    """
    sizes, away = {}, {"neck": "-1", "tip": "1"}.get(far or "", "0")
    for surface, (h, r, most, slot) in graded.items():
        x = f"(x - min(max(x, 0), {slot}))" if slot > 0.0 else "x"
        distance = f"abs(sqrt({x}*{x} + y*y) - {r})"
        edge = f"{h}*(1 + max(0, {away}*{x})/{r})"
        sizes[surface] = f"min({edge} + {GROWTH}*max(0, {distance} - {plateau}), {most})"
    _background(gmsh, sizes, finer)


def _background(gmsh: Any, sizes: dict[int, str], finer: Sequence[int] = ()) -> None:
    fields = gmsh.model.mesh.field
    restricted = list(finer)
    for surface, formula in sizes.items():
        size = fields.add("MathEval")
        fields.setString(size, "F", formula)
        limited = fields.add("Restrict")
        fields.setNumber(limited, "InField", size)
        fields.setNumbers(limited, "SurfacesList", [surface])
        restricted.append(limited)
    smallest = fields.add("Min")
    fields.setNumbers(smallest, "FieldsList", restricted)
    fields.setAsBackgroundMesh(smallest)


def _generate(gmsh: Any, curves: dict[str, list[int]], surfaces: dict[str, int]) -> Mesh:
    gmsh.model.mesh.generate(2)
    gmsh.model.mesh.setOrder(2)
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    number = np.zeros(int(tags.max()) + 1, np.intp)
    number[tags] = np.arange(len(tags))
    points = coordinates.reshape(-1, 3)[:, :2].copy()
    triangles, regions, start = [], {}, 0
    for name, tag in surfaces.items():
        _, nodes = gmsh.model.mesh.getElementsByType(9, tag)
        t = number[nodes].reshape(-1, 6)
        triangles.append(t)
        regions[name] = np.arange(start, start + len(t))
        start += len(t)
    edges = {}
    for name, parts in curves.items():
        found = [gmsh.model.mesh.getElementsByType(8, abs(c))[1] for c in parts]
        edges[name] = np.vstack([number[f].reshape(-1, 3) for f in found])
    return _compact(Mesh(points, np.vstack(triangles), edges, regions))


def _compact(mesh: Mesh) -> Mesh:
    """Drop nodes no triangle uses (circle centres), and turn every triangle counter-clockwise."""
    used = np.unique(mesh.triangles)
    number = np.full(len(mesh.points), -1, np.intp)
    number[used] = np.arange(len(used))
    triangles, points = number[mesh.triangles], mesh.points[used]
    a, b, c = (points[triangles[:, k]] for k in range(3))
    turn = np.cross(np.c_[b - a, np.zeros(len(a))], np.c_[c - a, np.zeros(len(a))])[:, 2] < 0.0
    triangles[turn] = triangles[turn][:, [0, 2, 1, 5, 4, 3]]
    return Mesh(points, triangles, {k: number[e] for k, e in mesh.edges.items()}, mesh.regions)


def _checked(mesh: Mesh) -> Mesh:
    worst = jacobians(mesh).min(axis=1)
    if np.any(worst <= 0.0):
        x, y = mesh.points[mesh.triangles[int(worst.argmin()), :3]].mean(axis=0)
        message = (
            f"the mesh has an inverted curved element near x {x:.3g}, y {y:.3g} mm; "
            "ask for a finer mesh (refine)"
        )
        raise SolveStopped(message)
    return mesh
