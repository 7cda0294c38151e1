"""Photos of pots before a board drawn in linear light, so that every area, place and length is known by construction.

Shapes are sampled four times finer than the photo's pixels and averaged, as a lens mixes light; then come blur, noise,
the sRGB curve and a real JPEG. Places are in pixels, the first pixel's centre at (0, 0). Upright and level edges at
multiples of a quarter pixel are exact.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np
from PIL import Image
from skimage.draw import polygon as polygon_pixels

from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.colour import decode_srgb, encode_srgb

FINE = 4
STILL = np.eye(2, 3)
BOARD = (206, 205, 201)
SOIL, POT, TABLE = (58, 46, 38), (40, 40, 43), (150, 138, 120)
WHITE, BLACK, INK = (238, 238, 234), (22, 22, 22), (45, 50, 95)
GREEN, PURPLE_BLACK, PALE, CREAM = (70, 135, 50), (48, 28, 44), (196, 214, 140), (226, 218, 165)
SIDE_PX, SIDE_MM = 75.0, 30.0  # of the mark: 0.4 mm a pixel
MM = SIDE_MM / SIDE_PX


def light_of(srgb):
    """Linear light of an 8-bit sRGB colour."""
    return decode_srgb(np.asarray(srgb, float) / 255.0)


def dimmed(srgb, share):
    """A colour with its bytes scaled."""
    return tuple(int(v * share) for v in srgb)


@dataclass(frozen=True)
class Shape:
    """A polygon of one colour; `plant` is the number of the plant it is tissue of, or 0."""

    points: np.ndarray
    colour: tuple[int, int, int]
    plant: int = 0
    wettable: bool = False


@dataclass
class Stage:
    """What stands before the camera, from back to front."""

    width: int = 640
    height: int = 480
    shapes: list[Shape] = field(default_factory=list)
    under: Stage | None = None
    known: dict[bytes, np.ndarray] = field(default_factory=dict)

    def add(self, points, colour, plant=0, wettable=False):
        self.shapes.append(Shape(np.asarray(points, float), colour, plant, wettable))
        return self

    def box(self, left, top, right, bottom, colour, **kind):
        return self.add([(left, top), (right, top), (right, bottom), (left, bottom)], colour, **kind)

    def ellipse(self, x, y, long, short, colour, *, turn=0.0, plant=0):
        """An ellipse of half axes `long` and `short`, turned by degrees clockwise as seen."""
        angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        along, across = long * np.cos(angle), short * np.sin(angle)
        return self.add(np.column_stack([x + along * c - across * s, y + along * s + across * c]), colour, plant)

    def stem(self, x, foot_y, top_y, wide, *, plant=1, colour=GREEN, lean=0.0):
        """A stem; `lean` in pixels is how far its top stands to the right of its foot."""
        half = wide / 2
        points = [(x - half, foot_y), (x + half, foot_y), (x + lean + half, top_y), (x + lean - half, top_y)]
        return self.add(points, colour, plant)

    def leaf(self, base, tip, wide, *, plant=1, colour=GREEN):
        """A leaf from its attachment to its tip, widest at two thirds of the way, on a short stalk."""
        base, tip = np.asarray(base, float), np.asarray(tip, float)
        way = tip - base
        normal = np.array([-way[1], way[0]]) / np.hypot(*way)
        t = np.linspace(0, 1, 40)
        half = np.maximum(1.2 * (t < 0.5), wide / 2 * np.sin(np.pi * np.clip((t - 0.2) / 0.8, 0, 1)) ** 0.7)
        sides = [base + t[:, None] * way + k * half[:, None] * normal for k in (1, -1)]
        return self.add(np.vstack([sides[0], sides[1][::-1]]), colour, plant)

    def pot(self, x, soil_y, half=55.0, seed=0):
        """A dark pot whose soil is seen from a little above: its back rim lies eight pixels above the soil line."""
        rng = np.random.default_rng(seed + round(x))
        self.box(x - half, soil_y - 8, x + half, soil_y + 6, SOIL, wettable=True)
        for at in rng.uniform((-half + 3, -6), (half - 3, 4), (60, 2)):
            shade = dimmed(SOIL, rng.uniform(0.7, 1.3))
            self._speck(rng, at + np.array([x, soil_y]), rng.uniform(1.0, 2.5), shade, wettable=True)
        self.box(x - half, soil_y + 6, x + half, soil_y + 20, POT)
        self.box(x - 0.9 * half, soil_y + 20, x + 0.9 * half, soil_y + 90, (30, 30, 33))
        for k in range(-3, 4):
            self.box(x + k * half / 4, soil_y + 30, x + k * half / 4 + 3, soil_y + 80, (62, 62, 66))
        return self

    def table(self, top, seed=0):
        """A table with grain from a row down."""
        rng = np.random.default_rng(seed + 77)
        self.box(-200, top, self.width + 200, self.height + 200, TABLE)
        for at in rng.uniform((0, top + 8), (self.width, self.height), (70, 2)):
            shade = dimmed(TABLE, rng.uniform(0.6, 1.15))
            self._speck(rng, at, rng.uniform(2, 6), shade)
        return self

    def _speck(self, rng, at, size, colour, **kind):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 6))
        self.add(np.asarray(at) + size * np.column_stack([np.cos(angle), np.sin(angle)]), colour, **kind)

    def mark(self, corners, number=5, dictionary=cv2.aruco.DICT_4X4_50):
        """A printed mark by the corners of its black square, clockwise from its top left, on a white card."""
        across = 6 if dictionary == cv2.aruco.DICT_4X4_50 else 8
        cells = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(dictionary), number, across)
        square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
        lay = cv2.getPerspectiveTransform(square, np.asarray(corners, np.float32))
        card = square.astype(float) * 1.5 - 0.25
        for unit, colour in ((card, WHITE), (square.astype(float), BLACK)):
            self.add(cv2.perspectiveTransform(unit[None], lay)[0], colour)
        for row, column in np.argwhere(cells > 127):
            cell = (square.astype(float) + np.array([column, row])) / across
            self.add(cv2.perspectiveTransform(cell[None], lay)[0], WHITE)
        return self

    def with_(self, *drawings):
        """A copy with further things drawn by functions of a stage."""
        copy = Stage(self.width, self.height, list(self.shapes), under=self)
        for draw in drawings:
            draw(copy)
        return copy

    def _laid(self, bump):
        """Number of the front shape at each fine sample, from 1; 0 = board. Kept, for the same stage is drawn often."""
        key = bump.tobytes() + bytes([len(self.shapes) % 251])
        if key in self.known:
            return self.known[key]
        if self.under is None:
            done, out = 0, np.zeros((self.height * FINE, self.width * FINE), np.int16)
        else:
            done, out = len(self.under.shapes), self.under._laid(bump).copy()
        for number, shape in enumerate(self.shapes[done:], done + 1):
            points = (shape.points @ bump[:, :2].T + bump[:, 2] + 0.5) * FINE - 0.5
            rows, columns = polygon_pixels(points[:, 1], points[:, 0], out.shape)
            out[rows, columns] = number
        self.known[key] = out
        return out

    def coverage(self, plant=None, bump=STILL):
        """(height, width) share of each pixel that tissue covers, of one plant or of all; before blur."""
        own = np.array([0] + [s.plant > 0 if plant is None else s.plant == plant for s in self.shapes], np.float32)
        return _averaged(own, self._laid(bump))

    def light(self, bump=STILL, wet=1.0):
        """(height, width, 3) linear light, blurred a little."""
        board = light_of(BOARD)
        colours = [board] + [light_of(s.colour) * (wet if s.wettable else 1.0) for s in self.shapes]
        out = _averaged(np.asarray(colours, np.float32), self._laid(bump))
        return cv2.GaussianBlur(out, (0, 0), 0.5)

    def photo(self, *, seed=1, bump=STILL, wet=1.0, gain=1.0, balance=(1.0, 1.0, 1.0), shade=None, noise=0.004):
        """The photo: fall-off over the board, noise, sRGB, JPEG of quality 90; `shade` multiplies the light."""
        rng = np.random.default_rng(seed)
        light = self.light(bump, wet) * np.linspace(1.03, 0.95, self.height)[:, None, None]
        if shade is not None:
            light = light * shade[..., None]
        light = light * gain * np.asarray(balance)
        light = light + rng.normal(0, 1, light.shape) * noise * np.sqrt(np.maximum(light, 0.01))
        return jpeg(np.round(encode_srgb(np.clip(light, 0, 1)) * 255).astype(np.uint8))


def _averaged(value, laid):
    """Mean of the values that the fine samples of each pixel have."""
    fine = (np.take(value, laid[row::FINE, column::FINE], axis=0) for row in range(FINE) for column in range(FINE))
    return (sum(fine) / FINE**2).astype(np.float32)


def jpeg(picture, quality=90):
    """The picture after a real JPEG file."""
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(io.BytesIO(file.getvalue())).convert("RGB"))


def bump(shift, turn_deg, size=(640, 480)):
    """(2, 3) matrix from the reference's pixels to those of a photo whose contents moved, turned about the centre."""
    out = cv2.getRotationMatrix2D(((size[0] - 1) / 2, (size[1] - 1) / 2), turn_deg, 1.0)
    out[:, 2] += shift
    return out


