"""The one decoder of the project: a file's bytes go in, an upright RGB picture comes out, or the reason why not."""

from __future__ import annotations

import io
import re
from pathlib import Path, PurePosixPath
from types import ModuleType
from typing import Any

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from sproutlapse.errors import PhotosError, SproutlapseError
from sproutlapse.frames import reel
from sproutlapse.frames.find import HEIC_ENDINGS, RAW_ENDINGS

Rgb = NDArray[np.uint8]

FILM_FOCAL = 0xA405  # FocalLengthIn35mmFilm (CIPA DC-008); 0 says that it is unknown
ORIENTATION = 0x0112  # Exif 2.32, table 4: tag "Orientation"
# ISO 23008-12, 10.2: brands of still pictures and sequences.
HEIF_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"})
SHRINKS = (1, 2, 4, 8)
# Pictures are measured at the smallest of these sizes that has so many pixels left: a seedling's stem is then four
# pixels wide where the picture shows half a metre. Own choice, from rendered photos of 12 megapixels.
LEAST_MEASURED_PX = 700_000

# No picture beyond this is decoded, for its few bytes could take all memory. The largest that cameras take are 151
# megapixels (medium format) and 200 (telephones, 16,320 x 12,240); 3 bytes a pixel are then 0.63 GB at most.
MOST_MEGAPIXELS = 210
# Nor is a file beyond this read: such a picture with 16 bits a colour and nothing compressed takes 1.26 GB.
MOST_BYTES = 1_500_000_000
# What a file may be, whatever its ending says. Others are kept away from: some of Pillow's readers run programs.
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP", "GIF")
HEIF = "HEIF"  # one more, once its library is there
TILE_SIDES = (322, 323)  # TIFF 6.0, section 15: TileWidth, TileLength

# The limit above holds in place of Pillow's own, which warns of cameras of 100 megapixels.
Image.MAX_IMAGE_PIXELS = None

# libjpeg's warnings that leave every pixel whole; any other one means that a part of the picture is made up.
HARMLESS = ("extraneous bytes before marker 0xd9", "Invalid SOS parameters", "Unknown Adobe color transform")


class Damaged(Exception):  # noqa: N818 - a finding about one file, not a failure of the command
    """One file that cannot be decoded in full; the text is the reason in plain words."""


class NeedsExtra(SproutlapseError):  # noqa: N818 - named for what the person has to do
    """A kind of picture that needs a further library."""

    exit_code = 4


def read_bytes(path: Path) -> bytes:
    """The file's bytes, or those of a film's frame.

    Raises
    ------
    Damaged
        If it is larger than any photo.
    PhotosError
        If it cannot be read, with the remedy.
    """
    path = Path(path)
    frame = reel.frame_of(path)
    if frame is not None:
        return reel.picture(*frame)
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise Damaged(f"too large: a file of {size / 1e9:.1f} GB; at most {MOST_BYTES / 1e9:g} GB are read")
        return path.read_bytes()
    except OSError as err:
        if not path.parent.is_dir():
            raise PhotosError(
                "the folder of this photo is not there any more",
                where=str(path),
                remedy="bring it back (plug in the card, connect the disk), then run again: what is measured is kept",
            ) from err
        raise PhotosError(
            f"the photo cannot be read ({err.strerror or err})",
            where=str(path),
            remedy="check that it is still there and that you may read it, then run again",
        ) from err


