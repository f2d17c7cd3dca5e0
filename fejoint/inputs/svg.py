"""The edges of a drawing in SVG: paths and shapes, with their transforms and a stated scale."""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.inputs.sides import MOST_SIDES, Drawing, Point, Side, arc_of, through

UNITS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72.0, "pc": 25.4 / 6.0, "m": 1000.0}
"""Of a length, mm; pixels are of no size in a shop."""
OWN_GROUPS = ("gauge", "notes")
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_TOKEN = re.compile(rf"[MmZzLlHhVvCcSsQqTtAa]|{_NUMBER}")
_NOT_DRAWN = ("defs", "clipPath", "mask", "symbol", "marker", "pattern", "metadata", "title",
              "desc", "style", "namedview")  # fmt: skip
_STEPS = 24
"""Points of a curve between two nodes, through which arcs are laid."""
_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}


class _Odd(ValueError):
    """A path or shape that cannot be read."""


def read(path: Path, where: str) -> Drawing:
    """Read the edges of an SVG file; see `dxf.read`."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8"
        raise BadInput(Fault(where, path.name, f"cannot be read ({reason})", "check it")) from error
    if "<!ENTITY" in text or ("<!DOCTYPE" in text and "[" in text.partition("<!DOCTYPE")[2][:500]):
        raise BadInput(Fault(where, path.name, "must define no entities", "export it plainly"))
    found, left_out = Drawing(path.name), Counter[str]()
    try:
        root = ElementTree.fromstring(text)
        if _tag(root) != "svg":
            msg = "no <svg>"
            raise _Odd(msg)
        scale = _scale(root)
        # y runs down on the page
        turned = np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
        found.unit = scale
        for side in _edges(root, turned, left_out):
            found.sides.append(side)
            if len(found.sides) > MOST_SIDES:
                msg = f"more than {MOST_SIDES:,} edges"
                raise _Odd(msg)
    except (ElementTree.ParseError, ValueError, RecursionError, OverflowError) as error:
        allowed = f"cannot be read as SVG ({' '.join(str(error).split())[:120]})"
        raise BadInput(Fault(where, path.name, allowed, "export it anew")) from error
    found.tell_left_out(left_out)
    return found


def _tag(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else "comment"


def _scale(root: ElementTree.Element) -> float | None:
    """Return mm of a user unit; None where the file gives no size."""
    width, box = root.get("width", ""), (root.get("viewBox") or "").replace(",", " ").split()
    told = re.fullmatch(rf"\s*({_NUMBER})\s*([a-z]*)\s*", width)
    if told is None or told[2] not in UNITS:
        return None
    size = float(told[1]) * UNITS[told[2]]
    if len(box) != 4:
        return UNITS[told[2]] / 1.0 if told[2] == "mm" else None
    wide = float(box[2])
    if not wide > 0.0 or not size > 0.0:
        msg = "a viewBox of no width"
        raise _Odd(msg)
    return size / wide


def _edges(element: ElementTree.Element, matrix: Floats, left_out: Counter[str]) -> Iterator[Side]:
    tag = _tag(element)
    if tag in _NOT_DRAWN or tag == "comment" or element.get("id") in OWN_GROUPS:
        return
    style = (element.get("style") or "").replace(" ", "")
    if element.get("display") == "none" or "display:none" in style:
        left_out["hidden"] += 1
        return
    matrix = matrix @ _transform(element.get("transform", ""))
    if tag in ("svg", "g", "a"):
        for child in element:
            yield from _edges(child, matrix, left_out)
        return
    shape = _SHAPES.get(tag)
    if shape is None:
        left_out[tag] += 1
        return
    yield from (_moved(side, matrix) for side in shape(element, matrix))


def _number(element: ElementTree.Element, name: str) -> float:
    text = element.get(name, "0").strip()
    if not re.fullmatch(_NUMBER, text):
        msg = f"{name} = {text[:40]!r}"
        raise _Odd(msg)
    return float(text)


def _transform(text: str) -> Floats:
    matrix = np.eye(3)
    for name, inside in re.findall(r"(\w+)\s*\(([^)]*)\)", text):
        v = [float(x) for x in re.findall(_NUMBER, inside)]
        one = np.eye(3)
        if name == "matrix" and len(v) == 6:
            one[:2] = [[v[0], v[2], v[4]], [v[1], v[3], v[5]]]
        elif name == "translate" and v:
            one[:2, 2] = v[0], v[1] if len(v) > 1 else 0.0
        elif name == "scale" and v:
            one[0, 0], one[1, 1] = v[0], v[1] if len(v) > 1 else v[0]
        elif name == "rotate" and v:
            a, about = math.radians(v[0]), np.eye(3)
            about[:2, 2] = v[1:3] if len(v) == 3 else (0.0, 0.0)
            one[:2, :2] = [[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]]
            one = about @ one @ np.linalg.inv(about)
        elif name == "skewX" and v:
            one[0, 1] = math.tan(math.radians(v[0]))
        elif name == "skewY" and v:
            one[1, 0] = math.tan(math.radians(v[0]))
        else:
            msg = f"transform {name}({inside[:40]})"
            raise _Odd(msg)
        matrix = matrix @ one
    return matrix


def _keeps_circles(matrix: Floats) -> bool:
    a = matrix[:2, :2]
    product = a.T @ a
    return bool(abs(product[0, 1]) < 1e-9 * product[0, 0]
                and abs(product[0, 0] - product[1, 1]) < 1e-9 * product[0, 0])  # fmt: skip


def _moved(side: Side, matrix: Floats) -> Side:
    (a, b, bulge), det = side, float(np.linalg.det(matrix[:2, :2]))
    return _at(matrix, a), _at(matrix, b), math.copysign(1.0, det) * bulge


def _at(matrix: Floats, point: Point) -> Point:
    x, y, _ = matrix @ (*point, 1.0)
    return float(x), float(y)


def _ellipse(
    centre: Point, rx: float, ry: float, turn: float, begin: float, sweep: float, *, arcs: bool
) -> Iterator[Side]:
    """Give part of an ellipse; as true arcs where it is round and stays so."""

    def at(angle: float) -> Point:
        x, y = rx * math.cos(angle), ry * math.sin(angle)
        c, s = math.cos(turn), math.sin(turn)
        return centre[0] + c * x - s * y, centre[1] + s * x + c * y

    if arcs and abs(rx - ry) < 1e-9 * max(rx, ry):
        pieces = 2 if abs(sweep) > math.pi * (1.0 + 1e-12) else 1
        for k in range(pieces):
            first = begin + k * sweep / pieces
            ends = (first, first + 0.5 * sweep / pieces, first + sweep / pieces)
            yield arc_of(*(at(a) for a in ends))
        return
    count = 2 * _STEPS * max(1, math.ceil(abs(sweep) / math.pi))
    yield from _flat_arcs([at(begin + sweep * k / count) for k in range(count + 1)], arcs)


def _flat_arcs(points: list[Point], arcs: bool) -> Iterator[Side]:
    """Give arcs through points; straight sides where a transform would not keep arcs round."""
    if arcs:
        yield from through(points)
    else:
        yield from ((a, b, 0.0) for a, b in itertools.pairwise(points))


def _circle(element: ElementTree.Element, matrix: Floats) -> Iterator[Side]:
    rx = _number(element, "r") if _tag(element) == "circle" else _number(element, "rx")
    ry = rx if _tag(element) == "circle" else _number(element, "ry")
    centre = (_number(element, "cx"), _number(element, "cy"))
    round_ = _keeps_circles(matrix)
    return _ellipse(centre, rx, ry, 0.0, 0.0, 2.0 * math.pi, arcs=round_)


def _rectangle(element: ElementTree.Element, matrix: Floats) -> Iterator[Side]:
    x, y, w, h = (_number(element, k) for k in ("x", "y", "width", "height"))
    rx = _number(element, "rx") or _number(element, "ry")
    ry = _number(element, "ry") or rx
    rx, ry = min(rx, 0.5 * w), min(ry, 0.5 * h)
    if rx == 0.0:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        yield from ((a, b, 0.0) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
        return
    d = f"M{x + rx} {y}H{x + w - rx}A{rx} {ry} 0 0 1 {x + w} {y + ry}V{y + h - ry}"
    d += f"A{rx} {ry} 0 0 1 {x + w - rx} {y + h}H{x + rx}A{rx} {ry} 0 0 1 {x} {y + h - ry}"
    yield from _path_of(f"{d}V{y + ry}A{rx} {ry} 0 0 1 {x + rx} {y}Z", matrix)


def _polygon(element: ElementTree.Element, _: Floats) -> Iterator[Side]:
    v = [float(x) for x in re.findall(_NUMBER, element.get("points", ""))]
    corners = list(zip(v[::2], v[1::2], strict=False))
    ends = corners[1:] + (corners[:1] if _tag(element) == "polygon" else [])
    yield from ((a, b, 0.0) for a, b in zip(corners, ends, strict=False))


def _line(element: ElementTree.Element, _: Floats) -> Iterator[Side]:
    x1, y1, x2, y2 = (_number(element, k) for k in ("x1", "y1", "x2", "y2"))
    yield (x1, y1), (x2, y2), 0.0


def _path(element: ElementTree.Element, matrix: Floats) -> Iterator[Side]:
    return _path_of(element.get("d", ""), matrix)


def _path_of(text: str, matrix: Floats) -> Iterator[Side]:
    """Give the sides of a path's data."""
    arcs = _keeps_circles(matrix)
    here = begin = (0.0, 0.0)
    last: tuple[str, Point] = ("", here)
    for letter, v in _commands(text):
        kind, (x, y) = letter.upper(), here if letter.islower() else (0.0, 0.0)
        if kind == "Z":
            if math.dist(here, begin) > 0.0:
                yield here, begin, 0.0
            here, last = begin, ("", begin)
            continue
        to = (x + v[-1], here[1]) if kind == "H" else (
            here[0] if kind == "V" else x + v[-2], y + v[-1],
        )  # fmt: skip
        control = to
        if kind == "M":
            begin = to
        elif kind in "LHV":
            yield here, to, 0.0
        elif kind == "A":
            yield from _arc(here, v, to, arcs=arcs)
        else:
            back = (2.0 * here[0] - last[1][0], 2.0 * here[1] - last[1][1])
            if kind == "C":
                first, control = (x + v[0], y + v[1]), (x + v[2], y + v[3])
            elif kind == "S":
                first = back if last[0] in "CS" and last[0] else here
                control = (x + v[0], y + v[1])
            elif kind == "Q":
                first = control = (x + v[0], y + v[1])
            else:
                first = control = back if last[0] in "QT" and last[0] else here
            yield from _flat_arcs(_bezier(here, first, control, to, cubic=kind in "CS"), arcs)
        here, last = to, (kind, control)


