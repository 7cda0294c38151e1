"""A film in place of a folder of photos: a frame's path goes in, the bytes of its picture come out.

A frame has a path below the film's own, `bed.mp4/frame-000123`, where no real file can lie. Motion JPEG is handed on as
it stands in the film; of all else the decoded picture is. One film or two stay open in each process and are read on
from where they are; nothing is decoded twice while frames are asked for in order.
"""

from __future__ import annotations

import atexit
import re
import threading
from collections import OrderedDict
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import simplejpeg

from sproutlapse.errors import PhotosError
from sproutlapse.frames.reel_index import Index, Tag, decoded, index_of, opened, packets
from sproutlapse.frames.reel_picture import is_turned, ppm, upright

if TYPE_CHECKING:
    from collections.abc import Iterator

    from av.packet import Packet
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

FILM_ENDINGS = (".mp4", ".m4v", ".mov", ".avi")

# Begins what stands for a picture that cannot be had; behind it the frame's name and the reason.
_NO_PICTURE = b"sproutlapse: no picture\n"
_NAME = re.compile(r"frame-([0-9]{6,})")

KEPT_OPEN = 2  # films, as when one is shown beside another
# Decoded frames kept behind the last one asked for: threads that look ahead ask not quite in order.
BEHIND = 3
# No decoder holds back more frames (H.264, A.3.1: 16); one that has not come out by then never will.
HELD_BACK = 16
# A JPEG whose colours are not those of JFIF says so in a comment.
_VIDEO_LEVELS = b"CS=ITU601"

_open: OrderedDict[tuple[str, int, int], Reel] = OrderedDict()
_lock = threading.Lock()


@atexit.register
def close_all() -> None:
    """Close the films that are open."""
    while _open:
        _open.popitem()[1].close()


def is_film(path: Path) -> bool:
    """Whether this is a file with a film's ending."""
    return path.suffix.lower() in FILM_ENDINGS and path.is_file()


def frame_name(number: int) -> str:
    """The name of a frame, counted from 1."""
    return f"frame-{number:06d}"


def frame_of(path: Path) -> tuple[Path, int] | None:
    """The film and the number of the frame that a path names; None if it is a photo's path."""
    found = _NAME.fullmatch(path.name)
    return (path.parent, int(found[1])) if found and path.parent.suffix.lower() in FILM_ENDINGS else None


def file_of(path: Path) -> Path:
    """The file on disk that a photo's path stands for: of a frame the film."""
    frame = frame_of(path)
    return frame[0] if frame else path


def index(film: Path) -> Index:
    """What is in a film.

    Raises
    ------
    PhotosError
        If it is no film or cannot be read.
    """
    with _lock:
        return _reel(film).index


def count(film: Path) -> int:
    """How many frames a film has, those included that are lost."""
    found = index(film)
    return len(found.shown) + found.missing


def picture(film: Path, number: int) -> bytes:
    """The picture of one frame: JPEG or binary PPM, or what `lost` understands.

    Parameters
    ----------
    film
        The file.
    number
        Counted from 1.

    Raises
    ------
    PhotosError
        If the film cannot be read any more.
    """
    with _lock:
        return _reel(film).picture(number)


def lost(data: bytes) -> str:
    """Why a frame has no picture, where these bytes stand for one; else empty."""
    if not data.startswith(_NO_PICTURE):
        return ""
    return data.split(b"\n", 2)[2].decode("utf-8")


def _reel(film: Path) -> Reel:
    """The film, open; anew if the file is another one by now."""
    try:
        stat = film.stat()
        key = (str(film), stat.st_size, stat.st_mtime_ns)
        if key not in _open:
            for old in [old for old in _open if old[0] == key[0]]:
                _open.pop(old).close()
            while len(_open) >= KEPT_OPEN:
                _open.popitem(last=False)[1].close()
            _open[key] = Reel(film)
    except OSError as err:
        raise PhotosError(
            f"the film cannot be read ({err.strerror or err})",
            where=str(film),
            remedy="check that it is still there and that you may read it, then run again",
        ) from err
    _open.move_to_end(key)
    return _open[key]


