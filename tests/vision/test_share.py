"""Tissue goes to the plant at whose foot it is rooted; loose crumbs to a near one, and to nobody beyond reach."""

import numpy as np

from sproutlapse.vision.share import flood, share_out

REACH = 8.0


def empty():
    return np.zeros((100, 200), bool), np.zeros((100, 200), np.uint8)


def plant(mask, feet, x, k, leaf_to):
    """A stem at column x with a leaf at its top that reaches to another column."""
    mask[20:100, x - 2 : x + 3] = True
    mask[20:30, min(x, leaf_to) : max(x, leaf_to) + 1] = True
    feet[90:100, x - 2 : x + 3] = k


def test_neighbours_that_do_not_touch_keep_their_own():
    mask, feet = empty()
    plant(mask, feet, 40, 1, 80)
    plant(mask, feet, 150, 2, 100)
    labels = share_out(mask, feet, REACH)
    assert (labels[mask] > 0).all() and not labels[~mask].any()
    assert (labels[:, :90][mask[:, :90]] == 1).all() and (labels[:, 90:][mask[:, 90:]] == 2).all()


def test_neighbours_that_touch_are_shared_out_by_the_way_from_their_feet():
    mask, feet = empty()
    plant(mask, feet, 40, 1, 95)
    plant(mask, feet, 150, 2, 95)
    labels = share_out(mask, feet, REACH)
    assert set(np.unique(labels[:, 35:45][mask[:, 35:45]])) == {1}
    assert set(np.unique(labels[:, 145:155][mask[:, 145:155]])) == {2}
    border = int(np.argmax(labels[25] == 2))
    assert abs(border - 95) <= 3


def test_a_leaf_over_the_neighbours_pot_stays_its_own():
    mask, feet = empty()
    plant(mask, feet, 40, 1, 170)
    mask[60:100, 148:153] = True
    feet[90:100, 148:153] = 2
    labels = share_out(mask, feet, REACH)
    assert (labels[20:30, 40:171] == 1).all() and (labels[60:, 148:153] == 2).all()


def test_a_loose_crumb_within_reach_is_adopted_and_one_beyond_is_none():
    mask, feet = empty()
    plant(mask, feet, 40, 1, 60)
    mask[20:26, 66:72] = True
    mask[20:26, 90:96] = True
    labels = share_out(mask, feet, REACH)
    assert (labels[20:26, 66:72] == 1).all()
    assert not labels[20:26, 90:96].any()


def test_a_leaf_broken_into_a_chain_of_crumbs_holds_together():
    mask, feet = empty()
    plant(mask, feet, 40, 1, 60)
    for left in (66, 78, 90):
        mask[20:26, left : left + 6] = True
    assert (share_out(mask, feet, REACH)[20:26, 90:96] == 1).all()


def test_crumbs_on_the_soil_beside_a_plant_are_not_its_own():
    mask, feet = empty()
    plant(mask, feet, 40, 1, 80)
    mask[94:97, 60:64] = True
    feet[94:97, 60:64] = 1
    assert not share_out(mask, feet, 3.0)[94:97, 60:64].any()


def test_no_tissue_is_no_plant():
    mask, feet = empty()
    assert not share_out(mask, feet, REACH).any()


def test_flood_stays_on_the_tissue():
    mask, seeds = empty()
    mask[10:20, 10:50] = mask[40:50, 10:50] = True
    seeds[12, 12] = 3
    found = flood(mask, seeds)
    assert (found[10:20, 10:50] == 3).all() and found.astype(bool).sum() == 400
