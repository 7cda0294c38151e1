"""Seedlings that grow in numbers alone: their shape over time, and what a camera from the side would see of it.

The growth laws and parameters are those of the rendered scenes with truth: a stem that lengthens by a logistic curve, a
hook that opens, seed leaves, true leaves one after another, all of which fold and lift with the hour. Nothing here
knows how the tool judges. Lengths in mm, angles in radians, hours since the first photo.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FINE_MM, COARSE_MM = 0.35, 0.9  # of the raster in which a silhouette is counted, for small leaves and for large ones
SMALL_LEAF_MM = 17.0
STEM_POINTS = 80


@dataclass(frozen=True)
class Kind:
    """The parameters of one kind of seedling.

    `hyp_*` is the stem below the seed leaves (length, age at half of it, width of the logistic), `cot_*` the seed
    leaves, the rest the true leaves. `late_*` is a second lengthening of the same stem.
    """

    hyp_len: float = 16.0
    hyp_mid: float = 34.0
    hyp_s: float = 12.0
    late_len: float = 0.0
    late_mid: float = 200.0
    late_s: float = 20.0
    stem_d: float = 2.0
    cot_len: float = 15.0
    cot_wid: float = 8.5
    cot_petiole: float = 3.0
    cot_open: float = 1.45
    n_leaves: int = 7
    leaf_start: float = 80.0
    plastochron: float = 40.0
    leaf_grow: float = 58.0
    leaf_len: float = 40.0
    leaf_wid: float = 25.0
    petiole: float = 10.0
    internode: float = 7.5
    leaf_open: float = 0.98
    curl: float = 0.6
    lean: float = 0.08
    circadian: float = 0.16

    def varied(self, rng: np.random.Generator, share: float) -> Kind:
        """Each length, time and angle times its own normal factor of so much spread, within two and a half of it."""
        keep = {"n_leaves", "late_len", "late_mid", "late_s"}
        names = [n for n in self.__dataclass_fields__ if n not in keep]
        factors = 1 + share * np.clip(rng.normal(0, 1, len(names)), -2.5, 2.5)
        return replace(self, **{n: float(getattr(self, n) * f) for n, f in zip(names, factors, strict=True)})


STURDY = Kind()
LEGGY = Kind(
    hyp_len=53.0, hyp_mid=40.0, hyp_s=15.0, stem_d=1.25, cot_len=11.0, cot_wid=5.6, n_leaves=5, leaf_start=115.0,
    plastochron=52.0, leaf_grow=62.0, leaf_len=20.0, leaf_wid=10.0, petiole=6.0, internode=7.0, leaf_open=1.15,
    lean=0.13,
)  # fmt: skip
# Fit seed leaves, and then too little light: the leaves that follow are those of a leggy plant.
LATE = replace(LEGGY, hyp_len=16.0, hyp_mid=34.0, hyp_s=12.0, cot_len=15.0, cot_wid=8.5, stem_d=1.7, lean=0.1)
# Kinds with a long stem by nature: none of them is to be called leggy.
LONG_STEMMED = replace(STURDY, hyp_len=62.0, hyp_mid=44.0, hyp_s=16.0, cot_len=24.0, cot_wid=13.0, stem_d=2.8)
CLIMBING = replace(
    LEGGY, hyp_len=40.0, n_leaves=7, internode=34.0, leaf_start=70.0, plastochron=34.0, leaf_len=24.0, leaf_wid=14.0
)
FEATHERY = replace(
    LEGGY, hyp_len=34.0, cot_len=22.0, cot_wid=1.6, leaf_len=44.0, leaf_wid=2.6, n_leaves=5, leaf_open=0.5
)


@dataclass(frozen=True)
class Sight:
    """What is true of a seedling at n moments: height, bare stem, one-sided leaf area, and what is seen from the side.

    `leaf_seen` is the silhouette without the bare stem, `canopy` with it, both in mm2.
    """

    height: Floats
    stem: Floats
    leaf_area: Floats
    leaf_seen: Floats
    canopy: Floats
    width: Floats


def sig(a: Floats, mid: float, width: float) -> Floats:
    return 1.0 / (1.0 + np.exp(-np.clip((a - mid) / width, -60, 60)))


def smooth(x: Floats) -> Floats:
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


def _unit(v: Floats) -> Floats:
    return np.asarray(v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12))


class Seedling:
    """One seedling: a kind, the hour at which it comes up, and what chance gave its leaves."""

    def __init__(self, kind: Kind, emerges_h: float, seed: int) -> None:
        self.kind, self.emerges_h = kind, emerges_h
        rng = np.random.default_rng(seed)
        self.az = rng.uniform(-0.5, 0.5)
        self.hook_az = float(rng.choice([0, np.pi])) + rng.normal(0, 0.4)
        self.bend = rng.normal(0, 1, 4)
        self.jit = rng.normal(0, 1, (24, 6))

    def stem_length(self, a: Floats) -> Floats:
        """(n,) length of the stem below the seed leaves at ages `a` in hours."""
        k = self.kind
        g0 = float(sig(np.zeros(1), k.hyp_mid, k.hyp_s)[0])
        first = 1.0 + (k.hyp_len - 1.0) * (sig(a, k.hyp_mid, k.hyp_s) - g0) / (1 - g0)
        return np.asarray(first + np.minimum(a, 0) * 0.4 + k.late_len * sig(a, k.late_mid, k.late_s) * (a > 0))

    def _internodes(self, a: Floats) -> Floats:
        """(leaves, n) length of the stem between each true leaf and what is below it."""
        k = self.kind
        born = k.leaf_start + k.plastochron * np.arange(k.n_leaves)
        grown = np.stack([sig(a - b, k.leaf_grow * 0.8, k.leaf_grow * 0.28) for b in born])
        return np.asarray(k.internode * grown * (1 + 0.12 * self.jit[: k.n_leaves, 4, None]))

    def path(self, a: Floats) -> tuple[Floats, Floats, Floats]:
        """The stem at ages a: (n, p) arc length from the soil, (n, p, 3) points and (n, p, 3) directions."""
        k = self.kind
        hook = (1 - smooth((a - 8) / 26)) * 2.9
        hook_len = 8.5
        total = self.stem_length(a) + hook_len * hook / 2.9 + self._internodes(a).sum(axis=0)
        total = np.maximum(total, 0.05)
        s = np.linspace(0, 1, STEM_POINTS)[None] * total[:, None]
        rel = np.clip(s / max(k.hyp_len + k.late_len, 15), 0, 4)
        wobble = 0.11
        ang = k.lean * rel + wobble * self.bend[0] * np.sin(1.3 * rel + self.bend[1]) * np.minimum(rel, 1)
        ang = ang + hook[:, None] * smooth((s - (total - hook_len)[:, None]) / hook_len)
        across = 0.6 * wobble * self.bend[2] * np.sin(1.1 * rel + self.bend[3]) * np.minimum(rel, 1)
        az = self.hook_az
        d = _unit(
            np.stack(
                [np.sin(ang) * np.cos(az) - across * np.sin(az), np.sin(ang) * np.sin(az) + across * np.cos(az),
                 np.cos(ang)], axis=-1,
            )
        )  # fmt: skip
        points = np.concatenate(
            [np.zeros((len(a), 1, 3)), np.cumsum(d[:, :-1] * (s[:, 1:, None] - s[:, :-1, None]), 1)], 1
        )
        return s, points, d

    def leaves(self, a: Floats, hour: Floats) -> list[tuple[Floats, ...]]:
        """Each leaf over time, seed leaves first, as `_laid` gives it."""
        k = self.kind
        s, points, d = self.path(a)
        night = np.cos(2 * np.pi * (hour - 2) / 24)
        hook = (1 - smooth((a - 8) / 26)) * 2.9
        nodes = (self.stem_length(a) + 8.5 * hook / 2.9)[None] + np.concatenate(
            [np.zeros((1, len(a))), np.cumsum(self._internodes(a), 0)]
        )
        grown, opened = sig(a, 45, 16), smooth((a - 16) / 44)
        out = []
        for i, sign in enumerate((-1, 1)):
            alpha = 0.06 + (k.cot_open - 0.06) * opened - k.circadian * night * opened + 0.06 * self.jit[i, 0]
            az = self.az + (0 if sign > 0 else np.pi) + 0.08 * self.jit[i, 1]
            at = _at(nodes[0], s, points, d)
            out.append(
                _laid(
                    at, az, alpha, k.cot_petiole * (0.2 + 0.8 * opened),
                    (k.cot_len * (0.38 + 0.62 * grown), k.cot_wid * (0.35 + 0.65 * grown), 0.45 * opened),
                )
            )  # fmt: skip
        for i in range(k.n_leaves):
            age = a - k.leaf_start - k.plastochron * i
            full = (0.72 + 0.16 * min(i, 2)) * (1 + 0.06 * self.jit[i, 3])
            size = np.where(age < -25, 0.0, full * sig(age, k.leaf_grow, k.leaf_grow * 0.32))
            size = np.where(size < 0.045, 0.0, size)
            spread = smooth((age - 0.25 * k.leaf_grow) / (1.6 * k.leaf_grow))
            alpha = 0.15 + (k.leaf_open - 0.15) * spread - k.circadian * night * (0.4 + 0.6 * spread)
            alpha = alpha + 0.07 * self.jit[i, 0]
            az = self.az + 0.5 + 2.25 * i + 0.2 * self.jit[i, 1]
            at = _at(nodes[i + 1], s, points, d)
            curl = k.curl * (0.3 + 0.7 * spread) * (1 + 0.2 * self.jit[i, 5])
            out.append(_laid(at, az, alpha, k.petiole * size, (k.leaf_len * size, k.leaf_wid * size, curl)))
        return out

    def stem_mm(self, a: Floats) -> Floats:
        """(n,) height of the seed leaves' attachment above the soil."""
        s, points, d = self.path(a)
        hook = (1 - smooth((a - 8) / 26)) * 2.9
        foot, _ = _at(self.stem_length(a) + 8.5 * hook / 2.9, s, points, d)
        return np.maximum(foot[:, 2], 0)

    def heights(self, hours: Floats, clock_h: Floats) -> Floats:
        """(n,) true heights alone, 0 before emergence: quick, for many trays."""
        a = hours - self.emerges_h
        up = a > 0
        if not up.any():
            return np.zeros(len(hours))
        top = self.path(a[up])[1][..., 2].max(axis=1)
        for leaf in self.leaves(a[up], clock_h[up]):
            top = np.maximum(top, _blade(leaf, 14, 3)[..., 2].max(axis=(1, 2)))
        out = np.zeros(len(hours))
        out[up] = np.maximum(top, 0)
        return out

    def seen(self, hours: Floats, clock_h: Floats, *, facing: float = 0.0, down: float = 0.06) -> Sight:
        """What is true and what is seen at each hour.

        Parameters
        ----------
        hours, clock_h
            (n,) hours since the first photo, and the hour of the day.
        facing
            How far the plant is turned about its stem.
        down
            By how much the camera looks down.
        """
        count = len(hours)
        a = hours - self.emerges_h
        rows = np.flatnonzero(a > 0)
        zero = np.zeros(count)
        out = Sight(zero, zero.copy(), zero.copy(), zero.copy(), zero.copy(), zero.copy())
        if len(rows) == 0:
            return out
        a, clock_h = a[rows], clock_h[rows]
        stem, leaves = self.path(a)[1], self.leaves(a, clock_h)
        out.stem[rows] = self.stem_mm(a)
        big = np.max([leaf[3] for leaf in leaves], axis=0)
        top = stem[..., 2].max(axis=1)
        for chosen, px in ((big <= SMALL_LEAF_MM, FINE_MM), (big > SMALL_LEAF_MM, COARSE_MM)):
            if not chosen.any():
                continue
            part = [tuple(x[chosen] for x in leaf) for leaf in leaves if leaf[3][chosen].max() > 0]
            blades = [_blade(p, *_points(p, px)) for p in part]
            top[chosen] = np.maximum(top[chosen], np.max([b[..., 2].max(axis=(1, 2)) for b in blades], axis=0))
            out.leaf_area[rows[chosen]] = sum(_areas(b) for b in blades)
            seen, wide = _silhouette([b.reshape(len(b), -1, 3) for b in blades], facing, down, px)
            out.leaf_seen[rows[chosen]], out.width[rows[chosen]] = seen, wide
        out.height[rows] = np.maximum(top, 0)
        out.canopy[rows] = out.leaf_seen[rows] + 0.9 * self.kind.stem_d * out.stem[rows]
        return out