class Reel:
    """One film, open for reading.

    Parameters
    ----------
    path
        The file.

    Raises
    ------
    PhotosError
        If it is no film.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.index = index_of(path)
        self._place = {one.where: place for place, one in enumerate(self.index.stored)}
        self._number = {place: number for number, place in enumerate(self.index.shown, start=1)}
        self._held = ExitStack()
        self._restart()
        self._pixel_shape = float(self._stream.sample_aspect_ratio or 1) or 1.0
        self._as_stored: bool | None = None

    def close(self) -> None:
        """Close the file."""
        self._held.close()

    def picture(self, number: int) -> bytes:
        """The picture of a frame; see the function of this name."""
        if number > len(self.index.shown):
            return _without(number, "the film was cut short, and this frame is not in it")
        place = self.index.shown[number - 1]
        if self.index.stored[place].cut:
            return _without(number, "the film ends in the middle of this frame")
        if self._stream.codec_context.name == "mjpeg":
            data = self._packet(place)
            if data is not None and self._usable_as_stored(data):
                return data
        frame = self._frame(place)
        if frame is None:
            return _without(number, self._why(place))
        return ppm(upright(frame, self._pixel_shape))

    def _restart(self) -> None:
        """From the first packet on."""
        self._held.close()
        self._held = ExitStack()
        file = self._held.enter_context(self.path.open("rb"))
        container, stream = opened(file, self.path)
        self._container = self._held.enter_context(container)
        self._stream = stream
        self._begun(packets(self._container, stream), 0)

    def _begun(self, coming: Iterator[Packet[VideoStream]], place: int) -> None:
        self._coming = coming
        self._at: int = place  # the packet that comes next
        self._from = place  # the first one that was decoded since
        self._fed = place  # one behind the last that went to the decoder
        self._broken: set[int] = set()
        self._out: OrderedDict[int, VideoFrame] = OrderedDict()
        self._waiting: set[int] = set()
        self._ended = False

    def _go_to(self, place: int) -> None:
        """So that this packet comes next; the decoder is empty then."""
        import av  # noqa: PLC0415

        try:
            self._container.seek(self.index.stored[place].seek, stream=self._stream, backward=True)
            coming = packets(self._container, self._stream)
            first = next(coming, None)
            there = None if first is None else self._place.get(first.pos or 0)
        except av.FFmpegError:
            there = None
        if there is None or first is None or there > place:
            self._restart()
            self._walk_to(place)
        else:
            self._begun(_again(first, coming), there)
            self._walk_to(place)
        self._from = self._fed = self._at

    def _walk_to(self, place: int) -> None:
        while self._at < place and self._next() is not None:
            pass

    def _next(self) -> Packet[VideoStream] | None:
        packet = next(self._coming, None)
        if packet is not None:
            self._at += 1
        return packet

    def _packet(self, place: int) -> bytes | None:
        """One packet's bytes."""
        if not self._at <= place <= self._at + HELD_BACK:
            self._go_to(place)
        self._walk_to(place)
        packet = self._next()
        return None if packet is None else bytes(packet)

    def _usable_as_stored(self, data: bytes) -> bool:
        """Whether a packet of motion JPEG is the picture as it is to be seen."""
        if self._as_stored is None:
            frame = self._frame(self.index.shown[0])
            self._as_stored = self._pixel_shape == 1.0 and (frame is None or not is_turned(frame))
        if not self._as_stored or _VIDEO_LEVELS in data[:1024]:
            return False
        try:
            height, width, *_ = simplejpeg.decode_jpeg_header(data, strict=False)
        except (ValueError, KeyError):
            return data[:3] == b"\xff\xd8\xff"  # broken: the decoder of photos says how
        # Two half pictures in one packet are left to the film's decoder.
        return (width, height) == (self._stream.width, self._stream.height)

    def _frame(self, place: int) -> VideoFrame | None:
        """A frame decoded; None if its data, or those that it is built on, are broken."""
        begin = self.index.begins[place]
        passed = place < self._fed and place not in self._out and place not in self._waiting
        # Going on is right as long as no later key frame stands between here and there.
        if passed or begin > self._fed or begin < self._from or self._fed != self._at:
            self._go_to(begin)
        while not self._settled(place) and not self._ended:
            self._feed()
            self._let_go(self._number[place] - BEHIND)
        return None if self._spoilt(place) else self._out.get(place)

    def _let_go(self, number: int) -> None:
        """Forget decoded frames before this one."""
        for old in [old for old in self._out if self._number.get(old, 0) < number]:
            del self._out[old]

    def _settled(self, place: int) -> bool:
        """Whether all up to this packet have come out, or never will; only then is it known which are broken."""
        if self._fed <= place:
            return False
        late = self._fed - HELD_BACK - 1
        self._broken |= {one for one in self._waiting if one < late}
        self._waiting -= self._broken
        return not any(one <= place for one in self._waiting)

    def _feed(self) -> None:
        packet, place = self._next(), self._fed
        if packet is None:
            self._ended = True
        else:
            packet.opaque = Tag(place)
            if self.index.begins[place] >= self._from:  # others are built on what was not decoded, and are dropped
                self._waiting.add(place)
            self._fed += 1
            if packet.is_corrupt:
                self._broken.add(place)
        frames, broke = decoded(self._stream.codec_context, packet)
        if broke and packet is not None:
            self._broken.add(place)
            self._waiting.discard(place)
        for frame in frames:
            tag = frame.opaque
            if isinstance(tag, Tag):
                self._waiting.discard(tag.place)
                self._out[tag.place] = frame
                if frame.is_corrupt:
                    self._broken.add(tag.place)
        if self._ended:
            self._broken |= self._waiting
            self._waiting.clear()

    def _spoilt(self, place: int) -> set[int]:
        """The broken packets that this frame is, or may be built on."""
        begins, begin = self.index.begins, self.index.begins[place]
        return {one for one in self._broken if begin <= one <= place and begins[one] >= begin}

    def _why(self, place: int) -> str:
        spoilt = self._spoilt(place)
        if not spoilt or place in spoilt:
            return "its data in the film are broken"
        numbers = [self._number[one] for one in spoilt if one in self._number]
        named = frame_name(min(numbers)) if numbers else "a frame before it"
        return f"it is built on {named}, whose data are broken"


def _again(first: Packet[VideoStream], coming: Iterator[Packet[VideoStream]]) -> Iterator[Packet[VideoStream]]:
    yield first
    yield from coming


def _without(number: int, why: str) -> bytes:
    return _NO_PICTURE + f"{frame_name(number)}\n{why}".encode()


def told(film: Path) -> list[str]:
    """What a person should know of a film as such, in plain words."""
    found = index(film)
    lines = []
    if found.others:
        lines.append(f"{film.name} holds {found.others + 1} picture streams; the first was taken.")
    there = len(found.stored)
    if found.promised > there or found.stored[-1].cut:
        promised = max(found.promised, there)
        lines.append(
            f"{film.name} was cut short: of the {promised} frames that it tells of, {there} are in it. What to do: "
            "copy it from the camera again."
        )
    return lines
