"""A camera set up anew: the film lays every photo on the first view's pixels, and so do its millimetres."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sproutlapse.film.marks import scales
from sproutlapse.film.told import courses, mm_per_px
from sproutlapse.job import open_results
from sproutlapse.job_film import told_of
from sproutlapse.work.store import Store


def test_the_films_millimetres_are_those_of_the_first_view(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    whole = open_results(out)
    # From the third measured photo on a camera that stands farther away: fewer pixels for the same millimetres.
    table = whole.measurements.copy()
    later = table["elapsed_h"] > table["elapsed_h"].drop_duplicates().iloc[2]
    table.loc[later, "height_px"] *= 0.7
    told = told_of(replace(whole, measurements=table))
    with Store(out) as store:
        first = dict(zip([plant.name for plant in whole.tray.plants], store.about("mm_per_px"), strict=True))
    marks = {scale.course.plant: scale.mm_per_px for scale in scales(told, courses(told))}
    assert marks == pytest.approx(first)
    for plant, mm in first.items():
        assert mm_per_px(told, plant) == pytest.approx(mm)
    assert mm_per_px(told) == pytest.approx(float(np.median(list(first.values()))))
