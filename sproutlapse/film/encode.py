"""The MP4 writer: H.264 in yuv420p, tagged BT.709, the movie header before the media, never half a file under the film's name."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.video.reformatter import ColorRange, Colorspace
from numpy.typing import NDArray

from sproutlapse.errors import ResultsError

# Constant quality (x264 crf): at 20 the leaf hairs of the test scenes still stand.
QUALITY = 20
PRESET = "veryfast"
# The same on every machine, since the encoder's cutting into threads shows in the bytes.
THREADS = 2
# ISO/IEC 23091-2 (H.273): 1 = BT.709 for primaries, transfer and matrix; range 1 = limited ("tv").
BT709, LIMITED = 1, 1


class FilmWriter:
    """Takes pictures one after the other and writes them as film. Made by `film_file`."""

    def __init__(self, container: Any, *, size: tuple[int, int], rate: Fraction, level: str) -> None:
        self._container = container
        self._next = 0
        stream = container.add_stream("libx264", rate=rate)
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        self._tick = 1 / rate
        stream.time_base = self._tick
        stream.options = {"crf": str(QUALITY), "preset": PRESET, "level": level, "tune": "film"}
        context = stream.codec_context
        context.thread_count = THREADS
        context.color_range, context.colorspace = LIMITED, BT709
        context.color_primaries, context.color_trc = BT709, BT709
        self._stream = stream

    def add(self, picture: NDArray[np.uint8], times: int = 1) -> None:
        """Append a picture (height, width, 3) uint8 sRGB, shown for so many film pictures."""
        frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(
            format="yuv420p",
            src_colorspace=Colorspace.ITU709,
            dst_colorspace=Colorspace.ITU709,
            src_color_range=ColorRange.JPEG,
            dst_color_range=ColorRange.MPEG,
        )
        for _ in range(times):
            # Both anew each time: the encoder rewrites them in the frame it was given.
            frame.pts, frame.time_base = self._next, self._tick
            self._next += 1
            self._container.mux(self._stream.encode(frame))

    def finish(self) -> None:
        """Write out what the encoder still holds."""
        self._container.mux(self._stream.encode(None))


@contextlib.contextmanager
def film_file(out: Path, *, size: tuple[int, int], rate: Fraction, level: str) -> Iterator[FilmWriter]:
    """A writer whose film appears under its name only when it is whole.

    Parameters
    ----------
    out
        The MP4 file; a film already there stays until the new one is done, and stays for good if that fails.
    size
        (width, height), even pixels.
    rate
        Film pictures a second.
    level
        H.264 level, such as "4.0".

    Raises
    ------
    ResultsError
        If the film cannot be written (a full disk, no right to write, no encoder).
    """
    beside = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        # The flag puts the header first ("faststart"); "bitexact" leaves out what differs between two runs.
        options = {"movflags": "+faststart", "fflags": "+bitexact"}
        with av.open(str(beside), "w", format="mp4", options=options) as container:
            writer = FilmWriter(container, size=size, rate=rate, level=level)
            yield writer
            writer.finish()
        os.replace(beside, out)
    except (av.error.FFmpegError, OSError) as trouble:
        raise ResultsError(
            f"the film could not be written: {_reason(trouble)}",
            where=str(out),
            remedy="free some space on the disk, check that the folder may be written to, and make the film again; "
            "a film made earlier is still there",
        ) from trouble
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def _reason(trouble: Exception) -> str:
    return str(getattr(trouble, "strerror", None) or trouble)
