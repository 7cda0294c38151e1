"""The writer: H.264 in yuv420p, tagged BT.709, the movie header before the media; WebP and GIF; never half a film."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, Protocol

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import ResultsError
from sproutlapse.film.gif import write_gif
from sproutlapse.film.options import Kind

ENCODERS: dict[Kind, str] = {"mp4": "libx264", "webp": "libwebp_anim", "gif": "gif"}

# Constant quality (x264 crf): at 16 a film of 1280 pixels' width took four to five times the space.
QUALITY = 20
# For what is written only to be read once more.
FINE = 12
WEBP_QUALITY = 80
# Measured: 10 % more work than "veryfast" for half the colour steps on a plain floor; "medium" gave no more for twice.
PRESET = "faster"
# One step of a colour plane is two percent of a plain floor's blue. Measured on a rendered shelf: steps of colour and
# brightness a third smaller, for a fifth more space and no more work. Finer still, and noise of photos comes through.
FINER_COLOUR = "chroma-qp-offset=-6"
# The same on every machine, since the encoder's cutting into threads shows in the bytes.
THREADS = 2
# ISO/IEC 23091-2 (H.273): 1 = BT.709 for primaries, transfer and matrix; range 1 = limited ("tv").
BT709, LIMITED = 1, 1
# ITU-R BT.709: Y = 0.2126 R + 0.7152 G + 0.0722 B, Cb = (B - Y)/1.8556, Cr = (R - Y)/1.5748; in 8 bits Y takes 16 to
# 235 and Cb, Cr 128 +- 112. Rows: Y, Cb, Cr; columns: R, G, B of 0 to 255, and the offset.
LUMA = np.array([0.2126, 0.7152, 0.0722])
TO_YUV = np.vstack(
    [
        np.append(LUMA * 219 / 255, 16),
        np.append((np.array([0, 0, 1]) - LUMA) / 1.8556 * 224 / 255, 128),
        np.append((np.array([1, 0, 0]) - LUMA) / 1.5748 * 224 / 255, 128),
    ]
)


class Writer(Protocol):
    """Takes pictures one after the other. `prepared` may run in any thread, the others in one."""

    def prepared(self, picture: NDArray[np.float32]) -> Any:
        """A picture (height, width, 3), sRGB values of 0 to 255, float32, as the encoder takes it."""

    def add(self, prepared: Any, times: int = 1) -> None:
        """Append a prepared picture, shown for so many film pictures."""

    def finish(self) -> None:
        """Write out what the encoder still holds."""


class FilmWriter:
    """The writer of H.264 and of animated WebP. Made by `film_file`."""

    def __init__(
        self, container: Any, *, size: tuple[int, int], rate: Fraction, level: str, kind: Kind, quality: int = QUALITY
    ) -> None:
        self._container = container
        self._next = 0
        self._kind = kind
        stream = container.add_stream(ENCODERS[kind], rate=rate)
        stream.width, stream.height = size
        self._tick = 1 / rate
        stream.time_base = self._tick
        if kind == "webp":
            stream.pix_fmt = "bgra"
            stream.options = {"quality": str(WEBP_QUALITY)}
        else:
            stream.pix_fmt = "yuv420p"
            stream.options = {
                "crf": str(quality),
                "preset": PRESET,
                "level": level,
                "tune": "film",
                "x264-params": FINER_COLOUR,
            }
            context = stream.codec_context
            context.thread_count = THREADS
            context.color_range, context.colorspace = LIMITED, BT709
            context.color_primaries, context.color_trc = BT709, BT709
            # Square pixels, said and not left to be guessed.
            context.sample_aspect_ratio = Fraction(1)
        self._stream = stream

    def prepared(self, picture: NDArray[np.float32]) -> Any:
        """The picture as the encoder takes it: planes for H.264, colour bytes for WebP."""
        if self._kind != "webp":
            return yuv420(picture)
        colours = np.clip(np.round(picture), 0, 255).astype(np.uint8)
        return np.ascontiguousarray(np.dstack([colours[:, :, ::-1], np.full(colours.shape[:2], 255, np.uint8)]))

    def add(self, prepared: Any, times: int = 1) -> None:
        """Append a prepared picture, shown for so many film pictures."""
        frame = av.VideoFrame.from_ndarray(prepared, format="bgra" if self._kind == "webp" else "yuv420p")
        for _ in range(times):
            # Both anew each time: the encoder rewrites them in the frame it was given.
            frame.pts, frame.time_base = self._next, self._tick
            self._next += 1
            self._container.mux(self._stream.encode(frame))

    def finish(self) -> None:
        """Write out what the encoder still holds."""
        self._container.mux(self._stream.encode(None))


def yuv420(picture: NDArray[np.float32]) -> NDArray[np.uint8]:
    """A picture in the planes that the encoder takes.

    Parameters
    ----------
    picture
        (height, width, 3) float32, sRGB values of 0 to 255, even sides.

    Returns
    -------
    (height * 3 / 2, width) uint8
        Y, Cb and Cr below each other (yuv420p), BT.709, limited range.

    Notes
    -----
    One step of Cb is more than one percent of a pale floor's blue, and a smooth floor would take it in one go when the
    light changes by a tenth of that. So values are rounded up or down in a fixed pattern, and their mean keeps the
    fraction.
    """
    h, w = picture.shape[:2]
    # Colour is taken from the picture of half size: a quarter of the work, and the same, since both are sums.
    half = cv2.resize(picture, (w // 2, h // 2), interpolation=cv2.INTER_AREA)
    yuv = np.empty((h * 3 // 2, w), np.uint8)
    luma = np.asarray(cv2.transform(picture, TO_YUV[:1].astype(np.float32)), dtype=np.float32)
    yuv[:h] = _rounded(luma.reshape(h, w))
    colour = yuv[h:].reshape(2, h // 2, w // 2)
    for plane, row in zip(colour, TO_YUV[1:], strict=True):
        values = np.asarray(cv2.transform(half, row[None].astype(np.float32)), dtype=np.float32)
        plane[:] = _rounded(values.reshape(h // 2, w // 2))
    return yuv


def _rounded(plane: NDArray[np.float32]) -> NDArray[np.uint8]:
    h, w = plane.shape
    return np.asarray(cv2.add(plane, _pattern(h, w), dtype=cv2.CV_8U), dtype=np.uint8)


@cache
def _pattern(h: int, w: int) -> NDArray[np.float32]:
    """(h, w) added before rounding, -1/2 to 1/2; each 8 by 8 block holds 64 different ones (after Bayer 1973)."""
    grid = np.zeros((1, 1))
    for _ in range(3):
        grid = np.block([[4 * grid, 4 * grid + 2], [4 * grid + 3, 4 * grid + 1]])
    block = ((grid + 0.5) / 64 - 0.5).astype(np.float32)
    return np.tile(block, (h // 8 + 1, w // 8 + 1))[:h, :w]


@contextlib.contextmanager
def film_file(out: Path, *, size: tuple[int, int], rate: Fraction, level: str, kind: Kind = "mp4") -> Iterator[Writer]:
    """A writer whose film appears under its name only when it is whole.

    Parameters
    ----------
    out
        The film; one already there stays until the new one is done, and stays for good if that fails.
    size
        (width, height), even pixels.
    rate
        Film pictures a second.
    level
        H.264 level, such as "4.0".
    kind
        "mp4", "webp" or "gif".

    Raises
    ------
    ResultsError
        If the film cannot be written (a full disk, no right to write, no encoder).
    """
    _must_encode(kind, out)
    beside = out.with_name(f".{out.name}.{os.getpid()}.part")
    between = out.with_name(f".{out.name}.{os.getpid()}.between.part")
    # A GIF's palette is made from the whole film, which is therefore written once before, in better quality.
    first, written, quality = (between, "mp4", FINE) if kind == "gif" else (beside, kind, QUALITY)
    try:
        # The flag puts the header first ("faststart"); "bitexact" leaves out what differs between two runs.
        options = {"fflags": "+bitexact"} | ({"movflags": "+faststart"} if written == "mp4" else {"loop": "0"})
        with av.open(str(first), "w", format=written, options=options) as container:
            made: Kind = "webp" if kind == "webp" else "mp4"
            writer = FilmWriter(container, size=size, rate=rate, level=level, kind=made, quality=quality)
            yield writer
            writer.finish()
        if kind == "gif":
            write_gif(between, beside, rate)
        _into_place(beside, out)
    except (av.error.FFmpegError, OSError) as trouble:
        raise ResultsError(
            f"the film could not be written: {_reason(trouble)}",
            where=str(out),
            remedy="free some space on the disk, check that the folder may be written to, and make the film again; "
            "a film made earlier is still there",
        ) from trouble
    finally:
        for left in (beside, between):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)


def _into_place(beside: Path, out: Path) -> None:
    # Else a disk may know the new name before it holds the film, when the power fails.
    with beside.open("rb+") as whole:
        os.fsync(whole.fileno())
    beside.replace(out)


def _must_encode(kind: Kind, out: Path) -> None:
    """Say which kinds of film this build of the video library can write, where the wanted one is not among them."""
    lacking = {name for name, encoder in ENCODERS.items() if encoder not in av.codecs_available}
    if "mp4" in lacking:
        lacking.add("gif")  # it is made from one
    if kind in lacking:
        able = [name for name in ENCODERS if name not in lacking]
        remedy = f"take --format {able[0]}" if able else "install the package av from its wheel"
        raise ResultsError(
            f"this build of the video library cannot write {kind} (it lacks the encoder {ENCODERS[kind]})",
            where=str(out),
            remedy=f"{remedy}; a film made earlier is still there",
        )


def _reason(trouble: Exception) -> str:
    return str(getattr(trouble, "strerror", None) or trouble)
