"""Where everything stands in the film: pictures side by side, bands below them, within a shape and a level of H.264."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sproutlapse.film.levels import LEVELS, lowest_level
from sproutlapse.film.options import FilmOptions, Shape

DEFAULT_HEIGHT, DEFAULT_UPRIGHT = 1080, 1920
# Between pictures side by side, as a share of the film's width.
GAP = 0.012
RATIOS: dict[Shape, float] = {"16:9": 16 / 9, "9:16": 9 / 16, "1:1": 1.0}
NAMES = [level.name for level in LEVELS]

Box = tuple[int, int, int, int]  # left, top, width, height in film pixels


@dataclass(frozen=True)
class Bands:
    """Heights of what stands above and below the pictures, as shares of their width."""

    header: float = 0.0
    curve: float = 0.0
    caption: float = 0.0
    strip: float = 0.0


@dataclass(frozen=True)
class Layout:
    """Places in the film, (left, top, width, height); a height of 0 is a part that is not there."""

    size: tuple[int, int]
    pictures: tuple[Box, ...]
    header: Box
    curve: Box
    caption: Box
    strip: Box


def lay_out(
    shapes: Sequence[tuple[float, float]], bands: Bands, options: FilmOptions, *, as_they_are: bool = False
) -> Layout:
    """The largest film for these pictures that enlarges none, with even sides, within a level that players know.

    Parameters
    ----------
    shapes
        (width, height) of each picture in source pixels, at least 16 each.
    bands
        What stands above and below.
    options
        Rate, height and shape.
    as_they_are
        Pictures side by side keep their sizes to each other and stand on one line; else they become equally high.

    Notes
    -----
    The film stays within level 4.0 (4.2 above 30 pictures a second) unless a height was asked for, then within 5.1
    (5.2).
    """
    swift = options.fps > 30
    usual, asked = ("4.2", "5.2") if swift else ("4.0", "5.1")
    highest = NAMES.index(usual if options.height_px is None else asked)
    tallest = options.height_px or (DEFAULT_UPRIGHT if options.shape == "9:16" else DEFAULT_HEIGHT)
    if not as_they_are:
        shapes = _alike(shapes, stacked=_stacked(shapes, options))
    stacked = _stacked(shapes, options)
    below = bands.header + bands.curve + bands.caption + bands.strip
    width = min(_widest(shapes, stacked), _even(tallest / (_height_share(shapes, stacked) + below)))
    while True:
        made = _placed(shapes, bands, width, stacked, RATIOS.get(options.shape))
        level = lowest_level(*made.size, options.fps)
        if made.size[1] <= tallest and level is not None and NAMES.index(level) <= highest:
            return made
        width -= 2
        if width < 16:
            return made


def _stacked(shapes: Sequence[tuple[float, float]], options: FilmOptions) -> bool:
    return options.shape == "9:16" and len(shapes) > 1


def _alike(shapes: Sequence[tuple[float, float]], *, stacked: bool) -> list[tuple[float, float]]:
    """The shapes made equally high, or equally wide where they stand above each other; none is enlarged."""
    if stacked:
        width = min(w for w, _h in shapes)
        return [(width, h * width / w) for w, h in shapes]
    height = min(h for _w, h in shapes)
    return [(w * height / h, height) for w, h in shapes]


def _widest(shapes: Sequence[tuple[float, float]], stacked: bool) -> int:
    if stacked:
        return _even(max(w for w, _h in shapes))
    return _even(sum(w for w, _h in shapes) / (1 - GAP * (len(shapes) - 1)))


def _height_share(shapes: Sequence[tuple[float, float]], stacked: bool) -> float:
    """Height of the pictures over their width."""
    if stacked:
        return sum(h for _w, h in shapes) / max(w for w, _h in shapes)
    return (1 - GAP * (len(shapes) - 1)) * max(h for _w, h in shapes) / sum(w for w, _h in shapes)


def _even(value: float) -> int:
    return max(2, int(value + 0.01) // 2 * 2)


def _placed(
    shapes: Sequence[tuple[float, float]], bands: Bands, width: int, stacked: bool, ratio: float | None
) -> Layout:
    gap = _even(GAP * width) if len(shapes) > 1 else 0
    top = 2 * round(width * bands.header / 2)
    boxes: list[Box] = []
    if stacked:
        by, y = width / max(w for w, _h in shapes), top
        for w, h in shapes:
            own = _even(w * by)
            boxes.append(((width - own) // 4 * 2, y, own, _even(h * by)))
            y += boxes[-1][3] + gap
        below = y - gap
    else:
        by, x = (width - gap * (len(shapes) - 1)) / sum(w for w, _h in shapes), 0
        highest = max(_even(h * by) for _w, h in shapes)
        for w, h in shapes:
            own, high = width if len(shapes) == 1 else _even(w * by), _even(h * by)
            boxes.append((x, top + highest - high, own, high))
            x += own + gap
        width, below = x - gap, top + highest
    under: list[Box] = []
    for share in (bands.curve, bands.caption, bands.strip):
        own = 2 * round(width * share / 2)
        under.append((0, below, width, own))
        below += own
    size = (width, below)
    if ratio is not None:
        size = (max(width, _even(below * ratio + 1)), max(below, _even(width / ratio + 1)))
    right, down = (size[0] - width) // 4 * 2, (size[1] - below) // 4 * 2
    places = [(x + right, y + down, w, h) for x, y, w, h in ((0, 0, width, top), *under, *boxes)]
    return Layout(size, tuple(places[4:]), *places[:4])


def crop_toward(
    crop: tuple[float, float, float, float], keep: tuple[float, float, float, float], ratio: float, share: float
) -> tuple[float, float, float, float]:
    """A part of the crop that comes as near to a shape as it can without cutting off what must stay.

    Parameters
    ----------
    crop, keep
        (left, top, width, height) in the reference's pixels.
    ratio
        Width over height of the whole film.
    share
        What the bands take, as a share of the width.
    """
    left, top, width, height = crop
    wanted = 1 / ratio - share  # height over width of the picture
    if wanted <= 0:
        return crop
    if height / width > wanted:
        new = max(width * wanted, min(height, keep[3]))
        top = _slid(top, height, new, keep[1], keep[3])
        return left, top, width, new
    new = max(height / wanted, min(width, keep[2]))
    left = _slid(left, width, new, keep[0], keep[2])
    return left, top, new, height


def _slid(start: float, length: float, new: float, keep_start: float, keep_length: float) -> float:
    """Where a shorter piece begins: centred on what must stay, within the longer one."""
    middle = keep_start + keep_length / 2
    return min(max(middle - new / 2, start), start + length - new)
