"""A GIF with one good palette for the whole film, so that its colours do not flicker; two passes, memory flat."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
from av.filter import Graph

# An even pattern stays the same from picture to picture, where error diffusion would boil.
DITHER = "bayer:bayer_scale=3"


def write_gif(film: Path, out: Path, rate: Fraction) -> None:
    """Write a film that is there already as GIF, repeated without end.

    Raises
    ------
    av.error.FFmpegError, OSError
        If it cannot be read or written.
    """
    palette = _palette(film)
    with av.open(str(film)) as source, av.open(str(out), "w", format="gif", options={"loop": "0"}) as container:
        video = source.streams.video[0]
        stream = container.add_stream("gif", rate=rate)
        stream.width, stream.height, stream.pix_fmt = video.width, video.height, "pal8"
        stream.time_base = 1 / rate
        graph, picture, colours = _coloured(video)
        colours.push(palette)
        colours.push(None)
        for number, found in enumerate(_through(graph, picture, source.decode(video))):
            found.pts, found.time_base = number, 1 / rate
            container.mux(stream.encode(found))
        container.mux(stream.encode(None))


def _palette(film: Path) -> Any:
    """The 256 colours that suit all pictures of the film, as a picture of 16 by 16 pixels."""
    with av.open(str(film)) as source:
        video = source.streams.video[0]
        graph = Graph()
        picture = graph.add_buffer(template=video)
        maker = graph.add("palettegen", "stats_mode=full:reserve_transparent=0")
        sink = graph.add("buffersink")
        picture.link_to(maker)
        maker.link_to(sink)
        graph.configure()
        for frame in source.decode(video):
            picture.push(frame)
        picture.push(None)
        return sink.pull()


def _coloured(video: Any) -> tuple[Any, Any, Any]:
    graph = Graph()
    picture = graph.add_buffer(template=video)
    colours = graph.add_buffer(width=16, height=16, format=av.VideoFormat("bgra"), time_base=Fraction(1, 1000))
    use = graph.add("paletteuse", f"dither={DITHER}:diff_mode=rectangle")
    sink = graph.add("buffersink")
    picture.link_to(use, 0, 0)
    colours.link_to(use, 0, 1)
    use.link_to(sink)
    graph.configure()
    return graph, picture, colours


def _through(graph: Any, source: Any, frames: Any) -> Iterator[Any]:
    for frame in frames:
        source.push(frame)
        yield from _ready(graph)
    source.push(None)
    yield from _ready(graph)


def _ready(graph: Any) -> Iterator[Any]:
    while True:
        try:
            yield graph.pull()
        except (av.error.BlockingIOError, av.error.EOFError):
            return
