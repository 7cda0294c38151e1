"""A results folder as a long season leaves it, out of the findings of a short one: what comes after the measuring can
be tried on thousands of photos without taking them."""

from __future__ import annotations

import hashlib
import json
import random
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sproutlapse.work.store import NAME

EVERY_H = 1.0
JITTER = 0.01  # of each height and area, so that no two photos tell quite the same


def long_store(
    results: Path, out: Path, photos: int, *, folder: Path, paths: Mapping[str, Path], every_h: float = EVERY_H
) -> Path:
    """A results folder of so many photos, each with the findings of one that was truly measured.

    Parameters
    ----------
    results
        A results folder of `sproutlapse run`.
    out
        The new one; a store that lies there is written over.
    photos
        How many.
    every_h
        Hours from photo to photo.
    folder
        Where the photos are put, as links where the disk can.
    paths
        Of the photos that were truly measured, by frame.

    Returns
    -------
    Path
        `out`.
    """
    out.mkdir(parents=True, exist_ok=True)
    (out / NAME).unlink(missing_ok=True)
    with closing(sqlite3.connect(results / NAME)) as source, closing(sqlite3.connect(out / NAME)) as made:
        source.backup(made)
        with made:
            _stretch(made, photos, every_h, (folder, paths))
    return out


def _about(store: sqlite3.Connection, key: str) -> Any:
    (value,) = store.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
    return json.loads(value)


def _stretch(store: sqlite3.Connection, photos: int, every_h: float, places: tuple[Path, Mapping[str, Path]]) -> None:
    folder, paths = places
    reference, first = str(_about(store, "reference")), list(_about(store, "usual_from"))
    files = store.execute("SELECT frame, digest, moment FROM files ORDER BY frame").fetchall()
    looks = {digest: (damaged, look) for digest, damaged, look in store.execute("SELECT * FROM looks")}
    rows = store.execute("SELECT digest, found, labels FROM findings WHERE reference = ?", (reference,))
    found = {digest: (json.loads(told), labels) for digest, told, labels in rows}
    short = [file for file in files if file[1] in found]
    begin = datetime.fromisoformat(json.loads(short[0][2])[0])
    for table in ("files", "looks", "findings"):
        store.execute(f"DELETE FROM {table}")
    for n in range(photos):
        # What the reference was made from stays what it was; the rest of the season takes longer.
        at = n if n < len(first) else len(first) + (n - len(first)) * (len(short) - len(first)) // (photos - len(first))
        old = short[at][1]
        digest = old if n < len(first) else hashlib.sha256(f"{old} {n}".encode()).hexdigest()
        moment = json.dumps([(begin + timedelta(hours=every_h * n)).isoformat(), *json.loads(short[at][2])[1:]])
        damaged, look = looks[old]
        told, labels = found[old]
        own = json.loads(look)
        own["pixel_hash"] = hashlib.sha256(f"{own['pixel_hash']} {n}".encode()).hexdigest()
        chance = random.Random(n)
        own["grid"] = [min(255, max(0, value + chance.choice((-1, 0, 1)))) for value in own["grid"]]
        file = _file(paths[short[at][0]], folder / f"IMG_{n + 1:05d}.JPG").stat()
        row = (f"IMG_{n + 1:05d}.JPG", file.st_size, file.st_mtime_ns, digest, moment)
        store.execute("INSERT INTO files VALUES (?, ?, ?, ?, ?)", row)
        store.execute("INSERT INTO looks VALUES (?, ?, ?)", (digest, damaged, json.dumps(own)))
        text = json.dumps(_shaken(told, chance), sort_keys=True)
        store.execute("INSERT INTO findings VALUES (?, ?, ?, ?)", (digest, reference, text, labels))
    store.execute("INSERT OR REPLACE INTO about VALUES ('ways', ?)", (json.dumps([str(folder.resolve())]),))
    store.execute("INSERT OR REPLACE INTO about VALUES ('folder', ?)", (json.dumps(str(folder)),))


def _file(photo: Path, target: Path) -> Path:
    if not target.exists():
        try:
            target.hardlink_to(photo.resolve())
        except OSError:
            target.write_bytes(photo.read_bytes())
    return target


def _shaken(told: Mapping[str, Any], chance: random.Random) -> dict[str, Any]:
    """Findings a little larger or smaller."""
    plants = []
    for plant in told["plants"]:
        own = dict(plant)
        for name in ("tissue_px", "height_px"):
            if own[name]:
                own[name] *= 1 + JITTER * chance.gauss(0, 1)
        plants.append(own)
    return {**told, "plants": plants}