def _commands(text: str) -> Iterator[tuple[str, list[float]]]:
    """Give each command of a path with its numbers; repeated numbers repeat the command."""
    if re.sub(rf"{_TOKEN.pattern}|[\s,]", "", text):
        msg = f"path data {text[:40]!r}"
        raise _Odd(msg)
    letter, v = "", []
    # flags of an arc may stand without a gap
    text = re.sub(r"([Aa][^A-Za-z]*)", lambda m: _spaced(m[1]), text)
    for token in [*_TOKEN.findall(text), ""]:
        if token and not token[0].isalpha():
            v.append(float(token))
            if len(v) == _ARGUMENTS.get(letter.upper(), 0):
                yield letter, v
                v = []
                letter = {"M": "L", "m": "l"}.get(letter, letter)
            elif not letter:
                msg = "path data that begin with a number"
                raise _Odd(msg)
            continue
        if v:
            msg = f"a number too many or too few after {letter}"
            raise _Odd(msg)
        letter = token
        if token in ("Z", "z"):
            yield token, []


def _spaced(text: str) -> str:
    """Part an arc's flags from what follows them."""
    flag = rf"({_NUMBER}[\s,]*{_NUMBER}[\s,]*{_NUMBER}[\s,]*)([01])[\s,]*([01])"
    return re.sub(flag, r"\1 \2 \3 ", text)