def decode(data: bytes, name: str, *, shrink: int = 1) -> Rgb:
    """Decode one photo.

    Parameters
    ----------
    data
        The file's bytes.
    name
        File name; only its ending is used, and only where the bytes do not tell.
    shrink
        1, 2, 4 or 8: sides are that much smaller, rounded up (JPEG by its own scaling, others by area averaging). Each
        pixel stands for a square of the upright picture's, counted from its top left; at the far edges for what is
        left of one.

    Returns
    -------
    (height, width, 3) array of sRGB values 0..255, EXIF orientation honoured.

    Raises
    ------
    Damaged
        Not a picture, or cut short.
    NeedsExtra
        HEIC or camera raw without the library for it.
    """
    if shrink not in SHRINKS:
        raise ValueError(f"shrink is one of {SHRINKS}, got {shrink}")
    if not data:
        raise Damaged("the file is empty")
    if why := reel.lost(data):
        raise Damaged(why)
    if is_jpeg(data):
        orientation = orientation_of(data)
        if shrink > 1 and orientation > 1 and _left_over(data, shrink):
            # The squares that are left over lie at the edges that were the far ones before it was turned.
            return _smaller(_upright(_jpeg(data, 1), orientation), shrink)
        return _upright(_jpeg(data, shrink), orientation)
    if (plain := _plain_size(data)) is not None:
        width, height = plain
        pixels = np.frombuffer(data, np.uint8, offset=len(data) - width * height * 3)
        # Copied, so that the picture may be written to like any other.
        return _smaller(pixels.reshape(height, width, 3).copy(), shrink)
    if is_raw(data, name):
        return _smaller(_raw(data, name), shrink)
    return _smaller(_by_pillow(data, name), shrink)


def to_measure(data: bytes, name: str) -> tuple[Rgb, tuple[int, int]]:
    """A photo as it is measured, large ones at a reduced size, and the (width, height) that it has itself.

    Raises Damaged or NeedsExtra as `decode` does.
    """
    if is_jpeg(data):
        size = size_of(data, name)
        return decode(data, name, shrink=shrink_to_measure(size)), size
    whole = decode(data, name)
    own = whole.shape[1], whole.shape[0]
    return _smaller(whole, shrink_to_measure(own)), own


def shrink_to_measure(size: tuple[int, int]) -> int:
    """How many times smaller a photo of (width, height) is decoded to be measured."""
    return max(s for s in SHRINKS if s == 1 or size[0] * size[1] >= LEAST_MEASURED_PX * s**2)


def size_of(data: bytes, name: str) -> tuple[int, int]:
    """(width, height) in pixels after EXIF orientation, from the header alone where the format allows.

    Raises Damaged or NeedsExtra as `decode` does.
    """
    if not data:
        raise Damaged("the file is empty")
    if why := reel.lost(data):
        raise Damaged(why)
    if (plain := _plain_size(data)) is not None:
        return plain
    if is_raw(data, name):
        height, width = _raw(data, name).shape[:2]
        return width, height
    with _opened(data, name) as picture:
        width, height = picture.size
        kind = picture.format
    on_its_side = orientation_of(data) >= 5
    if on_its_side and kind not in {"JPEG", "PNG", "WEBP"}:
        # Other plug-ins turn the picture themselves, some when opening it and some when loading it.
        height, width = _by_pillow(data, name).shape[:2]
        return width, height
    return (height, width) if on_its_side else (width, height)


def is_jpeg(data: bytes) -> bool:
    """Whether the bytes start as JPEG does, whatever the file's ending says."""
    return data[:3] == b"\xff\xd8\xff"


def is_heic(data: bytes) -> bool:
    """Whether the bytes start as HEIF does (ISO 14496-12 `ftyp` box with one of its brands)."""
    return data[4:8] == b"ftyp" and data[8:12] in HEIF_BRANDS


def is_raw(data: bytes, name: str) -> bool:
    """Whether it is a camera's raw file: by its ending, unless the bytes say another format."""
    return _ending(name) in RAW_ENDINGS and not is_jpeg(data) and not is_heic(data)


