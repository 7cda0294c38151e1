"""What is in a film: its file goes in, the packets of its picture stream and the order of its frames come out.

A packet is one frame as it is stored. Packets stand in the order in which they are decoded, which is not the order in
which frames are shown: some frames are built on later ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING, Literal

from sproutlapse.errors import PhotosError

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.packet import Packet
    from av.video.codeccontext import VideoCodecContext
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

# ruff: noqa: PLC0415 - av is loaded when there is a film, and photos need none of it

Kind = Literal["mov", "avi"]

# The first box of ISO base media (ISO 14496-12) and QuickTime files.
_FIRST_BOXES = frozenset({b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot"})
# So many frames at the end of an AVI that was cut short may have lost one that is shown before them: as many as usual
# encoders hold back.
HELD_BACK_AVI = 3
# A camera whose clock was never set, or a file whose field was left empty, tells of a year before these films.
_FIRST_YEAR = 1990


@dataclass(eq=False)
class Tag:
    """What goes with a packet into the decoder and comes out with its frame.

    An object of its own for each packet: the library knows it again by its address, and forgets all that share one with
    the first of them, as small numbers do.
    """

    place: int


@dataclass(frozen=True)
class Stored:
    """One packet.

    Attributes
    ----------
    where
        Its place in the file in bytes, by which it is known again.
    key
        Whether decoding may begin with it.
    seek
        Where to seek to in the stream's own time.
    cut
        Whether the file ends within it.
    """

    where: int
    key: bool
    seek: int
    cut: bool


@dataclass(frozen=True)
class Index:
    """A film's picture stream.

    Attributes
    ----------
    kind
        The container.
    stored
        Packets in the order in which they are decoded.
    shown
        Place in `stored` of each frame, in the order of time.
    begins
        For each packet the place of the one with which decoding has to begin.
    missing
        How many frames more the table of an MP4 or MOV lists than the file holds.
    promised
        How many frames the file's head tells of; 0 where it tells of none.
    created
        The date in the container, where there is one.
    created_utc
        Whether that date is told in UTC.
    others
        How many more picture streams there are.
    """

    kind: Kind
    stored: tuple[Stored, ...]
    shown: tuple[int, ...]
    begins: tuple[int, ...]
    missing: int
    promised: int
    created: datetime | None
    created_utc: bool
    others: int


def no_film(path: Path, why: str) -> PhotosError:
    """What to say of a file that cannot be used as a film."""
    return PhotosError(
        f"this is no film that can be read: {why}.",
        where=str(path),
        remedy="Give an MP4, MOV or AVI as the camera wrote it, whole, or the folder with the photos.",
    )


def kind_of(file: IO[bytes], path: Path) -> Kind:
    """MP4 and MOV, or AVI, told from the first bytes; a PhotosError if it is neither.

    It is told here and not guessed by the library, which knows play lists as well that open other files.
    """
    head = file.read(12)
    file.seek(0)
    if head[4:8] in _FIRST_BOXES:
        return "mov"
    if head[:4] == b"RIFF" and head[8:12] == b"AVI ":
        return "avi"
    raise no_film(path, "it is empty" if not head else "it begins neither as an MP4 or MOV nor as an AVI does")


def opened(file: IO[bytes], path: Path) -> tuple[InputContainer, VideoStream]:
    """The container and the picture stream that is used, the first one that is no cover picture.

    Raises
    ------
    PhotosError
        If it is no film, was never finished, or holds no picture stream.
    """
    import av

    kind = kind_of(file, path)
    try:
        container = av.open(file, "r", format=kind, metadata_errors="replace")
    except (av.FFmpegError, ValueError) as error:
        why = "its table of contents, which the camera writes last, is missing or broken" if kind == "mov" else "broken"
        raise no_film(path, f"{why} ({_plain(error)})") from error
    streams = _pictures(container)
    if not streams:
        raise no_film(path, "there are no moving pictures in it")
    stream = streams[0]
    if stream.codec_context is None:
        raise no_film(path, "its pictures are packed in a way that is not known here")
    # One thread: workers share the processor already, and a broken frame is always found out in the same way.
    stream.codec_context.thread_count = 1
    stream.codec_context.copy_opaque = True
    return container, stream


def _pictures(container: InputContainer) -> list[VideoStream]:
    from av.stream import Disposition

    return [s for s in container.streams.video if not s.disposition & Disposition.attached_pic]


def packets(container: InputContainer, stream: VideoStream) -> Iterator[Packet[VideoStream]]:
    """The stream's packets as far as they can be read; the empty one that ends a stream is left out."""
    import av

    try:
        for packet in container.demux(stream):
            if packet.size:
                yield packet
    except av.FFmpegError:
        return


