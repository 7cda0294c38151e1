"""A tray seen from above that was turned end for end is asked about once; no name is changed and no growth told."""

import numpy as np
import pytest
from seedling_tables import NAN, every, plant_rows, together

from sproutlapse.growth.judge import judge
from sproutlapse.tray import Plant, Tray, View

ROWS, COLUMNS, N = 3, 4, 20
HOURS = every(6, N)
NAMES = [f"r{r + 1}c{c + 1}" for r in range(ROWS) for c in range(COLUMNS)]
PLACES = {
    f"r{r + 1}c{c + 1}": (100.0 * c, 100.0 * r, 100.0 * c + 99, 100.0 * r + 99)
    for r in range(ROWS) for c in range(COLUMNS)
}  # fmt: skip
TRAY = Tray(view=View.model_validate({"from": "above"}), plants=tuple(Plant(name=n, box_px=PLACES[n]) for n in NAMES))
SIZES = dict(zip(NAMES, [40, 120, 300, 90, 210, 60, 150, 400, 30, 260, 110, 75], strict=True))


def events(shown):
    """Events of a tray in which each cell's leaf grows, `shown` naming the plant that a cell shows in each photo."""
    cells = []
    for name in NAMES:
        leaf = np.array([SIZES[shown(name, k)] * 1.04**k for k in range(N)])
        rows = plant_rows(name, HOURS, np.full(N, 20.0), canopy=leaf)
        cells.append(rows.assign(height_mm=NAN, height_px=NAN, stem_mm=NAN, height_to_leaf=NAN))
    found = judge(together(*cells), TRAY).events
    return [tuple(row) for row in found[found["event"] == "exchanged"][["plant", "event", "detail"]].values]


def test_a_tray_turned_end_for_end_is_asked_about_once():
    across = dict(zip(NAMES, reversed(NAMES), strict=True))
    (told,) = events(lambda name, k: name if k < 12 else across[name])
    assert told[0] == ""
    assert "r1c1 as r3c4" in told[2] and "turned end for end?" in told[2]


@pytest.mark.parametrize("shown", [
    lambda name, _: name,
    lambda name, k: name if k < 12 else NAMES[(NAMES.index(name) + 1) % len(NAMES)],
])  # fmt: skip
def test_a_tray_that_only_grows_or_shows_another_change_is_not(shown):
    assert events(shown) == []


def test_one_odd_photo_is_no_turn():
    across = dict(zip(NAMES, reversed(NAMES), strict=True))
    assert events(lambda name, k: across[name] if k == 12 else name) == []