def orientation_of(data: bytes) -> int:
    """EXIF orientation 1..8; 1 where nothing readable is said."""
    try:
        with Image.open(io.BytesIO(data)) as picture:
            value: Any = picture.getexif().get(ORIENTATION, 1)
    except Exception:  # a broken header must not lose a picture that decodes
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def film_mm_of(data: bytes) -> float | None:
    """EXIF's focal length as on 36 x 24 mm film, in mm; None where nothing usable is said."""
    try:
        with Image.open(io.BytesIO(data)) as picture:
            value: Any = picture.getexif().get_ifd(ExifTags.IFD.Exif).get(FILM_FOCAL)
    except Exception:  # a broken header must not lose a picture that decodes
        return None
    return float(value) if isinstance(value, int) and value > 0 else None


def _plain_size(data: bytes) -> tuple[int, int] | None:
    """(width, height) of a whole binary PPM, as a film's frames are handed on; None of all else."""
    found = re.match(rb"P6\n([1-9][0-9]*) ([1-9][0-9]*)\n255\n", data[:40])
    if found is None:
        return None
    width, height = int(found[1]), int(found[2])
    _must_be_bounded(width, height)
    return (width, height) if len(data) - found.end() == width * height * 3 else None


def _ending(name: str) -> str:
    return PurePosixPath(name.replace("\\", "/")).suffix.lower()


def _left_over(data: bytes, shrink: int) -> bool:
    """Whether a JPEG's sides are no multiple of what they are made smaller by."""
    try:
        height, width, *_ = simplejpeg.decode_jpeg_header(data, strict=False)
    except (ValueError, KeyError):
        return False  # decoding tells what is wrong
    return bool(height % shrink or width % shrink)


