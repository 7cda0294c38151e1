"""Drawings of pots and trays with places known by construction, for the tests of scouting."""

import cv2
import numpy as np

FINE = 4  # drawn so much larger, then averaged down, as a lens does


def _soil(rng, shape):
    small = rng.normal(0, 1, (shape[0] // 5 + 1, shape[1] // 5 + 1)).astype(np.float32)
    grain = cv2.resize(small, shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.clip(np.array([58, 44, 36], np.float32) * (1 + 0.35 * grain[..., None]), 0, 255).astype(np.uint8)


def _photo(fine, rng):
    small = cv2.resize(fine, None, fx=1 / FINE, fy=1 / FINE, interpolation=cv2.INTER_AREA)
    noisy = cv2.GaussianBlur(small, (0, 0), 0.7).astype(np.float32) + rng.normal(0, 1.0, small.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def _mark(fine, left, top, side):
    marker = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), 5, side)
    fine[top - side // 3 : top + side + side // 3, left - side // 3 : left + side + side // 3] = 228
    fine[top : top + side, left : left + side] = marker[..., None]


def shelf(centres, *, half=60, rim_y=330, flat=0.1, pot=(25, 25, 27), mark=True, plants=(), label=None, seed=1):
    """A row of pots before a board, rims being ellipses about `rim_y`; in pixels of the (600, 900) picture."""
    rng = np.random.default_rng(seed)
    height, width = 600, 900
    board = np.linspace(205, 180, height)[:, None] * np.linspace(0.97, 1.0, width)[None, :]
    picture = np.repeat(board[..., None], 3, axis=2)
    picture[460:] = np.array([172, 158, 138])
    fine = cv2.resize(picture.astype(np.uint8), None, fx=FINE, fy=FINE, interpolation=cv2.INTER_LINEAR)
    soil = _soil(rng, fine.shape[:2])
    for x in centres:
        draw_pot(fine, soil, (x * FINE, rim_y * FINE), half=half * FINE, flat=flat, colour=pot)
    for x, kind in plants:
        draw_plant(fine, x * FINE, rim_y * FINE, kind)
    if label is not None:
        cv2.rectangle(fine, (label * FINE, 250 * FINE), ((label + 22) * FINE, rim_y * FINE), (236, 236, 232), -1)
    if mark:
        _mark(fine, 30 * FINE, 400 * FINE, 56 * FINE)
    return _photo(fine, rng)


def draw_pot(fine, soil, at, *, half, flat, colour):
    x, y = at
    bow = round(half * flat)
    low = y + round(1.9 * half)
    lip = y + round(0.3 * half)
    cv2.fillPoly(fine, [np.array([(x - half, y), (x + half, y), (x + half, lip), (x - half, lip)])], colour)
    body = [(x - 0.93 * half, lip), (x + 0.93 * half, lip), (x + 0.74 * half, low), (x - 0.74 * half, low)]
    cv2.fillPoly(fine, [np.round(body).astype(int)], [int(0.75 * c) for c in colour])
    cv2.ellipse(fine, (x, low), (round(0.74 * half), bow), 0, 0, 360, [int(0.75 * c) for c in colour], -1)
    cv2.ellipse(fine, (x, y), (half, bow), 0, 0, 360, colour, -1)
    inside = np.zeros(fine.shape[:2], np.uint8)
    cv2.ellipse(inside, (x, y), (round(0.95 * half), round(0.9 * bow)), 0, 0, 360, 1, -1)
    fine[inside > 0] = soil[inside > 0]


def draw_plant(fine, x, y, kind):
    green = (70, 130, 45)
    if kind == "blades":
        for k in (-14, -4, 5, 16):
            cv2.line(fine, (x + k * FINE, y), (x + (k * 3 // 2) * FINE, y - (120 + 2 * k) * FINE), green, 4 * FINE)
        return
    cv2.line(fine, (x, y), (x, y - 110 * FINE), green, 5 * FINE)
    for rise, turn in ((50, 12), (80, -15), (108, 8)):
        for side in (-1, 1):
            at = (x + side * 30 * FINE, y - rise * FINE)
            cv2.ellipse(fine, at, (30 * FINE, 11 * FINE), side * turn, 0, 360, green, -1)


def tray(rows, columns, *, pitch=84.0, left=70.0, top=60.0, turn=0.0, plants=False, colour=(62, 62, 64), floor=198):
    """A cell tray from above on a plain table; the first cell's outer corner is at (left, top)."""
    rng = np.random.default_rng(3)
    width, height = round(left + columns * pitch + 180), round(top + rows * pitch + 90)
    fine = np.full((height * FINE, width * FINE, 3), floor, np.uint8)
    soil = _soil(rng, fine.shape[:2])
    lip = 14
    box = np.array([left - lip, top - lip, left + columns * pitch + lip, top + rows * pitch + lip]) * FINE
    x0, y0, x1, y1 = (round(v) for v in box)
    fine[y0:y1, x0:x1] = colour
    for row in range(rows):
        for column in range(columns):
            ax, ay = (left + column * pitch + 8) * FINE, (top + row * pitch + 8) * FINE
            bx, by = ax + (pitch - 16) * FINE, ay + (pitch - 16) * FINE
            ax, ay, bx, by = round(ax), round(ay), round(bx), round(by)
            fine[ay:by, ax:bx] = soil[ay:by, ax:bx]
            if plants and (row + column) % 3:
                middle = ((ax + bx) // 2, (ay + by) // 2)
                for angle in (20, 110):
                    cv2.ellipse(fine, middle, (round(0.4 * pitch * FINE), 9 * FINE), angle, 0, 360, (70, 140, 50), -1)
    if turn:
        centre = ((fine.shape[1] - 1) / 2, (fine.shape[0] - 1) / 2)
        turning = cv2.getRotationMatrix2D(centre, turn, 1)
        fine = cv2.warpAffine(fine, turning, fine.shape[1::-1], borderMode=cv2.BORDER_REPLICATE)
    return _photo(fine, rng)
