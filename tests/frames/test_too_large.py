"""Pictures and files that no camera made are refused by their size, before anything of them is decoded."""

import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import simplejpeg
from PIL import Image

from sproutlapse.frames import decode
from sproutlapse.frames.decode import MOST_BYTES, MOST_MEGAPIXELS, Damaged, read_bytes, size_of

SMALL = Image.new("RGB", (64, 64), (90, 120, 60))


def saved(tmp_path: Path, kind: str, picture: Image.Image = SMALL, **options: object) -> bytearray:
    path = tmp_path / f"small.{kind}"
    picture.save(path, **options)
    return bytearray(path.read_bytes())


def jpeg_of(tmp_path: Path, side: int) -> bytes:
    data = saved(tmp_path, "jpg")
    frame = data.index(b"\xff\xc0")  # SOF0 (ITU-T T.81, B.2.2): length, bits, height, width
    data[frame + 5 : frame + 9] = struct.pack(">HH", side, side)
    return bytes(data)


def png_of(tmp_path: Path, side: int) -> bytes:
    data = saved(tmp_path, "png")
    data[16:24] = struct.pack(">II", side, side)
    data[29:33] = struct.pack(">I", zlib.crc32(data[12:29]))
    return bytes(data)


def tiff_with(tmp_path: Path, changed: dict[int, tuple[int, int | None]]) -> bytes:
    """A small TIFF in which tags are others, with their old values or, as LONG, with new ones."""
    data = saved(tmp_path, "tif")
    start = struct.unpack("<I", data[4:8])[0]
    for k in range(struct.unpack("<H", data[start : start + 2])[0]):
        entry = start + 2 + 12 * k
        tag, value = changed.get(struct.unpack("<H", data[entry : entry + 2])[0], (0, None))
        data[entry : entry + 2] = struct.pack("<H", tag) if tag else data[entry : entry + 2]
        if value is not None:
            data[entry + 2 : entry + 12] = struct.pack("<HII", 4, 1, value)
    return bytes(data)


def tiff_of(tmp_path: Path, side: int) -> bytes:
    return tiff_with(tmp_path, {256: (256, side), 257: (257, side)})  # ImageWidth, ImageLength


def webp_of(tmp_path: Path, side: int) -> bytes:
    data = saved(tmp_path, "webp", lossless=True)
    head = data.index(b"VP8L") + 9  # RFC 9649, 3.4: 14 bits each of width - 1 and height - 1
    bits = struct.unpack("<I", data[head : head + 4])[0] & ~0xFFFFFFF
    data[head : head + 4] = struct.pack("<I", bits | (side - 1) | (side - 1) << 14)
    return bytes(data)


@pytest.mark.parametrize(("make", "side", "told"), [
    (jpeg_of, 30_000, "900"), (png_of, 30_000, "900"), (tiff_of, 30_000, "900"), (webp_of, 16_384, "268"),
])  # fmt: skip
def test_a_bomb_is_refused_by_the_size_in_its_header(tmp_path: Path, make, side: int, told: str):
    data = make(tmp_path, side)
    for look in (decode.decode, size_of) if make is not jpeg_of else (decode.decode,):
        with pytest.raises(Damaged, match=rf"too large: {side} x {side} are {told} megapixels; at most"):
            look(data, "IMG_1.JPG")


def test_a_tile_larger_than_its_picture_is_refused(tmp_path: Path):
    # Strips become tiles (TIFF 6.0, section 15): TileWidth, TileLength, TileOffsets, TileByteCounts.
    tiles = {278: (322, 32_768), 284: (323, 32_768), 273: (324, None), 279: (325, None)}
    with pytest.raises(Damaged, match="32768 x 32768"):
        decode.decode(tiff_with(tmp_path, tiles), "tiles.tif")


def test_the_largest_cameras_fit_below_the_limit(recwarn: pytest.WarningsRecorder):
    assert MOST_MEGAPIXELS * 1e6 > 16_320 * 12_240
    data = simplejpeg.encode_jpeg(np.full((8_736, 11_648, 1), 128, np.uint8), colorspace="GRAY")
    assert decode.decode(data, "IMG_1.JPG", shrink=8).shape == (1_092, 1_456, 3)
    assert size_of(data, "IMG_1.JPG") == (11_648, 8_736)
    assert not recwarn.list


def test_a_file_larger_than_any_photo_is_not_read(tmp_path: Path):
    path = tmp_path / "IMG_1.JPG"
    with path.open("wb") as file:
        file.truncate(MOST_BYTES + 1)  # no room is taken on most disks
    with pytest.raises(Damaged, match=r"too large: a file of 1\.5 GB"):
        read_bytes(path)


def test_what_is_no_photo_is_not_handed_to_readers_of_other_things():
    """Of Pillow's readers this one would start a program."""
    with pytest.raises(Damaged, match="not a picture"):
        decode.decode(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\nshowpage\n", "IMG_1.PNG")