def _at(along: Floats, s: Floats, points: Floats, d: Floats) -> tuple[Floats, Floats]:
    """Points and directions of the stem at arc lengths `along` (n,)."""
    step = s[:, 1]
    x = np.clip(along / np.maximum(step, 1e-9), 0, STEM_POINTS - 1.001)
    i = x.astype(int)
    w = (x - i)[:, None]
    n = np.arange(len(along))
    return points[n, i] * (1 - w) + points[n, i + 1] * w, _unit(d[n, i] * (1 - w) + d[n, i + 1] * w)


def _laid(
    at: tuple[Floats, Floats], az: float, alpha: Floats, petiole: Floats, size: tuple[Floats, Floats, Floats]
) -> tuple[Floats, ...]:
    """A leaf of a length, width and curl at a foot and direction of the stem: its base, direction, upper side,
    length, width and curl, each over time."""
    (foot, tan), (length, width, curl) = at, size
    out = np.array([np.cos(az), np.sin(az), 0.0])
    out = _unit(out - tan * (tan @ out)[:, None])
    d = np.cos(alpha)[:, None] * tan + np.sin(alpha)[:, None] * out
    n = np.sin(alpha)[:, None] * tan - np.cos(alpha)[:, None] * out
    return foot + d * petiole[:, None], d, n, length, width, np.broadcast_to(curl, length.shape)


