"""The page of a season: what to do over all trays, what stands in its table, the same sowing side by side."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from urllib.parse import quote

from sproutlapse.results import CareItem, Urgency
from sproutlapse.season.kept import SowingSeen, TrayTold, from_values, to_values
from sproutlapse.season.page import Season, first_words, season_page, side_by_side, table_of, typed
from sproutlapse.season.trays import Failure, SeasonTray, season_table, to_do
from sproutlapse.work.files import csv_bytes

LAST = "2025-03-18T08:00:00"


def item(kind: str, urgency: Urgency, title: str = "") -> CareItem:
    """Something to do with plant A."""
    remedy = "Cut the leaves back. Not below the point where new ones come from."
    return CareItem(
        f"{kind}:A", urgency, ("A",), title or f"{kind}: A", "It is so.", "A is 41 mm", remedy, id=f"{kind}-a"
    )


def tray(name: str, *care: CareItem, last: str = LAST, **more: object) -> SeasonTray:
    """A tray of five pots, four of them up."""
    told = TrayTold(
        photos=48, used=46, last=last, places=5, up=4, above=False, leggy=("B",), stretching=(), trim=(), near_lamp=(),
        care=care, sowings=(), columns=(), rows=(),
    )  # fmt: skip
    return SeasonTray(name, f"{name}-results", f"{quote(name)}-results/report.html", 48, replace(told, **more))


def sown(name: str, size: str = "41 mm, give or take 2", crop: str = "pepper") -> SowingSeen:
    return SowingSeen(name, crop, "3 of 4 pots, 75 %; may be 19 to 99 %", "7.8 days", size, "day 12")


def words(page: str) -> str:
    """What is read of a page."""
    return " ".join(re.sub(r"<[^>]*>", " ", page[page.index("<body>") :]).split())


def test_the_list_goes_by_urgency_then_puts_the_same_work_of_several_trays_side_by_side():
    trays = [
        tray("a", item("lamp", "today"), item("trim", "today"), item("room", "this week")),
        tray("b", item("fallen", "now"), item("lamp", "today"), item("trim", "today")),
    ]
    assert [(one.tray.name, one.item.id) for one in to_do(trays)] == [
        ("b", "fallen-a"), ("a", "lamp-a"), ("b", "lamp-a"), ("a", "trim-a"), ("b", "trim-a"), ("a", "room-a"),
    ]  # fmt: skip


def test_each_line_names_its_tray_and_leads_to_its_page():
    page = season_page(Season("attic", "sproutlapse run --all .", (tray("my shelf", item("trim", "now")),)))
    assert '<a href="my%20shelf-results/report.html">my shelf</a>: trim: A.' in page
    assert 'sproutlapse done "my shelf-results" trim-a' in words(page).replace("&#34;", '"')


def test_the_page_needs_no_script_and_no_network():
    page = season_page(Season("attic", "sproutlapse run --all .", (tray("a", item("trim", "now")),)))
    assert "<script" not in page
    assert "http" not in page


def test_a_tray_that_has_no_new_photos_is_told_and_its_work_comes_after_that_of_others():
    trays = [tray("old", item("trim", "today"), last="2025-03-14T08:00:00"), tray("new", item("trim", "today"))]
    assert [(one.tray.name, one.old) for one in to_do(trays)] == [("new", False), ("old", True)]
    assert [row.silent for row in table_of(trays)] == [
        "4 days older than the newest photo of all: does its camera run, or is it of another season?",
        "",
    ]
    assert "old as of 14 Mar, 08:00 : trim: A" in words(season_page(Season("s", "", tuple(trays))))


def test_a_tray_that_failed_is_told_with_what_to_do_and_keeps_its_last_figures():
    failed = replace(tray("a", item("trim", "today")), failed=Failure("is misspelt.", "a/tray.toml", "Write view."))
    never = SeasonTray("b", "b-results", "", 7, None, Failure("no picture."))
    text = words(season_page(Season("s", "", (failed, never, tray("c")))))
    assert "2 trays of 3" in text
    assert "a a/tray.toml: is misspelt. What to do: Write view." in text
    assert "from its last run that came to its end, up to 18 Mar 2025, 08:00" in text
    assert "not up to date" in text
    assert "not done" in text


def test_what_is_not_known_or_cannot_be_seen_is_said():
    early, above = table_of([tray("a", up=None, leggy=()), tray("b", above=True, leggy=())])
    assert (early.up, early.stretching) == ("not known yet, of 5", "")
    assert above.stretching == "not told from above"


def test_long_lists_of_names_are_cut_short():
    (row,) = table_of([tray("a", leggy=tuple("ABCDEFGH"))])
    assert row.stretching == "leggy: A, B, C, D, E, F and 2 more"


def test_a_sowing_in_several_trays_stands_side_by_side_with_the_command_that_compares():
    trays = [
        tray("attic/a", sowings=(sown("Packet 2"), sown("basil", crop="basil"))),
        tray("my cellar", sowings=(sown("packet  2", size="55 mm, give or take 3"),)),
        tray("c", sowings=(sown("packet 2", crop="eggplant"),)),
    ]
    (pair,) = side_by_side(trays)
    assert [(one.name, seen.size) for one, seen in pair.rows] == [
        ("attic/a", "41 mm, give or take 2"),
        ("my cellar", "55 mm, give or take 3"),
    ]
    assert pair.command == 'sproutlapse compare attic/a-results "my cellar-results" --by tray --crop pepper'


def test_folders_that_were_passed_over_are_named():
    season = Season("s", "", (tray("a"),), untold=(("loose", 3),), bare=("new",), closed=(("locked", "no permission"),))
    text = words(season_page(season))
    assert "loose: 3 photos without a tray.toml" in text
    assert "new: a tray.toml, and no photo yet" in text
    assert "locked: no permission" in text


def test_one_table_holds_the_sowings_of_all_trays_and_leaves_empty_what_is_not_known():
    columns, row = ("sowing", "plants", "seeds", "emerged_share"), ("peppers, saved", 4, None, 0.75)
    text = csv_bytes(season_table([tray("a"), tray("b", columns=columns, rows=(row,))])).decode()
    assert text == (
        "tray,results,last_photo,sowing,plants,seeds,emerged_share\n"
        f'b,b-results,{LAST},"peppers, saved",4,,0.7500\n'
    )  # fmt: skip


def test_a_table_without_any_sowing_has_its_head():
    assert csv_bytes(season_table([tray("a")])).decode() == "tray,results,last_photo,sowing\n"


def test_what_is_kept_of_a_tray_comes_back_whole():
    told = tray(
        "a", item("trim", "now"), sowings=(sown("x"),), columns=("n", "share", "crop"), rows=((4, 0.5, None),)
    ).told
    assert told is not None
    assert from_values(json.loads(json.dumps(to_values(told), sort_keys=True))) == told


def test_the_first_sentence_of_a_remedy_stands_open():
    assert first_words("Raise the lamp by 3.5 mm. Then look.") == ("Raise the lamp by 3.5 mm.", "Then look.")
    assert first_words("Raise the lamp") == ("Raise the lamp", "")


def test_a_path_is_typed_in_quotes_only_where_it_needs_them():
    assert typed("a/b-results") == "a/b-results"
    assert typed("my shelf") == '"my shelf"'