def square(left, top, side=SIDE_PX):
    """Corners of an upright mark."""
    return np.array([[left, top], [left + side, top], [left + side, top + side], [left, top + side]])


SOIL_Y = 340.0
CENTRES = (120.0, 290.0, 460.0)


@cache
def bare_shelf(mark=True):
    """Three pots before a board, with the mark to their right."""
    stage = Stage().table(410)
    for x in CENTRES:
        stage.pot(x, SOIL_Y)
    if mark:
        stage.mark(square(543.0, 345.0))
    return stage


def shelf_tray(**view):
    """The tray of `bare_shelf`."""
    plants = tuple(
        Plant(name=name, box_px=(x - 60, 0, x + 60, 430), soil_y_px=SOIL_Y)
        for name, x in zip("ABC", CENTRES, strict=True)
    )
    return Tray(view=View(from_="side", **view), scale=Scale(marker_mm=SIDE_MM), plants=plants)


def seedling(x, height, *, plant=1, colour=GREEN, rise=20.0, reach=30.0, lean=0.0):
    """A function that draws a seedling: a stem of `height` pixels and two seed leaves that rise by `rise` pixels from
    its top to their tips (hang, if negative)."""

    def draw(stage):
        top = SOIL_Y - height
        stage.stem(x, SOIL_Y, top, 4.0, plant=plant, colour=colour, lean=lean)
        for side in (-1, 1):
            stage.leaf((x + lean, top + 1), (x + lean + side * reach, top + 1 - rise), 14.0, plant=plant, colour=colour)

    return draw
