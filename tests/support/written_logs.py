"""Logs written as rigs of many places write them, with what they hold: invented data."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FORCE = {
    "N": 1.0, "kN": 1e3, "daN": 10.0, "kgf": 9.80665, "lbf": 4.4482216152605, "t": 9806.65,
    "MN": 1e6, "mN": 1e-3,
}  # fmt: skip
TRAVEL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "um": 1e-3}
NAMES = (
    ("Time", "Travel", "Force"), ("Zeit", "Weg", "Kraft"), ("Temps", "Course", "Effort"),
    ("t", "x", "F"), ("tiempo", "desplazamiento", "carga"),
)  # fmt: skip
HEADERS = ("brackets", "parens", "underscore", "row", "row and channels", "blank", "of time")


@dataclass(frozen=True)
class Written:
    """A log's bytes and what they hold, N and mm, with the last digit written of each."""

    raw: bytes
    force: np.ndarray
    travel: np.ndarray
    digit: tuple[float, float]
    how: str


def number(value: float, digits: int | None, decimal: str, thousands: str) -> str:
    """Write a number; without `digits` as short as it goes."""
    text = f"{value:,.{digits}f}" if digits is not None else f"{round(value, 3):,}"
    if digits is None and text.endswith(".0"):
        text = text[:-2]
    return text.replace(",", "T").replace(".", decimal).replace("T", thousands)


def written(rng: np.random.Generator) -> Written:
    """Draw a log: locale, unit, mark, order, header, encoding."""
    n = int(rng.integers(30, 120))
    travel = np.linspace(0.0, rng.uniform(0.5, 9.0), n)
    top = rng.choice([600.0, 5000.0, 17000.0, 150e3])
    force = top * (1.0 - np.exp(-3.0 * travel / travel[-1])) + rng.normal(0.0, 1e-3 * top, n)
    if rng.random() < 0.5:
        travel, force = travel[3:], force[3:]  # begun under load, without a leading zero
    unit, length = rng.choice(list(FORCE)), rng.choice(list(TRAVEL))
    decimal, thousands = [(".", ""), (",", ""), (".", ","), (",", "."), (".", " "), (",", " ")][
        rng.integers(6)
    ]
    separators = [s for s in ("\t", ";", "|", ",") if s != decimal and s != thousands]
    quoted = bool(rng.random() < 0.2)
    sep = str(rng.choice(separators if not quoted else ["\t", ";", "|", ","]))
    digits_f = [None, 0, 1, 2, 3, 4][rng.integers(6)]
    digits_x = [None, 2, 3, 3, 4][rng.integers(5)]
    f, x = force / FORCE[unit], travel / TRAVEL[length]
    if digits_f is not None and f.max() * 10.0**digits_f < 300.0:
        digits_f = 4
    cells = {
        "time": [number(0.5 * k, 1, decimal, thousands) for k in range(len(f))],
        "travel": [number(v, digits_x, decimal, thousands) for v in x],
        "force": [number(v, digits_f, decimal, thousands) for v in f],
    }
    names = dict(zip(("time", "travel", "force"), NAMES[rng.integers(len(NAMES))], strict=True))
    units = {"time": "s", "travel": length, "force": unit}
    order = list(rng.permutation(["time", "travel", "force"]))
    if rng.random() < 0.4:
        order.remove("time")
    header = str(rng.choice(HEADERS))
    if header == "of time" and unit == "t":
        header = "brackets"
    style = {
        "brackets": "{} [{}]", "parens": "{} ({})", "underscore": "{}_{}", "blank": "{} {}",
        "of time": "{}(t) ({})",
    }  # fmt: skip
    if header.startswith("row"):
        head = [sep.join(names[c] for c in order), sep.join(f"[{units[c]}]" for c in order)]
        if "channels" in header:
            head.append(sep.join(f"Ch{k}" for k in range(len(order))))
    else:
        head = [sep.join(style[header].format(names[c], units[c]) for c in order)]
    around = '"' if quoted else ""
    rows = [
        sep.join(around + cells[c][k] + around for c in order) for k in range(len(cells["force"]))
    ]
    end = str(rng.choice(["\n", "\r\n", "\r"]))
    encoding = str(rng.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))
    last = (
        10.0 ** -(3 if digits_f is None else digits_f) * FORCE[unit],
        10.0 ** -(3 if digits_x is None else digits_x) * TRAVEL[length],
    )
    marks = f"{decimal!r} {thousands!r} {sep!r}"
    how = f"{marks} {digits_f} {digits_x} {unit} {length} {header} {quoted}"
    return Written(end.join([*head, *rows, ""]).encode(encoding), force, travel, last, how)
