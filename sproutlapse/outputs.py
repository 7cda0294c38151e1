"""From the store to tables: frames, measurements, judgements and what to do, and the files that hold them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd

from sproutlapse import __version__
from sproutlapse.care import items_of, scene_of
from sproutlapse.care_effect import effects
from sproutlapse.care_season import stages
from sproutlapse.errors import ResultsError
from sproutlapse.frames.audit import Look
from sproutlapse.growth.covers import covers_in_words
from sproutlapse.growth.judge import judge
from sproutlapse.outputs_curves import growth_curves
from sproutlapse.outputs_dates import dates_in_words
from sproutlapse.outputs_doubts import doubts_in_words
from sproutlapse.outputs_light import lamp_hours
from sproutlapse.outputs_sowings import own_crops, sowings_in_words
from sproutlapse.results import FrameRecord, Results
from sproutlapse.tray import Tray
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.labels import labels_enlarged
from sproutlapse.work import doubt, settle
from sproutlapse.work.diary import read_diary
from sproutlapse.work.files import csv_bytes, json_bytes, put
from sproutlapse.work.habits import habits_in_words, told_habits, with_habits
from sproutlapse.work.scan import Photo
from sproutlapse.work.store import Store
from sproutlapse.work.usable import another_view, left_between
from sproutlapse.work.views import Measured, View, since_stand

FRAME_COLUMNS = (
    "frame", "time", "clock_shift_s", "used", "reason", "shift_px", "turn_deg", "gain", "pots_moved", "covered",
)  # fmt: skip
MOST_TOLD = 5  # things to do on the terminal
# Shares of red, green and blue in brightness; IEC 61966-2-1 (second row of its matrix).
_BRIGHTNESS = np.array([0.2126, 0.7152, 0.0722])


def assemble(
    store: Store,
    folder: Path,
    out: Path,
    *,
    photos: Sequence[Photo],
    why: Sequence[str],
    looks: Mapping[str, Look | None],
    told: Measured,
    views: Sequence[View] = (),
) -> Results:
    """Settle, judge and advise.

    Parameters
    ----------
    photos, why
        All files in camera order and the reason of each that is left out.
    looks
        By digest.
    told
        What the photos told.
    views
        Further views of a camera that was set up anew.
    """
    tray = Tray.model_validate(store.about("tray"))
    used = [photo for photo, reason in zip(photos, why, strict=True) if not reason]
    start = used[0].dated.corrected if used else None
    hours = {p.dated.frame: (p.dated.corrected - start).total_seconds() / 3600 if start else 0.0 for p in photos}
    frames = [_used(photo, hours[photo.dated.frame], told) for photo in used]
    habits = told_habits(frames, tray, lambda i: store.labels(used[i].digest, told.reference(used[i].digest)))
    tray = with_habits(tray, habits)
    notes = [*store.about("notes"), *habits_in_words(tray, habits)]
    known = {name: habit.since for name, habit in habits.items()}
    scale_sd, later = float(store.about("scale_sd_share")), [view.scale for view in views]
    table = settle.settle(frames, tray, store.about("mm_per_px"), scale_sd, known, later=later)
    notes += covers_in_words(table)
    if used:
        first, last = (photo.dated.taken.when.replace(tzinfo=None) for photo in (used[0], used[-1]))
        notes += dates_in_words(first, last, tray)
    since = settle.emergence(frames, tray)
    order = {frame.frame: index for index, frame in enumerate(frames)}
    records = []
    for photo, reason in zip(photos, why, strict=True):
        index = order.get(photo.dated.frame)
        if index is None:
            records.append(_left_out(photo, reason, hours[photo.dated.frame], looks.get(photo.digest)))
            continue
        not_up = tuple(k + 1 for k, own in enumerate(since) if own is None or index < own)
        labels = store.labels(photo.digest, told.reference(photo.digest))
        records.append(_counted(photo, frames[index], (labels, not_up), looks.get(photo.digest), views))
    scales = [store.about("mm_per_px"), *(scale.mm_per_px for scale in later)]
    rows = [
        _frame_row(
            photo, reason, None if reason else since_stand(photo.digest, told, views, looks.get(photo.digest)), tray,
            scales[told.view.get(photo.digest, 0)],
        )
        for photo, reason in zip(photos, why, strict=True)
    ]  # fmt: skip
    verdicts = judge(table, tray, scale_sd=scale_sd, later_sd=[scale.sd_share for scale in later])
    notes += sowings_in_words(verdicts.sowings, tray)
    width, height = store.about("size")
    notes += doubts_in_words(tray, store.about("mm_per_px"), (width, height), verdicts.sowings)
    lamps = lamp_hours(photos, why, verdicts.events, looks, tray)
    diary = read_diary(out)
    scene = scene_of(table, verdicts, tray, diary=diary, light=lamps.days)
    return Results(
        folder=folder,
        out=out,
        tray=tray,
        frames=tuple(records),
        measurements=table,
        frames_table=pd.DataFrame(rows, columns=list(FRAME_COLUMNS)),
        plants=verdicts.plants,
        sowings=verdicts.sowings,
        events=lamps.events,
        care=items_of(scene),
        notes=_notes(notes, photos, why),
        run=_run_values(store, tray, photos, notes, views),
        light=lamps.days,
        light_told=lamps.told,
        diary=diary,
        stages=stages(scene),
        came_of=effects(scene, diary),
        curves=growth_curves(verdicts.told),
    )


def _left_out(photo: Photo, reason: str, hours: float, look: Look | None) -> FrameRecord:
    time = photo.dated.taken.text
    return FrameRecord(photo.dated.frame, photo.file.path, time, hours, False, reason, size=_size(look))


def _used(photo: Photo, hours: float, told: Measured) -> settle.UsedFrame:
    view = told.view.get(photo.digest, 0)
    return settle.UsedFrame(photo.dated.frame, photo.dated.taken.text, hours, told.found[photo.digest], view)


def _counted(
    photo: Photo,
    frame: settle.UsedFrame,
    labels: tuple[bytes, tuple[int, ...]],
    look: Look | None,
    views: Sequence[View],
) -> FrameRecord:
    matrix = np.array(frame.found.matrix).reshape(2, 3)
    if frame.view:
        # About where the pots stood in the first view: film and pictures go on as well as they can.
        to_first = np.reshape(views[frame.view - 1].to_first, (2, 3))
        matrix = (np.vstack([to_first, [0, 0, 1]]) @ np.vstack([matrix, [0, 0, 1]]))[:2]
    return FrameRecord(
        frame=frame.frame,
        path=photo.file.path,
        time=frame.time,
        elapsed_h=frame.elapsed_h,
        used=True,
        reason="",
        to_reference=matrix,
        gains=frame.found.gains,
        labels_png=labels[0],
        size=_size(look),
        not_up=labels[1],
    )


def _size(look: Look | None) -> tuple[int, int] | None:
    return None if look is None else (look.width, look.height)


def _frame_row(
    photo: Photo, reason: str, told: Findings | None, tray: Tray, mm_per_px: Sequence[float | None]
) -> dict[str, object]:
    nan = float("nan")
    gain = nan if told is None else float(np.asarray(told.gains) @ _BRIGHTNESS)
    return {
        "frame": photo.dated.frame,
        "time": photo.dated.taken.text,
        "clock_shift_s": float(photo.dated.shift_s),
        "used": not reason,
        "reason": reason,
        "shift_px": nan if told is None else told.shift_px,
        "turn_deg": nan if told is None else told.turn_deg,
        "gain": gain,
        "pots_moved": "" if told is None else _pots_moved(told, tray, mm_per_px),
        "covered": "" if told is None else _covered(told, tray),
    }


def _covered(told: Findings, tray: Tray) -> str:
    """Which plants a cover hides."""
    return ", ".join(plant.name for k, plant in enumerate(tray.plants) if told.hidden(k))


def _pots_moved(told: Findings, tray: Tray, mm_per_px: Sequence[float | None]) -> str:
    """Which pots do not stand where they first did, and how far off, as `A 4.9 mm, B out`."""
    words = []
    for k, plant in enumerate(tray.plants):
        stood, mm = told.stood(k), mm_per_px[k]
        if stood is None:
            words.append(f"{plant.name} out")
        elif stood != (0.0, 0.0):
            off = float(np.hypot(*stood))
            words.append(f"{plant.name} {off * mm:.1f} mm" if mm else f"{plant.name} {off:.1f} pixels")
    return ", ".join(words)


def _notes(told: Sequence[str], photos: Sequence[Photo], why: Sequence[str]) -> tuple[str, ...]:
    left = sum(bool(reason) for reason in why)
    notes = list(told)
    if told_view := another_view(why):
        notes.append(told_view)
    notes += left_between(photos, why)
    if left:
        notes.append(f"{left} of {len(photos)} photos {'was' if left == 1 else 'were'} left out; frames.csv says why.")
    return tuple(notes)


def _run_values(
    store: Store, tray: Tray, photos: Sequence[Photo], notes: Sequence[str], views: Sequence[View]
) -> dict[str, Any]:
    """What run.json holds: how the numbers were got. Nothing in it depends on when or how often it was run."""
    later = {"later_scale_sd_shares": [view.scale.sd_share for view in views]} if views else {}
    told = {"views": [view.to_values() for view in views]} if views else {}
    return {
        "version": __version__,
        "libraries": {"opencv": cv2.__version__, "numpy": np.__version__},
        "reference": str(store.about("reference")),
        "picture_px": store.about("size"),
        "mm_per_px": dict(zip([p.name for p in tray.plants], store.about("mm_per_px"), strict=True)),
        "shared_uncertainty": {
            "scale_sd_share": store.about("scale_sd_share"),
            "soil_sd_px": doubt.SOIL_SD_PX,
            "soil_sd_mm": doubt.SOIL_SD_MM,
            **later,
        },
        "settings": tray.model_dump(mode="json", by_alias=True),
        "notes": list(notes),
        "photos": {p.dated.frame: p.digest for p in photos},
        **told,
    }


_TABLES: dict[str, Callable[[Results], bytes]] = {
    "measurements.csv": lambda results: csv_bytes(results.measurements, settle.COLUMNS),
    "frames.csv": lambda results: csv_bytes(results.frames_table, FRAME_COLUMNS),
    "plants.csv": lambda results: csv_bytes(results.plants),
    "sowings.csv": lambda results: csv_bytes(results.sowings),
    "events.csv": lambda results: csv_bytes(results.events),
    "own-crops.csv": lambda results: csv_bytes(own_crops(results.sowings, results.tray)),
    "light.csv": lambda results: csv_bytes(results.light),
    "curves.csv": lambda results: csv_bytes(results.curves),
    "run.json": lambda results: json_bytes(results.run),
}


def write_tables(results: Results, *, masks: bool) -> None:
    """Write every table, run.json and, if asked for, the masks."""
    troubles: list[ResultsError] = []
    for name, make in _TABLES.items():
        try:
            put(results.out / name, make(results))
        except ResultsError as error:  # one that another program holds open must not keep the others old
            troubles.append(error)
    if troubles:
        raise troubles[0]
    # Masks of an earlier run are kept in step with the tables, asked for again or not.
    if masks or (results.out / "masks").is_dir():
        _write_masks(results)


def _write_masks(results: Results) -> None:
    """A PNG per usable frame; those of frames that no longer count are taken away, for they would mislead."""
    folder = results.out / "masks"
    written: set[Path] = set()
    taken: set[str] = set()
    for record in results.frames:
        if record.labels_png is None:
            continue
        path = (folder / record.frame).with_suffix(".png")
        if str(path).casefold() in taken:
            # Photos that differ by their ending alone, or by the case of letters where the disk ignores it.
            path = folder / (record.frame + ".png")
        while str(path).casefold() in taken:
            path = path.with_name(path.name + ".png")
        own = settle.settled_labels(record.labels_png, record.not_up)
        put(path, labels_enlarged(own, record.size or (0, 0)))
        written.add(path)
        taken.add(str(path).casefold())
    for path in sorted(folder.rglob("*.png")):
        if path not in written:
            path.unlink(missing_ok=True)


def care_lines(results: Results) -> list[str]:
    """The words that a run ends with: how many are up, what was taken for granted, and the first things
    to do."""
    up = int((results.plants["emerged_by"].astype(str) != "").sum()) if len(results.plants) else 0
    used = sum(frame.used for frame in results.frames)
    places = f"{up} of {len(results.plants)} pots or cells have something up"
    if used < results.tray.judge.emerged_frames:
        places = f"what is up is not known before there are {results.tray.judge.emerged_frames} usable ones"
    lines = [
        f"{used} of {len(results.frames)} {'photo' if len(results.frames) == 1 else 'photos'} measured; {places}.",
        *results.notes,
    ]
    return [*lines, *to_do_lines(results)]


def to_do_lines(results: Results) -> list[str]:
    """The first things to do with their short names, and how to say that they are done."""
    lines = [f"[{item.urgency}] {item.title} ({item.id})" for item in results.care[:MOST_TOLD]]
    if len(results.care) > MOST_TOLD:
        lines.append(f"... and {len(results.care) - MOST_TOLD} more in the report.")
    if results.care:
        lines.append(f"When something is done, say so by its name: sproutlapse done {results.out} {results.care[0].id}")
    return lines
