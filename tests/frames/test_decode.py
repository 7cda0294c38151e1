"""A file's bytes become an upright RGB picture, or a plain reason why not."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from sproutlapse.errors import PhotosError
from sproutlapse.frames.decode import Damaged, NeedsExtra, decode, read_bytes, size_of

WIDTH, HEIGHT = 96, 64


def scene() -> NDArray[np.uint8]:
    """Left red, right blue, dark below: every turn of it looks different."""
    rgb = np.zeros((HEIGHT, WIDTH, 3), np.uint8)
    rgb[:, : WIDTH // 2] = (200, 40, 40)
    rgb[:, WIDTH // 2 :] = (40, 40, 200)
    rgb[HEIGHT // 2 :] //= 2
    return rgb


def busy() -> NDArray[np.uint8]:
    return np.random.default_rng(1).integers(0, 255, (240, 320, 3), dtype=np.uint8)


def stored(rgb: NDArray[np.uint8], kind: str = "JPEG", **options: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, kind, **options)
    return out.getvalue()


def near(a: NDArray[np.uint8], b: NDArray[np.uint8], by: float = 6.0) -> bool:
    return a.shape == b.shape and float(np.abs(a.astype(float) - b).mean()) < by


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("JPEG", {"quality": 95, "subsampling": 0}),
        ("JPEG", {"quality": 95, "progressive": True}),
        ("PNG", {}),
        ("TIFF", {}),
        ("WEBP", {"lossless": True}),
    ],
)
def test_each_format_gives_the_same_picture(kind: str, options: dict[str, object]) -> None:
    data = stored(scene(), kind, **options)
    assert near(decode(data, "a.bin"), scene())
    assert size_of(data, "a.bin") == (WIDTH, HEIGHT)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_camera_gives_an_upright_picture(kind: str, orientation: int) -> None:
    # What has to be done to the upright picture so that this orientation undoes it (Exif 2.32, 4.6.4).
    ways = {
        1: lambda a: a,
        2: lambda a: a[:, ::-1],
        3: lambda a: a[::-1, ::-1],
        4: lambda a: a[::-1],
        5: lambda a: a.transpose(1, 0, 2),
        6: lambda a: np.rot90(a, 1),
        7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
        8: lambda a: np.rot90(a, -1),
    }
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = stored(np.ascontiguousarray(ways[orientation](scene())), kind, exif=exif.tobytes())
    assert near(decode(data, "a.bin"), scene())
    assert size_of(data, "a.bin") == (WIDTH, HEIGHT)


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
@pytest.mark.parametrize("shrink", [2, 4, 8])
def test_a_smaller_copy_has_rounded_up_sides(kind: str, shrink: int) -> None:
    data = stored(np.ascontiguousarray(scene()[:61, :93]), kind)
    small = decode(data, "a.bin", shrink=shrink)
    assert small.shape == (-(-61 // shrink), -(-93 // shrink), 3)
    assert abs(float(small.mean()) - float(scene()[:61, :93].mean())) < 4


@pytest.mark.parametrize("share", [0.3, 0.55, 0.95, 0.999])
@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("end", [b"", b"\xff\xd9"])
def test_a_jpeg_cut_short_is_damaged_even_with_an_end_mark(share: float, progressive: bool, end: bytes) -> None:
    data = stored(busy(), quality=90, progressive=progressive)
    with pytest.raises(Damaged, match="cut short"):
        decode(data[: int(len(data) * share)] + end, "a.jpg")


def test_bytes_after_the_end_of_a_jpeg_do_no_harm() -> None:
    data = stored(busy())
    for tail in (bytes(4096), b"ftypmp42" * 50, data[:500]):
        assert np.array_equal(decode(data + tail, "a.jpg"), decode(data, "a.jpg"))


def test_padding_before_the_end_mark_does_no_harm() -> None:
    data = stored(busy())
    assert np.array_equal(decode(data[:-2] + bytes(64) + data[-2:], "a.jpg"), decode(data, "a.jpg"))


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP"])
def test_other_formats_cut_short_are_damaged(kind: str) -> None:
    data = stored(busy(), kind)
    with pytest.raises(Damaged):
        decode(data[: len(data) // 2], "a.bin")


@pytest.mark.parametrize("data", [b"", b"hello", bytes(1000), b"\xff\xd8\xff\xe0"])
def test_what_is_no_picture_is_damaged(data: bytes) -> None:
    with pytest.raises(Damaged):
        decode(data, "IMG_0001.JPG")
    with pytest.raises(Damaged):
        size_of(data, "IMG_0001.JPG")


def test_grey_and_printers_colours_become_rgb() -> None:
    grey = decode(stored(scene()[..., 0]), "a.jpg")
    assert near(grey, np.repeat(scene()[..., :1], 3, axis=2))
    out = io.BytesIO()
    Image.fromarray(scene()).convert("CMYK").save(out, "JPEG", quality=95)
    assert near(decode(out.getvalue(), "a.jpg"), scene(), by=12)


def test_sixteen_bits_palette_and_see_through_parts() -> None:
    deep = np.full((20, 30), 128 * 257, np.uint16)
    assert int(decode(stored(deep, "PNG"), "a.png")[0, 0, 0]) == 128
    out = io.BytesIO()
    Image.fromarray(scene()).convert("P", palette=Image.Palette.ADAPTIVE).save(out, "PNG")
    assert near(decode(out.getvalue(), "a.png"), scene())
    clear = np.zeros((20, 30, 4), np.uint8)
    assert decode(stored(clear, "PNG"), "a.png").min() == 255


def test_the_first_page_of_several_counts() -> None:
    out = io.BytesIO()
    Image.fromarray(scene()).save(out, "TIFF", save_all=True, append_images=[Image.new("RGB", (8, 8))])
    assert near(decode(out.getvalue(), "a.tif"), scene())


def test_a_wrong_ending_does_not_matter() -> None:
    assert near(decode(stored(scene(), "PNG"), "IMG_0001.JPG"), scene())


@pytest.mark.parametrize(("name", "module", "extra"), [("a.heic", "pillow_heif", "heic"), ("a.nef", "rawpy", "raw")])
def test_a_missing_library_is_named(name: str, module: str, extra: str) -> None:
    if importlib.util.find_spec(module):
        pytest.skip("the library is here")
    with pytest.raises(NeedsExtra, match=rf"sproutlapse\[{extra}\]"):
        decode(b"\0\0\0\x18ftypheic" + bytes(64) if extra == "heic" else b"II*\0" + bytes(64), name)


def test_a_file_that_went_away_is_said(tmp_path: Path) -> None:
    with pytest.raises(PhotosError, match="cannot be read"):
        read_bytes(tmp_path / "gone.jpg")