def _jpeg(data: bytes, shrink: int) -> Rgb:
    try:
        height, width, colours, _ = simplejpeg.decode_jpeg_header(data, strict=False)
    except (ValueError, KeyError) as err:  # an unknown colour space comes as a KeyError
        raise Damaged(f"no readable JPEG header ({_plain(err)})") from err
    _must_be_bounded(width, height)
    if colours in {"CMYK", "YCCK"}:
        # Which of the two CMYK polarities holds stands in the Adobe marker, which only Pillow reads.
        return _smaller(_by_pillow(data, "", turn=False), shrink)
    options = {"colorspace": "RGB", "fastdct": False, "fastupsample": False}
    if shrink > 1:
        # Without a least size the library does not scale at all.
        options |= {"min_height": -(-height // shrink), "min_width": -(-width // shrink), "min_factor": 1}
    try:
        rgb = simplejpeg.decode_jpeg(data, strict=True, **options)
    except ValueError as err:
        if not any(text in str(err) for text in HARMLESS):
            raise Damaged(_jpeg_reason(err)) from err
        rgb = simplejpeg.decode_jpeg(data, strict=False, **options)
    return np.asarray(rgb, dtype=np.uint8)


def _jpeg_reason(err: ValueError) -> str:
    if "remature end" in str(err):
        return "the file is cut short or broken, and a part of the picture is missing"
    return f"the picture's data are broken ({_plain(err)})"


def _plain(err: BaseException) -> str:
    return str(err).splitlines()[0].strip().rstrip(".") if str(err) else type(err).__name__


def _opened(data: bytes, name: str) -> Image.Image:
    formats: tuple[str, ...] = FORMATS
    if is_heic(data) or _ending(name) in HEIC_ENDINGS:
        _extra("pillow_heif", "heic", name, "HEIC photos").register_heif_opener()
        formats = (*FORMATS, HEIF)
    try:
        picture = Image.open(io.BytesIO(data), formats=formats)
    except UnidentifiedImageError as err:
        raise Damaged("this is not a picture, whatever its ending says") from err
    except Exception as err:  # Pillow's plug-ins raise many kinds on broken headers
        raise Damaged(f"the picture's header is broken ({_plain(err)})") from err
    _must_be_bounded(*picture.size)
    # A TIFF's tiles may be larger than it, and are decoded whole.
    wide, tall = (getattr(picture, "tag_v2", {}).get(tag) for tag in TILE_SIDES)
    if isinstance(wide, int) and isinstance(tall, int):
        _must_be_bounded(wide, tall)
    return picture


def _must_be_bounded(width: int, height: int) -> None:
    """Stop before a picture is decoded that no camera took; its size is known from its header."""
    if width * height > MOST_MEGAPIXELS * 1_000_000:
        raise Damaged(
            f"too large: {width} x {height} are {width * height / 1e6:,.0f} megapixels; "
            f"at most {MOST_MEGAPIXELS} are decoded"
        )


def _by_pillow(data: bytes, name: str, *, turn: bool = True) -> Rgb:
    with _opened(data, name) as picture:
        try:
            picture.seek(0)
            picture.load()
            # Asked after loading: plug-ins that turned the picture themselves have taken the tag away by now.
            upright = ImageOps.exif_transpose(picture) if turn else picture
            return _as_rgb(upright)
        except Exception as err:  # truncated data come as OSError, SyntaxError, struct.error, EOFError ...
            raise Damaged(f"the file is cut short or broken ({_plain(err)})") from err


def _as_rgb(picture: Image.Image) -> Rgb:
    """8-bit RGB of any mode; see-through parts before white, 16-bit values scaled and not cut off."""
    if picture.mode.startswith("I") or picture.mode == "F":
        grey = np.asarray(picture, dtype=np.float64)
        # Modes I and F carry 16-bit pictures; a picture in them that stays below 256 is an 8-bit one.
        top = 65535.0 if grey.max(initial=0.0) > 255 else 255.0
        return np.repeat((np.clip(grey / top, 0, 1) * 255 + 0.5).astype(np.uint8)[..., None], 3, axis=2)
    if picture.has_transparency_data:
        white = Image.new("RGBA", picture.size, (255, 255, 255, 255))
        picture = Image.alpha_composite(white, picture.convert("RGBA"))
    return np.ascontiguousarray(picture.convert("RGB"))


def _raw(data: bytes, name: str) -> Rgb:
    rawpy = _extra("rawpy", "raw", name, "camera raw files")
    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            _must_be_bounded(raw.sizes.raw_width, raw.sizes.raw_height)
            # The camera's white balance and no automatic brightening, so that frames stay comparable.
            return np.ascontiguousarray(raw.postprocess(use_camera_wb=True, no_auto_bright=True), dtype=np.uint8)
    except Damaged:
        raise
    except Exception as err:  # the library has a dozen kinds of its own
        raise Damaged(f"the raw file is cut short, broken or of an unknown camera ({_plain(err)})") from err


def _extra(module: str, extra: str, name: str, kind: str) -> ModuleType:
    try:
        return __import__(module)
    except ImportError as err:
        raise NeedsExtra(
            f"{kind} need one more library, which is not installed",
            where=name,
            remedy=f'run: pip install "sproutlapse[{extra}]"',
        ) from err


def _smaller(rgb: Rgb, shrink: int) -> Rgb:
    if shrink == 1:
        return rgb
    height, width = rgb.shape[:2]
    size = (-(-width // shrink), -(-height // shrink))
    right, below = size[0] * shrink - width, size[1] * shrink - height
    if right or below:  # else all pixels would stand for a little less than they should
        rgb = np.asarray(cv2.copyMakeBorder(rgb, 0, below, 0, right, cv2.BORDER_REPLICATE), dtype=np.uint8)
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _upright(rgb: Rgb, orientation: int) -> Rgb:
    """Undo EXIF orientation 2..8 (Exif 2.32, 4.6.4: where row 0 and column 0 lie)."""
    if orientation in {5, 6, 7, 8}:
        rgb = rgb.transpose(1, 0, 2)
    if orientation in {2, 3, 6, 7}:
        rgb = rgb[:, ::-1]
    if orientation in {3, 4, 7, 8}:
        rgb = rgb[::-1]
    return np.ascontiguousarray(rgb)
