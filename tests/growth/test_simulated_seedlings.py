"""The simulated seedlings: they know nothing of the judging, and the judging is right about a few of them."""

import ast
import sys
from pathlib import Path

import numpy as np
import pytest

from sproutlapse.growth.judge import judge
from sproutlapse.tray import Tray

SCRIPTS = Path(__file__).resolve().parents[2] / "scripts"
KINDS = ("sturdy", "sturdy", "leggy", "late", "climbing")


@pytest.fixture(scope="module")
def grown():
    """A tray of five, photos every six hours for twelve days: the table and the plants."""
    sys.path.insert(0, str(SCRIPTS))
    try:
        import simulate  # noqa: PLC0415
    finally:
        sys.path.remove(str(SCRIPTS))
    hours = np.arange(0, 24 * 13, 6.0)
    return simulate.grow_tray(KINDS, hours, np.random.default_rng(11))


@pytest.mark.parametrize("name", ["simulate.py", "seedling_model.py"])
def test_the_simulation_takes_nothing_from_the_tool(name):
    tree = ast.parse((SCRIPTS / name).read_text("utf-8"))
    names = [a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names]
    names += [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
    assert not [n for n in names if n.startswith("sproutlapse")]


def test_stems_are_those_of_the_rendered_kinds(grown):
    stems = {g.kind: g.sight.stem.max() for g in grown[1]}
    assert 8 < stems["sturdy"] < 24
    assert 30 < stems["leggy"] < 76


def test_the_leggy_one_is_told_and_the_late_one_is_warned_of_and_no_other(grown):
    table, plants = grown
    crops = {"climbing": "pea"}
    entries = [
        {"name": g.name, "box_px": [0, 0, 9, 9], "habit": "broadleaf", "sowing": crops.get(g.kind, "tomato")}
        for g in plants
    ]
    sowings = [{"name": n, "crop": n} for n in ("tomato", "pea")]
    events = judge(table, Tray.model_validate({"plant": entries, "sowing": sowings})).events
    told = {(e.plant, e.event) for e in events.itertuples() if e.event in ("leggy", "stretching")}
    assert ("P3", "leggy") in told
    assert ("P4", "stretching") in told
    assert {plant for plant, _ in told} == {"P3", "P4"}
