"""Pots of one sowing that come up photo by photo, and what the list says of them."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.care import items_of, scene_of
from sproutlapse.growth.judge import judge

N = 24
H = every(6, N)
NAMES = ("A", "B", "C", "D")


def scene(table, tray, now=""):
    return scene_of(table, judge(table, tray), tray, now_text=now)


def care(table, tray, now=""):
    return items_of(scene(table, tray, now))


def of(items, key):
    return [i for i in items if i.key.startswith(key + ":")]


def up_from(name, row, height=12.0):
    return plant_rows(name, H, np.where(np.arange(N) < row, 0, height))


def sown(*rows, **settings):
    """Four pots of one sowing, up from these rows on; 99 is never."""
    tray = tray_of(*NAMES[: len(rows)], each={"sowing": "s"}, sowing=[{"name": "s", "crop": "tomato", **settings}])
    return together(*(up_from(n, row) for n, row in zip(NAMES, rows, strict=False))), tray
