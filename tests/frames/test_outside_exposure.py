"""Exposure arithmetic against the APEX tables of the Exif standard (CIPA DC-008 / JEITA CP-3451, annex C)."""

import io

import pytest
from PIL import Image

from sproutlapse.frames.exposure import apex_brightness, brightness_value


# Annex C: Av of f/1, f/1.4, f/2 ... is 0, 1, 2 ...; Tv of 1, 1/2, 1/4 ... s is 0, 1, 2 ...; Sv of ISO 3.125, 100, 200
# is 0, 5, 6.
@pytest.mark.parametrize(
    ("seconds", "f_number", "iso", "value"),
    [
        (1, 1, 3.125, 0),
        (1, 2**0.5, 3.125, 1),
        (1, 2, 3.125, 2),
        (1 / 4, 1, 3.125, 2),
        (1, 1, 100, -5),
        (1 / 128, 8, 200, 7),
    ],
)
def test_brightness_value_is_aperture_and_time_less_sensitivity(seconds, f_number, iso, value):
    assert apex_brightness(seconds, f_number, iso) == pytest.approx(value, abs=1e-9)


def photo(**tags):
    exif = Image.Exif()
    own = exif.get_ifd(0x8769)
    numbers = {"time": 0x829A, "f": 0x829D, "iso": 0x8827, "rendered": 0xA401}
    own.update({numbers[name]: value for name, value in tags.items()})
    out = io.BytesIO()
    Image.new("RGB", (32, 32), (200, 200, 200)).save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_the_exposure_is_read_from_a_photo():
    assert brightness_value(photo(time=1 / 64, f=4.0, iso=100)) == pytest.approx(5.0, abs=0.01)


def test_without_an_exposure_or_with_the_cameras_own_tones_there_is_no_number():
    assert brightness_value(photo(time=1 / 64, f=4.0)) is None
    assert brightness_value(photo(time=0.0, f=4.0, iso=100)) is None
    assert brightness_value(photo(time=1 / 64, f=4.0, iso=100, rendered=1)) is None
    assert brightness_value(b"no picture") is None