def _bezier(a: Point, b: Point, c: Point, d: Point, *, cubic: bool) -> list[Point]:
    t = np.linspace(0.0, 1.0, _STEPS + 1)[:, None]
    p, q, r, s = (np.array(x) for x in (a, b, c, d))
    if cubic:
        rows = (1 - t) ** 3 * p + 3 * (1 - t) ** 2 * t * q + 3 * (1 - t) * t**2 * r + t**3 * s
    else:
        rows = (1 - t) ** 2 * p + 2 * (1 - t) * t * q + t**2 * s
    return [(float(x), float(y)) for x, y in rows]


def _arc(here: Point, v: list[float], to: Point, *, arcs: bool) -> Iterator[Side]:
    """Give an arc by its end points (SVG 1.1, appendix F.6)."""
    rx, ry, turn, large, sweep = abs(v[0]), abs(v[1]), math.radians(v[2]), v[3] != 0.0, v[4] != 0.0
    if rx == 0.0 or ry == 0.0 or here == to:
        yield here, to, 0.0
        return
    c, s = math.cos(turn), math.sin(turn)
    dx, dy = 0.5 * (here[0] - to[0]), 0.5 * (here[1] - to[1])
    x, y = c * dx + s * dy, -s * dx + c * dy
    grow = math.sqrt(max(1.0, (x / rx) ** 2 + (y / ry) ** 2))
    rx, ry = rx * grow, ry * grow
    below = (rx * y) ** 2 + (ry * x) ** 2
    root = math.sqrt(max(0.0, ((rx * ry) ** 2 - below) / below)) * (1.0 if large != sweep else -1.0)
    cx, cy = root * rx * y / ry, -root * ry * x / rx
    centre = (c * cx - s * cy + 0.5 * (here[0] + to[0]), s * cx + c * cy + 0.5 * (here[1] + to[1]))
    begin = math.atan2((y - cy) / ry, (x - cx) / rx)
    turned = (math.atan2((-y - cy) / ry, (-x - cx) / rx) - begin) % (2.0 * math.pi)
    found = list(_ellipse(centre, rx, ry, turn, begin, turned if sweep else turned - 2.0 * math.pi,
                          arcs=arcs))  # fmt: skip
    # the ends as they are written, so that neighbours meet
    found[0] = (here, *found[0][1:])
    found[-1] = (found[-1][0], to, found[-1][2])
    yield from found


_SHAPES = {"path": _path, "circle": _circle, "ellipse": _circle, "rect": _rectangle,
           "polygon": _polygon, "polyline": _polygon, "line": _line}  # fmt: skip