def _blade(leaf: tuple[Floats, ...], nu: int, nv: int) -> Floats:
    """(n, nu, nv, 3) points of a curled blade."""
    base, d, n, length, width, curl = leaf
    t, v = np.linspace(0, 1, nu), np.linspace(-1, 1, nv)
    shape = np.maximum(np.sin(np.pi * t**0.85), 0) ** 0.65
    ang = -curl[:, None] * t**1.2
    step = length[:, None] / (nu - 1)
    zero = np.zeros((len(length), 1))
    mx = np.concatenate([zero, np.cumsum(np.cos(ang[:, :-1]) * step, 1)], 1)
    mz = np.concatenate([zero, np.cumsum(np.sin(ang[:, :-1]) * step, 1)], 1)
    across = np.cross(n, d)
    off = (width / 2)[:, None, None] * shape[None, :, None] * v
    middle = base[:, None] + mx[..., None] * d[:, None] + mz[..., None] * n[:, None]
    return np.asarray(middle[:, :, None] + off[..., None] * across[:, None, None])


def _points(leaf: tuple[Floats, ...], px: float) -> tuple[int, int]:
    """How many points along and across a blade leave no hole in a raster of this pixel."""
    return int(1.15 * leaf[3].max() / px) + 4, int(1.15 * leaf[4].max() / px) + 4