def decoded(codec: VideoCodecContext, packet: Packet[VideoStream] | None) -> tuple[list[VideoFrame], bool]:
    """The frames that come out when a packet goes in (None: no more will come), and whether it broke."""
    import av

    try:
        return codec.decode(packet), False
    except av.EOFError:
        return [], False
    except (av.FFmpegError, ValueError):
        return [], True


def index_of(path: Path) -> Index:
    """Read a film's table once; no picture is decoded, but in an AVI whose frames stand in another order than shown.

    Raises
    ------
    PhotosError
        If it is no film.
    OSError
        If the file cannot be read.
    """
    with path.open("rb") as file:
        kind = kind_of(file, path)
        container, stream = opened(file, path)
        with container:
            stored: list[Stored] = []
            times: list[int | None] = []
            hidden: set[int] = set()
            for packet in packets(container, stream):
                if packet.is_discard:  # cut away in the container's own list of edits
                    hidden.add(len(stored))
                seek = packet.dts if packet.dts is not None else packet.pts
                stored.append(Stored(packet.pos or 0, packet.is_keyframe, seek or 0, packet.is_corrupt))
                times.append(packet.pts)
            reorders = stream.codec_context.has_b_frames
            promised, others = stream.frames, len(_pictures(container)) - 1
            created, utc = _created(container.metadata | stream.metadata)
        if not stored:
            raise no_film(path, "not one frame is in it")
        shown = _order(path, kind, times, reorders=bool(reorders))
        begins = _begins(stored, shown)
        missing = max(promised - len(stored), 0) if kind == "mov" else 0
        if reorders and (promised > len(stored) or stored[-1].cut):
            # Frames that would be shown before these may be lost, so their numbers are not known.
            unsure = _unsure(shown, times, stored[-1].seek) if kind == "mov" else shown[-HELD_BACK_AVI:]
            shown = [place for place in shown if place not in unsure]
            missing += len(unsure) if kind == "mov" else 0
        return Index(
            kind, tuple(stored), tuple(k for k in shown if k not in hidden), begins, missing, promised,
            created, utc, others,
        )  # fmt: skip


def _order(path: Path, kind: Kind, times: list[int | None], *, reorders: bool) -> list[int]:
    """Packets in the order of time."""
    places = list(range(len(times)))
    if not reorders:
        return places
    known = [time for time in times if time is not None]
    if kind == "mov" and len(set(known)) == len(times):
        return sorted(places, key=known.__getitem__)
    # An AVI holds no times of its own: in which order its frames are shown only the decoder knows.
    return _order_as_decoded(path, len(times))


def _unsure(shown: list[int], times: list[int | None], last: int) -> set[int]:
    """Frames shown later than the last one was decoded: what was cut off may have been shown before them."""
    return {place for place in shown if (time := times[place]) is not None and time > last}


def _order_as_decoded(path: Path, count: int) -> list[int]:
    order: list[int] = []
    with path.open("rb") as file:
        container, stream = opened(file, path)
        with container:
            for place, packet in enumerate(packets(container, stream)):
                packet.opaque = Tag(place)
                frames, _broke = decoded(stream.codec_context, packet)
                order += [frame.opaque.place for frame in frames if isinstance(frame.opaque, Tag)]
            frames, _broke = decoded(stream.codec_context, None)
            order += [frame.opaque.place for frame in frames if isinstance(frame.opaque, Tag)]
    # What gives no picture stays where it is stored.
    lost = sorted(set(range(count)) - set(order))
    for place in lost:
        order.insert(place, place)
    return order


def _begins(stored: list[Stored], shown: list[int]) -> tuple[int, ...]:
    """With which packet decoding has to begin for each. Frames shown before the key frame behind which they are stored
    are built on the one before it as well."""
    rank = [0] * len(stored)
    for number, place in enumerate(shown):
        rank[place] = number
    begins, last, before = [], 0, 0
    for place, one in enumerate(stored):
        if one.key:
            last, before = place, last
        begins.append(before if rank[place] < rank[last] else last)
    return tuple(begins)


def _created(metadata: dict[str, str]) -> tuple[datetime | None, bool]:
    """The container's date, and whether it is told in UTC, as MP4 and QuickTime do (ISO 14496-12, 8.2.2)."""
    text = metadata.get("creation_time") or metadata.get("date") or ""
    try:
        when = datetime.fromisoformat(text.strip())
    except ValueError:
        return None, False
    if when.year < _FIRST_YEAR:
        return None, False
    return (when.astimezone(UTC).replace(tzinfo=None), True) if when.tzinfo else (when, False)


def _plain(error: BaseException) -> str:
    return (getattr(error, "strerror", None) or str(error)).splitlines()[0].strip().rstrip(".:")
