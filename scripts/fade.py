"""Derive sequences in which leaves turn yellow or pale from scenes with truth, and score the tool on them.

A scene has the format that `stress.py` describes. What is made has it too, and its truth still holds; `scene.json` gets
`faded`: the plants, what becomes of them, the first frame in which they are another colour, and how far it goes.

    python scripts/fade.py SCENE ... --out OUT --score PATH/TO/score.py [--kinds yellow,pale,all,white] [--plant NAME]

yellow  the leaves of one plant go step by step from green to yellow, and get lighter
pale    they get lighter and lose colour, and keep their hue
all     the leaves of every plant go yellow by as much: nothing is to be told, for the light may do that
white   the camera sets its white anew in the middle of the season: nothing is to be told

Colours are changed in CIELAB with the scene's white board for white, in linear light, by the masks of the truth, whose
edges are softened as a lens does.
"""

from __future__ import annotations

import argparse
import io
import json
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from derived import each_kind
from PIL import Image
from stress import Bytes, linear_light, srgb_bytes

KINDS = ("yellow", "pale", "all", "white")
BEGINS, ENDS = 0.55, 0.85  # shares of the frames between which the colour goes over
SOFT_PX = 0.7
WHITE = (1.07, 1.0, 0.93)  # of red, green and blue where the camera sets its white anew


@dataclass(frozen=True)
class Turn:
    """A change of colour in CIELAB: degrees of hue towards yellow, L, and the factor of a and b."""

    hue: float
    lighter: float
    strength: float

    def at(self, share: float) -> Turn:
        """A part of it."""
        return Turn(share * self.hue, share * self.lighter, 1 + share * (self.strength - 1))


TURNS = {"yellow": Turn(24.0, 10.0, 1.1), "pale": Turn(0.0, 16.0, 0.6), "all": Turn(24.0, 10.0, 1.1)}


def turned(rgb: Bytes, mask: Bytes, turn: Turn) -> Bytes:
    """A photo in which the tissue of a mask (0 or 1) has another colour."""
    light = linear_light(rgb)
    white = np.percentile(light[::4, ::4].reshape(-1, 3), 90, axis=0).astype(np.float32)
    lab = cv2.cvtColor(np.clip(light * (0.65 / white), 0, 1), cv2.COLOR_LRGB2LAB)
    c, s = np.cos(np.radians(turn.hue)) * turn.strength, np.sin(np.radians(turn.hue)) * turn.strength
    red, yellow = lab[..., 1].copy(), lab[..., 2].copy()
    # Towards yellow is clockwise: from green on the left of the circle over its top.
    lab[..., 1], lab[..., 2] = c * red + s * yellow, c * yellow - s * red
    lab[..., 0] = np.minimum(lab[..., 0] + turn.lighter, 98.0)
    other = cv2.cvtColor(lab, cv2.COLOR_LAB2LRGB) * (white / 0.65)
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), SOFT_PX)[..., None]
    return srgb_bytes(np.asarray(light + soft * (other - light), np.float32))


def share_at(index: int, count: int) -> float:
    """How far the colour has gone over in a frame, 0 to 1."""
    return float(np.clip((index / count - BEGINS) / (ENDS - BEGINS), 0.0, 1.0))


def the_plant(scene: Path, about: dict[str, Any], asked_for: str | None) -> str:
    """The plant that changes: the one asked for, or the green one of which most is seen in the end."""
    truth = pd.read_csv(scene / "truth.csv", dtype={"plant": str})
    last = truth[truth["frame"] == truth["frame"].iloc[-1]].set_index("plant")["mask_px"]
    green = [str(p["name"]) for p in about["plants"] if p.get("colour") in ("green", "deep green")]
    return asked_for or str(last[[name for name in green if name in last]].idxmax())


def derive(scene: Path, kind: str, folder: Path, plant: str | None) -> None:
    """Write one derived scene, unless it is there already."""
    if (folder / "tray.toml").exists():
        return
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "frames").mkdir(parents=True)
    about = json.loads((scene / "scene.json").read_text(encoding="utf-8"))
    names = [str(p["name"]) for p in about["plants"]]
    own = names if kind == "all" else [] if kind == "white" else [the_plant(scene, about, plant)]
    frames = list(pd.read_csv(scene / "frames.csv", dtype=str)["frame"])
    since = None
    for index, frame in enumerate(frames):
        share = share_at(index, len(frames))
        if share == 0 or about.get("faults", {}).get(frame) == "damaged":
            shutil.copyfile(scene / "frames" / frame, folder / "frames" / frame)
            continue
        since = since or frame
        with Image.open(scene / "frames" / frame) as image:
            exif, rgb = image.getexif(), np.asarray(image.convert("RGB"))
        if kind == "white":
            rgb = srgb_bytes(linear_light(rgb) * np.asarray(WHITE, np.float32))
        else:
            mask = np.asarray(Image.open((scene / "masks" / frame).with_suffix(".png")))
            here = np.isin(mask, [names.index(name) + 1 for name in own]).astype(np.uint8)
            rgb = turned(rgb, here, TURNS[kind].at(share))
        out = io.BytesIO()
        Image.fromarray(rgb).save(out, "JPEG", quality=92, subsampling="4:2:0", exif=exif.tobytes())
        (folder / "frames" / frame).write_bytes(out.getvalue())
    shutil.copytree(scene / "masks", folder / "masks")
    about["faded"] = {"plants": own, "kind": kind, "since": since, **(TURNS[kind].__dict__ if kind in TURNS else {})}
    (folder / "scene.json").write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8", newline="\n")
    for name in ("truth.csv", "frames.csv", "tray.toml"):
        shutil.copyfile(scene / name, folder / name)


def said_of_colour(folder: Path, results: Path) -> dict[str, Any]:
    """What the tool told of colours: right plants, wrong ones, and hours from the first change to the telling."""
    about = json.loads((folder / "scene.json").read_text(encoding="utf-8"))["faded"]
    events = pd.read_csv(results / "events.csv", dtype=str, keep_default_na=False)
    own = events[events["event"].isin(["yellower", "paler"])]
    right = own[own["plant"].isin(about["plants"])] if about["kind"] in ("yellow", "pale") else own.iloc[:0]
    times = pd.read_csv(folder / "frames.csv", dtype=str).set_index("frame")["time"]
    late = pd.to_datetime(right["known"].str[:19]) - pd.Timestamp(times[about["since"]][:19])
    return {
        "colour.told": " ".join(f"{e.plant}:{e.event}" for e in right.itertuples()),
        "colour.wrong": " ".join(f"{e.plant}:{e.event}" for e in own.drop(right.index).itertuples()),
        "colour.hours_late": float(late.dt.total_seconds().min() / 3600) if len(late) else float("nan"),
        "colour.detail": " | ".join(right["detail"]),
    }


def options(ask: argparse.ArgumentParser) -> None:
    """The recipe's own."""
    ask.add_argument("--plant", help="the plant that changes (default: the green one of which most is seen)")


def main() -> int:
    """Derive, run, score, tell."""
    return each_kind(
        __doc__,
        KINDS,
        lambda scene, kind, folder, said: derive(scene, kind, folder, said.plant),
        options,
        said_of_colour,
    )


if __name__ == "__main__":
    sys.exit(main())
