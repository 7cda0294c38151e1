"""Interval, days and room on the card."""

from sproutlapse.first.season import Plan, season


def test_what_was_not_told_is_not_judged():
    assert season(Plan(), 3_000_000) == []


def test_a_card_that_is_too_small_is_told_with_the_days_it_lasts():
    (_interval, card) = season(Plan(every_hours=1, days=60, card_gb=4), 5_000_000)
    assert card.grade == "MEND"
    assert "7.2 GB in all; 4 GB free are too few" in card.says
    assert "after 30 days" in card.fix
    (_interval, card) = season(Plan(every_hours=1, days=60, card_gb=16), 5_000_000)
    assert card.grade == "OK"


def test_photos_far_apart_are_too_few_to_tell_when_a_plant_came_up():
    (line,) = season(Plan(every_hours=12), 1)
    assert line.grade == "MEND"
    (line,) = season(Plan(every_hours=6), 1)
    assert line.grade == "OK"
