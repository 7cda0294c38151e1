"""The recipe that plants faults into good photos, as `scripts/first_photos.py` holds it."""

import importlib.util
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PHOTOS = ROOT / "fixtures" / "shelf" / "photos"

_spec = importlib.util.spec_from_file_location("first_photos", ROOT / "scripts" / "first_photos.py")
assert _spec is not None and _spec.loader is not None
recipe = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(recipe)
