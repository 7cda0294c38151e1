"""Measure films: how steady, how even, how true to the photos, and how long they take beside a bare encode.

    python scripts/film_figures.py RESULTS ... --out OUT [--planted SCENE ...] [--no-times]

RESULTS are results folders of `sproutlapse run` whose photos are still there. With `--planted`, photos of scenes
(folders with `frames/` and `tray.toml`) are first given a bump, jumps of brightness or of white balance, measured, and
filmed too.

| figure      | what it is                                                                                        |
|-------------|---------------------------------------------------------------------------------------------------|
| photos      | photos used, of all                                                                               |
| pictures    | pictures in the film, and seconds                                                                 |
| whole in/out| change of the still places' mean linear light from photo to photo, 95th percentile, %             |
| bytes       | the same after the player's rounding to bytes, which is no longer the film's doing                |
| near white  | the same of each place whose lightest colour is near white                                        |
| step in/out | the same of each place of 32 pixels by itself; colour: of the worst of red, green and blue there  |
| shake in/out| how far what stands still goes from photo to photo, 95th percentile and most, film pixels, by ECC |
| ssim        | decoded film against the evened photos: mean and least                                            |
| ratio       | time of the film over that of a bare encode: by the clock and by the processor's time             |

Only pictures in which the photo changes count: one held for four pictures would hide a step among three of nothing.
"""

from __future__ import annotations

import argparse
import dataclasses
import io
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import numpy.typing as npt
import pandas as pd
from PIL import Image
from skimage.metrics import structural_similarity
from stress import linear_light, srgb_bytes

from sproutlapse.film import lane, make, steady
from sproutlapse.film.encode import FINER_COLOUR, PRESET, QUALITY, THREADS, TO_YUV
from sproutlapse.film.levels import lowest_level
from sproutlapse.film.light import srgb_decoded
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.plan import Plan, Side, film_plan
from sproutlapse.film.timing import exact_rate
from sproutlapse.frames.decode import decode, read_bytes
from sproutlapse.job import open_results
from sproutlapse.results import FrameRecord

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

PLAIN = FilmOptions(caption=False)
# A still place: a block this wide (film pixels) with no plant near it in any photo, this light (linear).
BLOCK = 32
SMOOTHEST = 12
LIGHT = (0.05, 0.85)
# Near white a camera answers to more light with less than that; such places are told apart.
BRIGHT = (0.85, 0.98)
# Photos compared for the structural similarity.
COMPARED = 12
# Planted: 12 pixels and 1 degree; steps of 20 %; white balance as between a warm and a cold lamp.
BUMPS = ((0.0, 0.0, 0.0), (9.6, -7.2, 1.0), (-5.4, 8.1, -0.6))
STEPS = (1.0, 0.8, 1.0, 1.2)
WHITES = ((1.0, 1.0, 1.0), (1.2, 1.0, 0.8), (0.85, 1.0, 1.2))
HOLD = 4  # photos between two planted changes
KINDS = ("bump", "steps", "white")


