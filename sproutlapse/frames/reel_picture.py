"""One frame of a film as the bytes of a picture: what the decoder gives goes in, an upright binary PPM comes out.

PPM (P6) is the pixels themselves behind one line of text, so nothing is lost and nothing has to be packed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

# ruff: noqa: PLC0415 - av is loaded when there is a film, and photos need none of it

Rgb = NDArray[np.uint8]

# ITU-T H.273 (ISO/IEC 23091-2), table 4: code points of the matrix by which colours were made luma and chroma.
_UNSPECIFIED = 2
_BT709, _BT601 = 1, 5
# The values are those by which the library names them; 5 and 6 are the same matrix.
_MATRICES = {1: 1, 4: 4, 5: 5, 6: 5, 7: 7, 9: 9, 10: 9}
# Where the film does not say: high definition (ITU-R BT.709) has 720 lines and more, below it is ITU-R BT.601.
_HD_LINES = 720
# H.273, 8.3: whether black and white are 16 and 235 (as H.264, E.2.1, takes it where nothing is said) or 0 and 255.
_LIMITED, _FULL = 1, 2

# How colours are worked out (SwsFlags of libswscale: bilinear, full_chr_h_int, full_chr_h_inp, accurate_rnd, bitexact):
# rounded rightly, led over from sample to sample as in a JPEG, and the same on every processor. The library's usual way
# is fifteen times as fast, but darker by one of 255 and off by up to 30 along edges.
LIKE_JPEG = 1 << 1 | 1 << 13 | 1 << 14 | 1 << 18 | 1 << 19
# Display matrices by quarter turns anticlockwise.
_QUARTERS = ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0))


def upright(frame: VideoFrame, pixel_shape: float = 1.0) -> Rgb:
    """A frame's colours.

    Parameters
    ----------
    frame
        As the decoder gave it.
    pixel_shape
        Width over height of one pixel as it is stored; pixels come out square.

    Returns
    -------
    (height, width, 3) array of RGB values 0..255, turned as the container says.
    """
    full_jpeg = frame.format.name.startswith("yuvj")
    space = _MATRICES.get(frame.colorspace)
    if space is None:
        # Motion JPEG is made as JFIF says, by BT.601 whatever the size.
        space = _BT709 if frame.height >= _HD_LINES and not full_jpeg else _BT601
    given = frame.color_range
    rgb = frame.reformat(
        format="rgb24",
        width=max(round(frame.width * pixel_shape), 1),
        height=frame.height,
        src_colorspace=space,
        src_color_range=given if given in {_LIMITED, _FULL} else (_FULL if full_jpeg else _LIMITED),
        dst_color_range=_FULL,
        interpolation=LIKE_JPEG,
        threads=1,
    ).to_ndarray()
    return turned(np.asarray(rgb, dtype=np.uint8), _matrix(frame))


def _matrix(frame: VideoFrame) -> tuple[int, int, int, int]:
    """The four numbers of the container's display matrix that turn and mirror; (1, 0, 0, 1) where there is none."""
    from av.sidedata.sidedata import Type

    try:
        beside: Any = frame.side_data
    except ValueError:  # raised where a frame carries a kind of remark that the library does not know, such as EXIF
        return _QUARTERS[round(frame.rotation / 90) % 4]
    data = beside.get(Type.DISPLAYMATRIX)
    if data is None or data.buffer_size < 36:
        return 1, 0, 0, 1
    a, b, _u, c, d = np.frombuffer(bytes(data), dtype="<i4", count=5).tolist()
    return a, b, c, d


def is_turned(frame: VideoFrame) -> bool:
    """Whether the container says that frames are to be turned or mirrored."""
    a, b, c, d = _matrix(frame)
    return a <= 0 or d <= 0 or abs(a) < abs(b) or abs(d) < abs(c)


def turned(rgb: Rgb, matrix: tuple[int, int, int, int]) -> Rgb:
    """A picture turned by quarter turns, and mirrored, as a display matrix (ISO 14496-12, 6.2.2) says.

    Parameters
    ----------
    rgb
        (height, width, 3) picture.
    matrix
        a, b, c, d: a pixel at (x, y) is shown at (a x + c y, b x + d y), but for a shift and a factor.
    """
    a, b, c, d = matrix
    if abs(b) > abs(a):  # rows become columns
        rgb, a, d = rgb.transpose(1, 0, 2), c, b
    if a < 0:
        rgb = rgb[:, ::-1]
    if d < 0:
        rgb = rgb[::-1]
    return np.ascontiguousarray(rgb)


def ppm(rgb: Rgb) -> bytes:
    """The picture as binary PPM (netpbm, format P6)."""
    height, width = rgb.shape[:2]
    return b"P6\n%d %d\n255\n" % (width, height) + rgb.tobytes()
