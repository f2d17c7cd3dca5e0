"""Draw every picture of thirteen joints, and lay them out on sheets to be looked at.

    scripts/pictures [FOLDER] [--joint NAME ...] [--what NAME ...] [--refine 0.5]

Each joint gets a folder with its pictures in three themes and two widths. The sheets beside them
set all joints' pictures of one kind side by side, as drawn, in grey, and as eyes without red or
without green cones see them.
"""

from __future__ import annotations

import argparse
import copy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

import fejoint
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.joint.model import Joint

DEMO = Path(__file__).resolve().parent.parent / "cases" / "demo"
WIDTHS = (80.0, 170.0)
"""Of one column and of a page, mm."""

EYES: dict[str, Floats] = {
    "grey": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
    "no red cones": np.array(
        [[0.152, 1.053, -0.205], [0.115, 0.786, 0.099], [-0.004, -0.048, 1.052]]
    ),
    "no green cones": np.array(
        [[0.367, 0.861, -0.228], [0.280, 0.673, 0.047], [-0.012, 0.043, 0.969]]
    ),
}
"""What linear RGB becomes: luminance (ITU-R BT.709), and the matrices of Machado, Oliveira and
Fernandes (2009), A Physiologically-based Model for Simulation of Color Vision Deficiency, table of
severity 1.0 (read from memory)."""


def joints() -> dict[str, Joint]:
    """Return the thirteen joints by name; all data are invented."""
    hard = fejoint.load(DEMO / "hard-pin.toml")
    plain = hard.to_dict()

    def case(**changes: Any) -> Joint:
        table = copy.deepcopy(plain)
        for name, change in changes.items():
            if name == "ears":
                for ear in table["ear"]:
                    ear |= change
            elif name == "second":
                table["ear"][1] |= change
            elif name == "pin_is":
                table["pin"] = change
            else:
                table[name] |= change
        return fejoint.load(table)

    slot = {"hole_slot": 0.8, "hole_offset": 1.2, "flare_depth": 0.6, "flare_angle": 90.0}
    tiny = {"thickness": 0.4, "width": 3.0, "hole": 1.02, "edge_distance": 1.5, "grip_length": 5.0}
    single = copy.deepcopy(plain)
    single["ear"], single["fit"]["gap"] = single["ear"][:1], [0.3]
    clip = {"end": "clipped", "clip": 3.0, "edge_distance": 9.0}
    return {
        "hard pin": hard,
        "soft pin": fejoint.load(DEMO / "soft-pin.toml"),
        "thin": case(ears={"thickness": 0.7, "width": 24.0, "edge_distance": 12.0}),
        "tiny": case(
            ears=tiny,
            pin_is={"diameter": 1.0, "hardness": "600 HV"},
            shank={"thickness": 1.2, "hole": 1.02, "width": 4.0, "edge_distance": 2.0, "length": 6},
            fit={"gap": [0.02, 0.02]},
        ),
        "single shear": fejoint.load(single),
        "slot, flare, offset": case(ears=slot),
        "unequal": case(second={"thickness": 3.0, "width": 18.0, "edge_distance": 10.0}),
        "rigid pin": case(pin_is={"diameter": 4.0, "rigid": True}),
        "oblique": case(pull={"angle": 55.0}),
        "proof pulls": fejoint.load(DEMO / "proof-pulls.toml"),
        "soft aluminium": case(
            ears={"material": "6061-T6 aluminium", "thickness": 4.0},
            pin_is={"diameter": 4.0, "material": "6061-T6 aluminium", "ends": "free"},
        ),
        "clipped, held": case(
            ears=clip, pin_is={"diameter": 4.0, "hardness": "40 HRC", "ends": "held"}
        ),
        "drawn": fejoint.load(DEMO.parent / "outlines" / "hooked-ear.toml"),
    }


def draw_all(
    name: str, answer: Answer, folder: Path, only: list[str]
) -> Iterator[tuple[str, str, float, Path]]:
    """Draw a joint's pictures, and give each one's name, theme, width and file."""
    from fejoint.output import pictures
    from fejoint.output.pictures import theme

    for picture in pictures.table().values():
        if not picture.is_of(answer) or (only and picture.name not in only):
            continue
        for width in WIDTHS:
            for colours in theme.THEMES:
                stem = f"{picture.name}-{width:g}mm-{colours}.png"
                path = folder / name.replace(", ", "-").replace(" ", "-") / stem
                path.parent.mkdir(parents=True, exist_ok=True)
                pictures.picture(answer, picture.name, path, width=width, theme=colours)
                yield picture.name, colours, width, path


def sheet(shown: list[tuple[str, Path]], path: Path, across: int, pixels: int) -> None:
    """Set pictures side by side, each under its joint's name."""
    tiles = []
    for name, file in shown:
        with Image.open(file) as opened:
            image = opened.convert("RGB")
        image = image.resize((pixels, round(image.height * pixels / image.width)))
        tiles.append((name, image))
    rows = [tiles[k : k + across] for k in range(0, len(tiles), across)]
    heights = [max(image.height for _, image in row) + 26 for row in rows]
    whole = Image.new("RGB", (across * (pixels + 10), sum(heights)), "#8a8a8a")
    pen, top = ImageDraw.Draw(whole), 0
    for row, height in zip(rows, heights, strict=True):
        for k, (name, image) in enumerate(row):
            pen.text((k * (pixels + 10) + 6, top + 6), name, fill="white")
            whole.paste(image, (k * (pixels + 10), top + 22))
        top += height
    whole.save(path)


def as_seen(path: Path, eyes: str) -> Path:
    """Write a picture as other eyes see it, beside it."""
    with Image.open(path) as opened:
        rgb = np.asarray(opened.convert("RGB")) / 255.0
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ EYES[eyes].T, 0.0, 1.0)
    back = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    file = path.with_name(f"{path.stem}-{eyes.replace(' ', '-')}.png")
    Image.fromarray(np.round(255.0 * back).astype(np.uint8)).save(file)
    return file


def sheets(drawn: list[tuple[str, str, str, float, Path]], folder: Path) -> None:
    """Write a sheet for every kind of picture, theme and width, and what other eyes see of it."""
    for kind in dict.fromkeys((what, theme, width) for _, what, theme, width, _ in drawn):
        what, theme, width = kind
        shown = [(joint, path) for joint, *other, path in drawn if tuple(other) == kind]
        across, pixels = (4, 480) if width == WIDTHS[0] else (3, 760)
        path = folder / f"sheet-{what}-{width:g}mm-{theme}.png"
        sheet(shown, path, across, pixels)
        if theme == "print":
            for eyes in EYES:
                as_seen(path, eyes)


def main() -> None:
    """Solve, draw and lay out."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=Path("out/pictures"))
    parser.add_argument("--joint", nargs="*", choices=list(joints()), default=[])
    parser.add_argument("--what", nargs="*", default=[])
    parser.add_argument("--refine", type=float, default=1.0)
    given = parser.parse_args()
    drawn = []
    for name, joint in joints().items():
        if given.joint and name not in given.joint:
            continue
        answer = fejoint.pull(joint, refine=given.refine, band=True)
        print(f"{name}: {answer.verdict.sentence}", flush=True)
        for found in draw_all(name, answer, given.folder, given.what):
            drawn.append((name, *found))
    sheets(drawn, given.folder)
    print(f"wrote {given.folder}")


if __name__ == "__main__":
    main()
