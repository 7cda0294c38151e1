"""The calendar of sowings on the page: when to expect sprouts, how it stands, what to do."""

from dataclasses import replace
from datetime import date

import pytest

from sproutlapse.report.page import render
from sproutlapse.report.story import story_of
from sproutlapse.report.told_calendar import calendar
from sproutlapse.tray import Season

OUT = date(2026, 5, 15)


@pytest.fixture
def told(make_results):
    """The results of three pots of one sowing sown on 1 March at 9:00, photographed for three days."""

    def make(*, row=None, plant_out=OUT, grown=True, **keys):
        results = make_results(sowings=("s",), grown=grown)
        own = results.tray.sowings[0].model_copy(update=keys)
        tray = results.tray.model_copy(update={"sowings": (own,), "season": Season(plant_out=plant_out)})
        return replace(results, tray=tray, sowings=results.sowings.assign(**(row or {})))

    return make


def test_days_are_dates_with_the_days_beside_them(told):
    (row,) = calendar(told(grown=False, crop="pepper", soil_c=25))
    assert row.sowing == "s"
    assert row.expected == "about 9 Mar (8 days); overdue from 17 Mar"
    assert row.now == "day 3: nothing up yet"
    assert row.to_do == ""


def test_without_a_temperature_it_is_a_span(told):
    (row,) = calendar(told(grown=False, crop="pepper"))
    assert row.expected.startswith("9 Mar to 26 Mar (8 to 25 days)")
    assert "24 °C" in row.to_do


def test_a_cold_soil_is_told_before_anything_is_up_and_not_after(told):
    assert "Set it warmer." in calendar(told(grown=False, crop="pepper", soil_c=15))[0].to_do
    assert calendar(told(crop="pepper", soil_c=15))[0].to_do == ""


def test_yours_go_before_the_table(told):
    (row,) = calendar(told(grown=False, crop="pepper", own_days=(11, 16), own_year=2025))
    assert row.expected.startswith("12 Mar to 17 Mar (yours took 11 to 16 days last year)")


@pytest.mark.parametrize(
    ("by", "words"), [("2026-03-27", "Sow again by 27 Mar to plant out on 15 May."), ("2026-03-02", "Too late")]
)
def test_where_no_more_come_the_last_day_to_sow_again_is_named(told, by, words):
    (row,) = calendar(told(row={"verdict": "coming up", "more_chance": 0.03, "sow_again_by": by}, crop="pepper"))
    assert row.to_do.startswith("More is unlikely. ")
    assert words in row.to_do


def test_what_is_told_from_memory_says_so(told):
    (row,) = calendar(told(grown=False, crop="lobelia"))
    assert row.expected.startswith("15 Mar to 22 Mar (14 to 21 days, from memory)")
    row = {"verdict": "overdue: 0 of 3 pots up", "sow_again_by": "2026-04-03"}
    assert "(weeks to grow from memory)" in calendar(told(grown=False, row=row, crop="chard"))[0].to_do


def test_nothing_up_for_weeks_is_worth_a_second_look(told):
    (row,) = calendar(told(grown=False, row={"verdict": "overdue: 0 of 3 pots up"}, crop="pepper"))
    # Common practice, no source.
    assert "Worth a second look, not yet the bin" in row.to_do


def test_an_unknown_crop_and_a_cold_spell_are_said(told):
    (row,) = calendar(told(grown=False, crop="moon flower"))
    assert row.expected == "not known"
    assert "No table knows “moon flower”" in row.to_do
    assert calendar(told(grown=False, crop="lavender", needs=("cold",)))[0].expected == "after its cold spell"


def test_the_page_and_the_story_of_a_pot_hold_it(told):
    results = told(grown=False, crop="pepper", soil_c=15)
    page = render(results, [], film=None)
    assert "expect sprouts" in page
    assert "Cold for pepper" in page
    assert any(line.startswith("Sprouts to expect: about 26 Mar") for line in story_of(results, "C").how)
