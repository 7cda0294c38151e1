"""Small films that tests write: each frame carries its number as a row of black and white fields, to be read again."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

Rgb = NDArray[np.uint8]

FIELD, BITS = 16, 6


def numbered(number: int, height: int = 96) -> Rgb:
    """(height, 112, 3) a picture that moves a little and shows its number, counted from 1."""
    rows, columns = np.mgrid[:height, :112]
    waves = 128 + 60 * np.sin((columns + 3 * number) / 9.0) * np.cos((rows - 2 * number) / 7.0)
    picture = np.stack([waves, 255 - waves, waves / 2 + 40], axis=-1).astype(np.uint8)
    for bit in range(BITS):
        picture[:FIELD, bit * FIELD : (bit + 1) * FIELD] = 255 * (number >> bit & 1)
    return picture


def number_in(picture: Rgb) -> int:
    """The number that a picture shows."""
    fields = [picture[4 : FIELD - 4, bit * FIELD + 4 : (bit + 1) * FIELD - 4].mean() for bit in range(BITS)]
    return sum((field > 128) << bit for bit, field in enumerate(fields))


def write_reel(
    path: Path, pictures: Sequence[Rgb], codec: str = "libx264", *, gop: int = 10, space: int | None = None,
    limited: bool = True, tell: bool = False, rotation: int = 0, extra: str | None = None, **more: Any,
) -> Path:  # fmt: skip
    """Write pictures as a film.

    Parameters
    ----------
    gop
        Frames from key frame to key frame.
    space, limited, tell
        H.273's number of the colour matrix (5 is BT.601 unless said otherwise), whether black is 16, and whether the
        film says so.
    rotation
        Degrees anticlockwise by which it is to be turned.
    extra
        "sound" or "second": a further stream.
    more
        Options of the encoder; `container` has those of the container.
    """
    height, width = pictures[0].shape[:2]
    with av.open(str(path), "w", options=more.pop("container", {})) as film:
        film.metadata.update(more.pop("metadata", {}))
        stream = film.add_stream(codec, rate=10)
        # Motion JPEG is of full range, as JPEG is.
        limited, kind = (False, "yuvj420p") if codec == "mjpeg" else (limited, "yuv420p")
        stream.width, stream.height, stream.pix_fmt = width, height, kind
        stream.gop_size = gop
        stream.options = {"crf": "12", "preset": "ultrafast", **more} if codec == "libx264" else more
        stream.time_base = Fraction(1, 10)
        if codec != "libx264":
            stream.bit_rate = 4_000_000
        if tell:
            stream.codec_context.colorspace = space or 5
            stream.codec_context.color_range = 1 if limited else 2
        if rotation:
            stream.set_display_rotation(rotation)
        others = [_other(film, extra)] if extra else []
        for number, picture in enumerate(pictures):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(
                format=kind, dst_colorspace=space or 5, dst_color_range=1 if limited else 2
            )
            frame.pts, frame.time_base = number, Fraction(1, 10)
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
        for other in others:
            _fill(film, other)
    return path


def _other(film: av.container.OutputContainer, kind: str) -> Any:
    if kind == "sound":
        return film.add_stream("aac", rate=8000)
    other = film.add_stream("libx264", rate=10)
    other.width, other.height, other.pix_fmt = 112, 96, "yuv420p"
    return other


def _fill(film: av.container.OutputContainer, other: Any) -> None:
    if other.type == "audio":
        sound = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
        sound.sample_rate = 8000
        film.mux(other.encode(sound))
    else:
        film.mux(other.encode(av.VideoFrame.from_ndarray(numbered(63), format="rgb24").reformat(format="yuv420p")))
    film.mux(other.encode())


def write_jpegs(path: Path, jpegs: Sequence[bytes], size: tuple[int, int]) -> Path:
    """A film of motion JPEG whose frames are these files."""
    with av.open(str(path), "w") as film:
        stream = film.add_stream("mjpeg", rate=10)
        stream.width, stream.height = size
        stream.pix_fmt, stream.time_base = "yuvj420p", Fraction(1, 10)
        for number, data in enumerate(jpegs):
            packet = av.Packet(data)
            packet.pts = packet.dts = number
            packet.time_base, packet.stream, packet.is_keyframe = Fraction(1, 10), stream, True
            film.mux(packet)
    return path


def spoil(path: Path, number: int, of: int = 0) -> None:
    """Overwrite what is stored of the packet with this place (from 0) but for its first bytes."""
    with av.open(str(path)) as film:
        stored = [(packet.pos, packet.size) for packet in film.demux(film.streams.video[of]) if packet.size]
    place, size = stored[number]
    data = bytearray(path.read_bytes())
    data[place + 20 : place + size] = bytes((7 * k + 3) % 251 for k in range(size - 20))
    path.write_bytes(data)
