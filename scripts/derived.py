"""What the recipes for derived scenes share: run the tool over each, score it, and set the figures side by side."""

from __future__ import annotations

import argparse
import importlib.util
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

Derive = Callable[[Path, str, Path, argparse.Namespace], None]
Options = Callable[[argparse.ArgumentParser], object]
Also = Callable[[Path, Path], dict[str, Any]]


def load_score(path: Path) -> Callable[[Path, Path], dict[str, Any]]:
    """The function `score(scene, results)` of a script."""
    spec = importlib.util.spec_from_file_location("stress_score", path)
    if spec is None or spec.loader is None:
        raise SystemExit(f"{path}: not a Python script")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    found: Callable[[Path, Path], dict[str, Any]] = module.score
    return found


def figures(
    folder: Path, results: Path, tool: str, score: Callable[[Path, Path], dict[str, Any]], options: list[str]
) -> dict[str, Any]:
    """Run the tool over one variant and score it; a run that fails gives its exit status and last line."""
    shutil.rmtree(results, ignore_errors=True)
    results.parent.mkdir(parents=True, exist_ok=True)
    command = [tool, "run", str(folder / "frames"), "--tray", str(folder / "tray.toml"), "--out", str(results)]
    began = time.perf_counter()
    done = subprocess.run(
        [*command, "--masks", "--no-film", "--no-report", *options], check=False, capture_output=True, encoding="utf-8"
    )
    row: dict[str, Any] = {"seconds": round(time.perf_counter() - began, 1)}
    if done.returncode:
        print(f"{folder.name}: status {done.returncode}\n{done.stderr.strip()}", file=sys.stderr, flush=True)
        return {**row, "failed": done.returncode}
    row.update(score(folder, results))
    row.pop("scene", None)
    if folder.name.endswith("__half"):
        # Stems are under two pixels there, and even a perfect mask overlaps with the halved one by only 0.8.
        row.pop("iou", None)
    return row


def told(table: dict[str, dict[str, Any]]) -> int:
    """Print the table; 1 if a run failed."""
    if table:
        with pd.option_context("display.max_rows", None, "display.width", 250, "display.max_columns", None):
            print(pd.DataFrame(table).to_string(na_rep="", float_format="{:.4g}".format))
    return int(any("failed" in row for row in table.values()))


def asked(about: str | None) -> argparse.ArgumentParser:
    """The options that all recipes share."""
    ask = argparse.ArgumentParser(description=(about or "").splitlines()[0])
    ask.add_argument("scenes", nargs="+", type=Path, metavar="SCENE")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--tool", default="sproutlapse", help="the command to run (default: sproutlapse)")
    ask.add_argument("--score", type=Path, help="script with a function score(scene, results)")
    return ask


def each_kind(
    about: str | None, kinds: Sequence[str], derive: Derive, more: Options | None = None, also: Also | None = None
) -> int:
    """Derive each kind of each scene, run and score it if there is a score, and tell.

    Parameters
    ----------
    about
        What the recipe says of itself; its first line is the help's.
    kinds
        All kinds there are.
    derive
        Writes one kind of a scene into a folder; it gets the options too.
    more
        Adds the recipe's own options.
    also
        Further figures of a derived scene and its results.
    """
    ask = asked(about)
    ask.add_argument("--kinds", default=",".join(kinds), help="which, with commas (default: all)")
    if more is not None:
        more(ask)
    said, options = ask.parse_known_args()
    score = load_score(said.score) if said.score else None
    table: dict[str, dict[str, Any]] = {}
    for scene in said.scenes:
        for kind in said.kinds.split(","):
            folder = said.out / f"{scene.name}__{kind}"
            derive(scene, kind, folder, said)
            if score is not None:
                name, results = f"{scene.name}/{kind}", said.out / "results" / folder.name
                row = figures(folder, results, said.tool, score, options)
                table[name] = row if also is None or "failed" in row else {**row, **also(folder, results)}
                print(name, flush=True)
    return told(table)
