"""Write the photos of scenes with truth as films, as an interval camera would, and measure each film against the truth.

A scene has the format that `stress.py` describes; its photos are taken at one interval.

    python scripts/camera_films.py SCENE ... --out OUT --score PATH/TO/score.py [--kinds avi,...]

photos  the photos themselves, to compare with
mp4-18  H.264 in an MP4, nearly without loss (crf 18), key frames as the encoder likes (up to 250 frames apart)
mp4-23  the same as encoders do it unless told otherwise (crf 23)
mov-12  H.264 in a MOV, crf 18, a key frame every 12 frames
avi     motion JPEG in an AVI: the photos as they are

Printed are the score, processor seconds a frame, how many frames are told with another time than the photo was taken,
and, before the table, how near decoded colours come to the same sums done in floating point, and another decoder's.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pandas as pd
from derived import asked, load_score, told
from numpy.typing import NDArray
from PIL import Image

from sproutlapse.frames import decode, reel
from sproutlapse.frames.reel_picture import LIKE_JPEG, upright

KINDS = ("photos", "mp4-18", "mp4-23", "mov-12", "avi")
Floats = NDArray[np.float64]
# ITU-R BT.709 and BT.601: shares of red and blue in luma.
SHARES = {"BT.709": (0.2126, 0.0722), "BT.601": (0.299, 0.114)}


def write_film(photos: list[Path], path: Path, *, crf: int | None, gop: int | None = None) -> None:
    """H.264 of the quality asked for; motion JPEG without one, the photos as they are."""
    with av.open(str(path), "w") as film:
        with Image.open(photos[0]) as first:
            size = first.size
        stream = film.add_stream("mjpeg" if crf is None else "libx264", rate=10)
        stream.width, stream.height = size
        stream.pix_fmt = "yuvj420p" if crf is None else "yuv420p"
        stream.time_base = Fraction(1, 10)
        if crf is not None:
            stream.options = {"crf": str(crf)}
            stream.gop_size = gop or 250
        for number, photo in enumerate(photos):
            if crf is None:
                packet = av.Packet(photo.read_bytes())
                packet.pts = packet.dts = number
                packet.time_base, packet.stream, packet.is_keyframe = Fraction(1, 10), stream, True
                film.mux(packet)
                continue
            with Image.open(photo) as picture:
                frame = av.VideoFrame.from_ndarray(np.asarray(picture.convert("RGB")), format="rgb24")
            matrix = 1 if size[1] >= 720 else 5
            frame = frame.reformat(format="yuv420p", dst_colorspace=matrix, dst_color_range=1, interpolation=LIKE_JPEG)
            frame.pts, frame.time_base = number, Fraction(1, 10)
            film.mux(stream.encode(frame))
        if crf is not None:
            film.mux(stream.encode())


def by_hand(frame: av.VideoFrame, matrix: str) -> Floats:
    """(height, width, 3) colours of a yuv420p frame of limited range, not rounded, by the standards' own formulas."""
    planes, h, w = frame.to_ndarray(), frame.height, frame.width
    luma = (planes[:h].astype(np.float64) - 16) / 219
    # Samples of colour lie on the left of two pixels, and between two rows (H.264, figure E-1, type 0).
    columns, rows = np.meshgrid(np.arange(w, dtype=np.float32) / 2, (np.arange(h, dtype=np.float32) - 0.5) / 2)
    blue, red = (
        (cv2.remap(part.reshape(h // 2, w // 2).astype(np.float32), columns, rows, cv2.INTER_LINEAR,
                   borderMode=cv2.BORDER_REPLICATE) - 128) / 224.0
        for part in (planes[h : h + h // 4], planes[h + h // 4 :])
    )  # fmt: skip
    kr, kb = SHARES[matrix]
    r, b = luma + 2 * (1 - kr) * red, luma + 2 * (1 - kb) * blue
    g = (luma - kr * r - kb * b) / (1 - kr - kb)
    return np.clip(np.stack([r, g, b], axis=-1) * 255, 0, 255)


def colours(film: Path) -> None:
    """Tell how near the colours of every tenth frame come to the formulas, to another decoder and to a seek."""
    with av.open(str(film)) as container:
        frames = [frame for number, frame in enumerate(container.decode(video=0)) if number % 10 == 0]
    other = cv2.VideoCapture(str(film))
    seen = [other.read()[1][..., ::-1].astype(np.float64) for _ in range(reel.count(film))][::10]
    worst, mean, apart = 0.0, 0.0, 0.0
    for number, (frame, theirs) in enumerate(zip(frames, seen, strict=True)):
        data = reel.picture(film, 10 * number + 1)
        ours = decode.decode(data, "").astype(np.float64)
        assert np.array_equal(ours, upright(frame)), "reading on gives other pixels than decoding from the start"
        off = np.abs(ours - by_hand(frame, "BT.709" if frame.height >= 720 else "BT.601"))
        worst, mean = max(worst, off.max()), max(mean, off.mean())
        apart = max(apart, np.abs(ours - theirs).mean())
    print(f"{film.name}: off the formulas by {mean:.2f} on average, {worst:.2f} at most, of 255; cv2.VideoCapture"
          f" differs by {apart:.2f} on average", flush=True)  # fmt: skip


def as_photos(results: Path, names: dict[str, str]) -> None:
    """Give frames in tables and masks the names of the photos, by which the truth knows them."""
    for table in ("measurements.csv", "frames.csv"):
        read = pd.read_csv(results / table, dtype=str, keep_default_na=False)
        read["frame"] = read["frame"].map(lambda frame: names.get(frame, frame))
        read.to_csv(results / table, index=False)
    for mask in sorted((results / "masks").glob("frame-*.png")):
        mask.rename(mask.with_name(Path(names[mask.stem]).with_suffix(".png").name))


def measured(scene: Path, kind: str, out: Path, tool: str, options: list[str]) -> tuple[Path, dict[str, Any]]:
    """Write the film, run the tool over it, and tell what it cost and whether the times are right."""
    photos = sorted((scene / "frames").glob("*.JPG"))
    source, results = out / f"{scene.name}__{kind}", out / "results" / f"{scene.name}__{kind}"
    shutil.rmtree(results, ignore_errors=True)
    results.parent.mkdir(parents=True, exist_ok=True)
    times = pd.to_datetime(pd.read_csv(scene / "frames.csv")["time"])
    said: list[str] = []
    if kind == "photos":
        source = scene / "frames"
    else:
        ending, _, number = kind.partition("-")
        source = source.with_suffix(f".{ending}")
        crf = None if ending == "avi" else 18 if ending == "mov" else int(number)
        write_film(photos, source, crf=crf, gop=int(number) if ending == "mov" else None)
        every = (times[1] - times[0]).total_seconds() / 60
        said = ["--begins", times[0].isoformat(), "--every", f"{every:g}"]
        if crf is not None:
            colours(source)
    command = [tool, "run", str(source), "--tray", str(scene / "tray.toml"), "--out", str(results), *said]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([*command, "--masks", "--no-film", "--no-report", "--quiet", *options], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if kind != "photos":
        as_photos(results, {reel.frame_name(n): photo.name for n, photo in enumerate(photos, start=1)})
    frames = pd.read_csv(results / "frames.csv")
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    held = source.stat().st_size if source.is_file() else sum(photo.stat().st_size for photo in photos)
    return results, {
        "MB": held / 1e6,
        "cpu_s_a_frame": cpu / len(photos),
        "frames": len(frames),
        "wrong_times": int((pd.to_datetime(frames["time"]) != times).sum()),
        "left_out": int((~frames["used"].astype(bool)).sum()),
    }


def main() -> int:
    """Each kind of each scene."""
    ask = asked(__doc__)
    ask.add_argument("--kinds", default=",".join(KINDS), help="which, with commas (default: all)")
    said, options = ask.parse_known_args()
    score = load_score(said.score) if said.score else None
    table: dict[str, dict[str, Any]] = {}
    for scene in said.scenes:
        for kind in said.kinds.split(","):
            results, row = measured(scene, kind, said.out, said.tool, options)
            if score is not None:
                row |= score(scene, results)
                row.pop("scene", None)
            table[f"{scene.name}/{kind}"] = row
            print(f"{scene.name}/{kind}", flush=True)
    return told(table)


if __name__ == "__main__":
    sys.exit(main())
