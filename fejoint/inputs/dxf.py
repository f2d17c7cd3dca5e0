"""The edges of a drawing in DXF, R12 to 2018: lines, arcs, circles, polylines, curves, blocks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fejoint.errors import BadInput, Fault
from fejoint.inputs.sides import MOST_SIDES, Drawing, Point, Side, arc_of, through

UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 8: 25.4e-6, 9: 0.0254, 10: 914.4,
         13: 1e-3, 14: 100.0}  # fmt: skip
"""Of the header's INSUNITS, mm."""
OWN_LAYERS = ("gauge", "notes")
"""Layers of our own cut files that hold no edges."""
CHORD = 1e-3
"""What a curve's points may leave it by before arcs are laid through them, mm."""
_DEEPEST = 8
"""Blocks within blocks that are followed."""


def read(path: Path, where: str) -> Drawing:
    """Read the edges of a DXF file.

    Parameters
    ----------
    path : Path
    where : str
        The field, for messages.

    Raises
    ------
    BadInput
        If it is no DXF, or holds too much.
    """
    import ezdxf
    from ezdxf import recover

    try:
        try:
            document = ezdxf.readfile(path)  # type: ignore[attr-defined]
        except (ezdxf.DXFError, UnicodeError):  # type: ignore[attr-defined]
            document, _ = recover.readfile(path)
        found = Drawing(path.name, unit=UNITS.get(document.header.get("$INSUNITS", 0)))
        left_out: Counter[str] = Counter()
        hidden = {x.dxf.name for x in document.layers if x.is_off() or x.is_frozen()}
        scale = found.unit or 1.0
        for side in _edges(document.modelspace(), left_out, hidden, CHORD / scale, 0):
            found.sides.append(side)
            if len(found.sides) > MOST_SIDES:
                allowed = f"must hold at most {MOST_SIDES:,} edges"
                raise BadInput(Fault(where, path.name, allowed, "simplify it"))
    except BadInput:
        raise
    except (OSError, MemoryError) as error:
        reason = getattr(error, "strerror", None) or "too large"
        raise BadInput(Fault(where, path.name, f"cannot be read ({reason})", "check it")) from error
    except Exception as error:  # whatever a damaged file makes the library stumble over
        allowed = f"cannot be read as DXF ({' '.join(str(error).split())[:120]})"
        raise BadInput(Fault(where, path.name, allowed, "export it anew")) from error
    found.tell_left_out(left_out)
    return found


def _edges(
    entities: Any, left_out: Counter[str], hidden: set[str], chord: float, depth: int
) -> Iterator[Side]:
    for each in entities:
        kind, layer = each.dxftype(), each.dxf.get("layer", "0")
        if layer.lower() in OWN_LAYERS:
            continue
        if layer in hidden:
            left_out["on hidden layers"] += 1
        elif kind == "LINE":
            yield _flat(each.dxf.start), _flat(each.dxf.end), 0.0
        elif kind == "ARC":
            begin, turn = each.dxf.start_angle, (each.dxf.end_angle - each.dxf.start_angle) % 360.0
            turn = turn or 360.0
            yield from _round(each, begin, turn)
        elif kind == "CIRCLE":
            yield from _round(each, 0.0, 360.0)
        elif kind in ("LWPOLYLINE", "POLYLINE") and _is_flat(each):
            yield from _edges(each.virtual_entities(), left_out, hidden, chord, depth)
        elif kind in ("SPLINE", "ELLIPSE"):
            yield from through([_flat(p) for p in each.flattening(chord)])
        elif kind == "INSERT" and depth < _DEEPEST:
            copies = each.multi_insert() if each.mcount > 1 else (each,)
            for copy in copies:
                inside = copy.virtual_entities()
                yield from _edges(inside, left_out, hidden, chord, depth + 1)
        else:
            left_out[kind.lower()] += 1


def _is_flat(polyline: Any) -> bool:
    lines = polyline.dxftype() == "LWPOLYLINE"
    return bool(lines or polyline.is_2d_polyline or polyline.is_3d_polyline)


def _round(arc: Any, begin: float, turn: float) -> Iterator[Side]:
    """Give an arc as sides of half a turn at most."""
    pieces = 2 if turn > 180.0 else 1
    for k in range(pieces):
        first = begin + k * turn / pieces
        ends = [first, first + 0.5 * turn / pieces, first + turn / pieces]
        yield arc_of(*(_flat(p) for p in arc.vertices(ends)))


def _flat(point: Any) -> Point:
    return float(point.x), float(point.y)