def planted(path: Path, number: int, of: int, kind: str) -> bytes:
    """A photo's file after the planted change; one that cannot be decoded stays as it is."""
    data = path.read_bytes()
    with Image.open(io.BytesIO(data)) as image:
        try:
            rgb = np.asarray(image.convert("RGB"))
        except OSError:
            return data
        exif = image.getexif()
    if kind == "bump":
        x, y, turn = BUMPS[min(len(BUMPS) - 1, len(BUMPS) * number // of)]
        size = (rgb.shape[1], rgb.shape[0])
        turned = cv2.getRotationMatrix2D(((size[0] - 1) / 2, (size[1] - 1) / 2), turn, 1.0)
        move = np.asarray(turned, dtype=np.float64) + np.array([[0, 0, x], [0, 0, y]])
        rgb = np.asarray(cv2.warpAffine(rgb, move, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE))
    else:
        gains = (STEPS if kind == "steps" else WHITES)[number // HOLD % (4 if kind == "steps" else 3)]
        rgb = srgb_bytes(linear_light(rgb) * np.array(gains, np.float32))
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=93, subsampling="4:2:0", exif=exif.tobytes())
    return out.getvalue()


def planted_results(scene: Path, kind: str, out: Path) -> Path:
    """Results of the scene with the planted change, made unless they are there."""
    folder, results = out / f"{scene.name}__{kind}", out / "results" / f"{scene.name}__{kind}"
    if not (results / "plants.csv").is_file():
        folder.mkdir(parents=True, exist_ok=True)
        photos = sorted((scene / "frames").iterdir())
        for number, path in enumerate(photos):
            (folder / path.name).write_bytes(planted(path, number, len(photos), kind))
        command = [sys.executable, "-m", "sproutlapse", "run", str(folder), "--tray", str(scene / "tray.toml")]
        subprocess.run([*command, "--out", str(results), "--no-film", "--no-report", "--quiet"], check=True)
    return results


Places = list[tuple[int, int]]


def still_places(pictures: Sequence[Bytes], labels: Sequence[Bytes]) -> tuple[Places, Places, Bytes]:
    """Corners (x, y) of the smoothest still blocks, of those near white, and a mask of what stands still (255)."""
    ever = np.max(np.array([label > 0 for label in labels]), axis=0).astype(np.uint8)
    near = cv2.dilate(ever, np.ones((25, 25), np.uint8))
    middle = np.median(np.array(pictures[:: max(1, len(pictures) // 9)]), axis=0)
    linear = srgb_decoded(middle / 255)
    light = linear.mean(axis=2)
    found: list[tuple[float, int, int]] = []
    white: list[tuple[float, int, int]] = []
    for y in range(8, light.shape[0] - BLOCK - 8, BLOCK):
        for x in range(8, light.shape[1] - BLOCK - 8, BLOCK):
            block = light[y : y + BLOCK, x : x + BLOCK]
            if near[y : y + BLOCK, x : x + BLOCK].any():
                continue
            most = float(linear[y : y + BLOCK, x : x + BLOCK].mean(axis=(0, 1)).max())
            for limits, kind in ((LIGHT, found), (BRIGHT, white)):
                if limits[0] < most < limits[1]:
                    kind.append((float(block.std() / block.mean()), x, y))
    mask = np.where(near > 0, 0, 255).astype(np.uint8)
    mask[:6], mask[-6:], mask[:, :6], mask[:, -6:] = 0, 0, 0, 0
    smoothest, lightest = ([(x, y) for _rough, x, y in sorted(kind)[:SMOOTHEST]] for kind in (found, white))
    return smoothest, lightest, mask


def step_percent(pictures: Iterable[npt.NDArray[Any]], places: Sequence[tuple[int, int]]) -> tuple[float, float, float]:
    """95th percentile of steps, %: each still place's brightness and worst colour, and all places' brightness."""
    mean = np.array(
        [
            [srgb_decoded(picture[y : y + BLOCK, x : x + BLOCK] / 255).mean((0, 1)) for x, y in places]
            for picture in pictures
        ]
    )
    if len(mean) < 2 or not places:
        return (float("nan"),) * 3
    bright = mean @ np.array([0.2126, 0.7152, 0.0722])
    steps = np.abs(np.diff(bright, axis=0)) / bright[:-1]
    colour = (np.abs(np.diff(mean, axis=0)) / np.maximum(mean[:-1], 1e-3)).max(axis=2)
    whole = bright.mean(axis=1)
    together = np.abs(np.diff(whole)) / whole[:-1]
    each, worst, whole_steps = (100 * float(np.percentile(some, 95)) for some in (steps, colour, together))
    return each, worst, whole_steps


def shake_px(
    pictures: Sequence[Bytes], mask: Bytes, guesses: Sequence[Floats] | None = None
) -> tuple[float, float, float]:
    """How far corners go from photo to photo (95th percentile and most) and from the middle one (most)."""
    grey = [cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY) for picture in pictures]
    h, w = mask.shape
    corners = np.array([[0.2 * w, 0.2 * h, 1], [0.8 * w, 0.2 * h, 1], [0.8 * w, 0.8 * h, 1], [0.2 * w, 0.8 * h, 1]])
    base = len(grey) // 2
    ends = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-6)
    places = []
    for number, picture in enumerate(grey):
        guess = np.eye(2, 3) if guesses is None else _from_to(guesses[base], guesses[number])
        try:
            _score, found = cv2.findTransformECC(
                grey[base], picture, guess.astype(np.float32), cv2.MOTION_EUCLIDEAN, ends, mask, 5
            )
        except cv2.error:
            continue
        places.append(corners @ np.asarray(found, dtype=np.float64).T)
    if len(places) < 2:
        return float("nan"), float("nan"), float("nan")
    way = np.array(places)
    jumps = np.linalg.norm(np.diff(way, axis=0), axis=2).max(axis=1)
    away = np.linalg.norm(way - np.median(way, axis=0), axis=2).max()
    return float(np.percentile(jumps, 95)), float(jumps.max()), float(away)


def _from_to(one: Floats, other: Floats) -> Floats:
    """From the pixels of one picture to those of another, both known by their matrix to the film."""
    return steady.chained(np.asarray(cv2.invertAffineTransform(other), dtype=np.float64), one)


def unsteadied(frames: Sequence[FrameRecord], size: tuple[int, int]) -> Iterator[tuple[Bytes, Floats]]:
    """Used photos at the film's size, as they came, each with its true matrix to the film's pixels."""
    for record in frames:
        if not record.used or record.size is None or record.to_reference is None:
            continue
        rgb = decode(read_bytes(record.path), record.frame)
        by = steady.scaling(size[0] / record.size[0], size[1] / record.size[1])
        back = steady.scaling(record.size[0] / size[0], record.size[1] / size[1])
        matrix = steady.chained(by, steady.chained(np.asarray(record.to_reference, dtype=np.float64), back))
        yield np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8), matrix


def first_pictures(plan: Plan) -> list[int]:
    """For each photo the number of the first film picture that shows it."""
    return [int(start) for start in np.cumsum([0, *plan.line.shares()])[:-1]]


def film_pictures(path: Path) -> Iterator[Bytes]:
    """The film decoded again."""
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            yield np.asarray(frame.to_ndarray(format="rgb24"), np.uint8)


def film_values(path: Path, wanted: set[int]) -> Iterator[Floats]:
    """The film's own values of these pictures, red, green and blue of 0 to 255, not rounded.

    A player's bytes are rounded once more and by short sums; on a lilac board that alone made steps of 0.28 %.
    """
    with av.open(str(path)) as container:
        back = np.linalg.inv(TO_YUV[:, :3]).T
        for number, frame in enumerate(container.decode(video=0)):
            if number not in wanted:
                continue
            planes = frame.to_ndarray().astype(np.float64)
            h, w = frame.height, frame.width
            halves = planes[h:].reshape(2, h // 2, w // 2).repeat(2, axis=1).repeat(2, axis=2)
            yuv = np.dstack([planes[:h], *halves]) - TO_YUV[:, 3]
            yield np.clip(yuv @ back, 0, 255)


def looked_at(results: Path, out: Path) -> dict[str, Any]:
    """Everything but the times, of one results folder."""
    frames = open_results(results).frames
    film = make.make_film(frames, out / f"{results.name}.mp4", options=PLAIN)
    plan = film_plan([Side(frames)], PLAIN)
    own = plan.sides[0].lane
    raw = [picture.astype(np.uint8) for picture in lane.pictures(dataclasses.replace(own, even=False))]
    labels = [lane.labels_in(r, m, own.size) for r, m in zip(own.records, own.matrices, strict=True)]
    size = (own.size[1], own.size[0])
    drawn = [np.zeros(size, np.uint8) if label is None else label for label in labels]
    firsts = set(first_pictures(plan))
    decoded = [picture for n, picture in enumerate(film_pictures(film.path)) if n in firsts]
    places, white, mask = still_places(raw, drawn)
    step_in, colour_in, whole_in = step_percent(raw, places)
    step_out, colour_out, whole_out = step_percent(decoded, places)
    own_step, _colour, own_whole = step_percent(film_values(film.path, firsts), places)
    before = step_percent(lane.pictures(own), places)  # as it went into the encoder
    came, guesses = zip(*unsteadied(frames, own.size), strict=True)
    shake_in, shake_out = shake_px(came, mask, guesses), shake_px(decoded, mask)
    alike = similarity(plan, decoded)
    return {
        "photos": f"{sum(f.used for f in frames)}/{len(frames)}",
        "pictures": film.frames,
        "seconds": round(film.seconds, 2),
        "size": f"{film.width}x{film.height}",
        "MB": round(film.path.stat().st_size / 1e6, 2),
        "whole in %": whole_in,
        "whole out %": own_whole,
        "whole out, bytes %": whole_out,
        "step in %": step_in,
        "step out %": own_step,
        "step out, bytes %": step_out,
        "step before encoding %": before[0],
        "near white in %": step_percent(raw, white)[0],
        "near white out %": step_percent(decoded, white)[0],
        "colour in %": colour_in,
        "colour before encoding %": before[1],
        "colour out %": colour_out,
        "shake in p95": shake_in[0],
        "shake in most": shake_in[1],
        "shake out p95": shake_out[0],
        "shake out most": shake_out[1],
        "away out most": shake_out[2],
        "ssim mean": float(np.mean(alike)),
        "ssim least": float(np.min(alike)),
    }


def similarity(plan: Plan, decoded: Sequence[Bytes]) -> list[float]:
    """Structural similarity of decoded film pictures to the evened photos before they were encoded."""
    compare: Callable[..., Any] = structural_similarity  # the library tells no types
    every = max(1, len(decoded) // COMPARED)
    alike = []
    for number, picture in enumerate(lane.pictures(plan.sides[0].lane)):
        if number % every == 0:
            meant = np.clip(np.round(picture), 0, 255).astype(np.uint8)
            alike.append(float(compare(meant, decoded[number], channel_axis=2)))
    return alike


def bare_encode(plan: Plan, out: Path, fps: float) -> None:
    """The same photos at the same size, preset and rate, as plainly as it goes: decode small, scale, encode."""
    repeats = plan.line.shares()
    size = plan.sides[0].lane.size

    def small(record: FrameRecord) -> Bytes:
        full = record.size or size
        shrink = next(s for s in (8, 4, 2, 1) if s == 1 or (full[0] >= s * size[0] and full[1] >= s * size[1]))
        rgb = decode(read_bytes(record.path), record.frame, shrink=shrink)
        return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)

    with av.open(str(out), "w") as container, ThreadPoolExecutor(2) as pool:
        stream = container.add_stream("libx264", rate=exact_rate(fps))
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        level = lowest_level(*size, fps) or "5.2"
        options = {"crf": str(QUALITY), "preset": PRESET, "level": level, "tune": "film"}
        stream.options = {**options, "x264-params": FINER_COLOUR}
        stream.codec_context.thread_count = THREADS
        waiting: deque[Future[Bytes]] = deque()
        done = 0

        def write(picture: Bytes) -> None:
            nonlocal done
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="yuv420p")
            for _ in range(int(repeats[done])):
                frame.pts = None
                container.mux(stream.encode(frame))
            done += 1

        for record in plan.line.records:
            waiting.append(pool.submit(small, record))
            if len(waiting) > lane.AHEAD:
                write(waiting.popleft().result())
        while waiting:
            write(waiting.popleft().result())
        container.mux(stream.encode(None))


def times(results: Path, out: Path, rounds: int) -> dict[str, Any]:
    """Film against bare encode, in turns; the quickest of each, since the machine may be busy."""
    frames = open_results(results).frames
    plan = film_plan([Side(frames)], PLAIN)
    clock: dict[str, list[float]] = {"film": [], "bare": []}
    busy: dict[str, list[float]] = {"film": [], "bare": []}
    for _ in range(rounds):
        for name, spent in clock.items():
            began, worked = time.perf_counter(), time.process_time()
            if name == "film":
                make.make_film(frames, out / "timed.mp4", options=PLAIN)
            else:
                bare_encode(plan, out / "bare.mp4", PLAIN.fps)
            spent.append(time.perf_counter() - began)
            busy[name].append(time.process_time() - worked)
    return {
        "film s": min(clock["film"]),
        "bare s": min(clock["bare"]),
        "ratio clock": min(clock["film"]) / min(clock["bare"]),
        "ratio cpu": min(busy["film"]) / min(busy["bare"]),
    }


def main() -> int:
    """Film, measure, tell."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("results", nargs="*", type=Path, metavar="RESULTS")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--planted", nargs="*", type=Path, default=[], metavar="SCENE")
    ask.add_argument("--kinds", default=",".join(KINDS), help="what to plant, with commas")
    ask.add_argument("--no-times", action="store_true", help="do not time the film against a bare encode")
    ask.add_argument("--only-times", action="store_true", help="nothing but that")
    ask.add_argument("--rounds", type=int, default=3, help="how often each is timed")
    said = ask.parse_args()
    cv2.setNumThreads(1)
    said.out.mkdir(parents=True, exist_ok=True)
    folders = list(said.results)
    folders += [planted_results(scene, kind, said.out) for scene in said.planted for kind in said.kinds.split(",")]
    table: dict[str, dict[str, Any]] = {}
    for folder in folders:
        row = {} if said.only_times else looked_at(folder, said.out)
        if not said.no_times:
            row |= times(folder, said.out, said.rounds)
        table[folder.name] = row
        print(folder.name, row, flush=True)
    with pd.option_context("display.max_rows", None, "display.width", 250, "display.max_columns", None):
        print(pd.DataFrame(table).to_string(na_rep="", float_format="{:.3g}".format))
    return 0


if __name__ == "__main__":
    sys.exit(main())
