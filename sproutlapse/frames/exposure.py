"""How much light a camera needed for a photo, from its exposure time, aperture and sensitivity: EXIF in, APEX out.

The APEX system is in annex C of the Exif standard (CIPA DC-008 / JEITA CP-3451): Av = 2 log2 N, Tv = -log2 t,
Sv = log2 (S / 3.125), and Bv = Av + Tv - Sv. A surface of twice the luminance has a Bv higher by one for the same
value in the picture.
"""

from __future__ import annotations

import io
import math

from PIL import Image

__all__ = ["apex_brightness", "brightness_value"]

EXIF_IFD = 0x8769
# Exif 2.32, tables 7 and 8.
EXPOSURE_TIME, F_NUMBER, SENSITIVITY, CUSTOM_RENDERED = 0x829A, 0x829D, 0x8827, 0xA401
ISO_AT_ZERO = 3.125


def apex_brightness(seconds: float, f_number: float, iso: float) -> float:
    """APEX brightness value Bv of what comes out as middle grey: a pure number, one more for twice the light.

    Parameters
    ----------
    seconds, f_number, iso
        Exposure time in s, f-number and ISO sensitivity, all above 0.
    """
    return 2 * math.log2(f_number) - math.log2(seconds) - math.log2(iso / ISO_AT_ZERO)


def brightness_value(data: bytes) -> float | None:
    """APEX brightness value of a photo's exposure; None where the camera did not write all it takes, or wrote that it
    processed the picture in its own way, as it does when it maps tones by itself.

    Parameters
    ----------
    data
        The file's bytes; pixels are not decoded.
    """
    try:
        with Image.open(io.BytesIO(data)) as picture:
            tags = picture.getexif().get_ifd(EXIF_IFD)
        told = tags[SENSITIVITY]
        iso = told[0] if isinstance(told, tuple) else told
        numbers = [float(value) for value in (tags[EXPOSURE_TIME], tags[F_NUMBER], iso)]
        own_way = int(tags.get(CUSTOM_RENDERED, 0)) != 0
    except Exception:  # a broken or an empty header means only that nothing is known of the exposure
        return None
    if own_way or not all(math.isfinite(v) and v > 0 for v in numbers):
        return None
    return round(apex_brightness(*numbers), 4)
