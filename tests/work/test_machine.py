"""Which machines find the same bytes, and what is kept of those that do not."""

import platform
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
import PIL

from sproutlapse import __version__
from sproutlapse.work.machine import LIBRARIES, this_machine
from sproutlapse.work.origin import keep_origin, origin_in_words
from sproutlapse.work.store import Store


def test_a_machine_tells_all_that_a_measurement_passes_through():
    here = this_machine()
    told = dict(here.versions)
    assert here.tool.startswith(f"{__version__} (")
    assert told["Python"] == platform.python_version()
    assert told["numpy"] == np.__version__
    assert set(told) == {"Python", *LIBRARIES}
    assert told["pillow"] == PIL.__version__
    for extra, module in (("pillow-heif", "pillow_heif"), ("rawpy", "rawpy")):
        assert (told.pop(extra) == "none") == (find_spec(module) is None)
    assert "none" not in told.values()
    assert here.processor == cv2.getCPUFeaturesLine()


def test_like_machines_need_no_word_and_others_are_told_apart():
    here = this_machine()
    older = replace(here, versions=tuple((name, "1.0" if name == "scipy" else v) for name, v in here.versions))
    assert here.unlike(here) == ""
    assert older.unlike(here) == f"scipy 1.0 and not {dict(here.versions)['scipy']}"
    assert "vector instructions" in replace(here, processor="SSE2").unlike(here)


def test_what_other_machines_found_is_said_as_long_as_it_is_kept(tmp_path: Path):
    with Store(tmp_path) as store:
        keep_origin(store, "first", ())
        assert store.about("unlike") is None
        keep_origin(store, "first", ["scipy 1.0 and not 1.1"])
        keep_origin(store, "first", ["numpy 2.0 and not 2.1"])
        keep_origin(store, "second", ["Python 3.11 and not 3.12"])
    with Store(tmp_path) as store:
        (words,) = origin_in_words(store, "first", "third")
        assert "numpy 2.0 and not 2.1; scipy 1.0 and not 1.1" in words
        assert "3.12" not in words
        assert origin_in_words(store, "second") == []