def _areas(blade: Floats) -> Floats:
    """(n,) one-sided area of a blade."""
    u = blade[:, 1:, 1:] - blade[:, :-1, :-1]
    v = blade[:, :-1, 1:] - blade[:, 1:, :-1]
    return np.asarray(0.5 * np.linalg.norm(np.cross(u, v), axis=-1).sum(axis=(1, 2)))


def _silhouette(parts: list[Floats], facing: float, down: float, px: float) -> tuple[Floats, Floats]:
    """(n,) area and (n,) width of the outline of (n, points, 3) parts, seen from the side."""
    c, s = np.cos(facing), np.sin(facing)
    xs = [p[..., 0] * c - p[..., 1] * s for p in parts]
    zs = [p[..., 2] * np.cos(down) + (p[..., 0] * s + p[..., 1] * c) * np.sin(down) for p in parts]
    left, right = (np.stack([f(x, axis=1) for x in xs]) for f in (np.min, np.max))
    low, high = min(z.min() for z in zs), max(z.max() for z in zs)
    w, h = int((right.max() - left.min()) / px) + 2, int((high - low) / px) + 2
    count = len(parts[0])
    grid = np.zeros(count * h * w, np.bool_)
    start = (np.arange(count) * h * w)[:, None]
    for x, z in zip(xs, zs, strict=True):
        grid[start + ((z - low) / px).astype(np.int64) * w + ((x - left.min()) / px).astype(np.int64)] = True
    return grid.reshape(count, -1).sum(axis=1) * px**2, right.max(axis=0) - left.min(axis=0)
