"""Green in many small pieces is to be looked at; a seedling is one piece or few."""

import numpy as np
import pytest
from seedling_tables import every, plant_rows, tray_of

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge

H = every(7, 12)


def told(pieces, share, **parts):
    rows = plant_rows("r1c2", H, np.where(H >= 14, 1.0, 0.0), canopy=30.0).assign(
        height_mm=np.nan, patches=np.where(H >= 35, float(pieces), 1.0), patch_share=np.where(H >= 35, share, 1.0)
    )
    tray = tray_of("r1c2", view={"from": "above"}, **parts)
    return [c for c in care_list(rows, judge(rows, tray), tray) if c.key.startswith("scattered")]


def test_a_cell_of_scattered_green_is_to_be_looked_at_and_nothing_is_claimed():
    (item,) = told(7, 0.4)
    assert item.plants == ("r1c2",)
    assert "a photo cannot tell" in item.reason
    assert item.urgency == "this week"


@pytest.mark.parametrize(("pieces", "share"), [(1, 1.0), (3, 0.5), (6, 0.95)])
def test_a_seedling_in_few_pieces_or_mostly_in_one_is_left_alone(pieces, share):
    assert told(pieces, share) == []


def test_where_several_seeds_were_sown_several_pieces_are_seedlings():
    sowing = [{"name": "s", "seeds_per_cell": 4}]
    assert told(7, 0.4, each={"sowing": "s"}, sowing=sowing) == []
