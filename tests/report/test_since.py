"""What the page says first: what is new, what to do, and no more of it than one evening holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sproutlapse.report.page import write_report
from sproutlapse.report.since import since_looked
from sproutlapse.report.story import story_of
from sproutlapse.report.told import diary
from sproutlapse.results import CareItem, DiaryEntry, Results

MakeResults = Callable[..., Results]


def used_times(results: Results) -> list[str]:
    return [frame.time for frame in results.frames if frame.used]


def html(results: Results) -> str:
    return write_report(results, film=None).read_text(encoding="utf-8")


def item(number: int) -> CareItem:
    return CareItem(f"k:{number}", "today", ("A",), f"Act {number}", "r", "1 mm", "do", "Mind it.", id=f"k-{number}")


def test_nothing_is_new_to_one_who_never_looked_or_has_seen_the_last_photo(make_results: MakeResults) -> None:
    results = make_results()
    assert since_looked(results) == ()
    assert since_looked(replace(results, looked=used_times(results)[-1])) == ()


def test_events_notes_and_new_items_since_the_last_page_are_told(make_results: MakeResults) -> None:
    results = make_results()
    times = used_times(results)
    care = (replace(item(1), since=times[-1]), replace(item(2), since=times[0]))
    notes = (DiaryEntry(times[-1], "note", "", "fan on"),)
    lines = since_looked(replace(results, looked=times[1], care=care, diary=notes))
    assert lines[0] == f"{len(times) - 2} photos since 1 Mar, 15:00."
    assert "Came up: A." in lines
    assert "You noted: fan on." in lines
    assert lines[-1] == "New on the list: Act 1."
    assert since_looked(replace(results, looked=times[2]))[0].endswith("nothing happened that is worth a word.")


def test_many_events_are_told_in_a_few_lines(make_results: MakeResults) -> None:
    results = make_results()
    times = used_times(results)
    events = results.events.iloc[[0] * 12].reset_index(drop=True)
    events["event"] = [f"thing {k}" for k in range(11)] + ["leggy"]
    events["known"] = times[-1]
    lines = since_looked(replace(results, looked=times[1], events=events))
    assert len(lines) <= 8
    assert lines[1] == "Leggy: A."
    assert "and 6 more" in lines[-1]


def test_what_is_new_comes_first_then_a_handful_of_items_and_cautions_once(make_results: MakeResults) -> None:
    results = make_results()
    care, stage = tuple(item(k) for k in range(8)), "kale: seed leaves, by their age."
    page = html(replace(results, looked=used_times(results)[1], care=care, stages=(stage,)))
    order = [
        "Since you last looked",
        "What to do",
        "Act 4",
        "3 more, less pressing",
        "Act 5",
        "Where each sowing stands",
    ]
    places = [page.index(words) for words in [*order, stage]]
    assert places == sorted(places)
    assert page.count('class="caution"') == 1
    assert "<code>k-0</code>" in page


def test_notes_are_numbered_on_the_growth_charts_and_told_below(make_results: MakeResults) -> None:
    results = make_results()
    times = used_times(results)
    with_note = replace(results, diary=(DiaryEntry(times[-2], "note", "", "fan <on>"),))
    page = html(with_note)
    assert page.count("Note 1 on 3 Mar: fan") == 1
    assert "Your notes, by the numbers in the charts" in page
    assert "fan &lt;on&gt;" in page
    assert "<on>" not in page


def test_own_words_stand_in_the_diary_and_in_the_story_of_whom_they_concern(make_results: MakeResults) -> None:
    results = make_results()
    times = used_times(results)
    words = (DiaryEntry(times[-1], "note", "", "fan on"), DiaryEntry(times[-1], "done", "leggy:A", "Leggy: A"))
    told = replace(results, diary=words)
    assert [(line.event, line.detail) for line in diary(told)[:2]] == [
        ("you said done", "Leggy: A"),
        ("your note", "fan on"),
    ]
    assert any("you said done: Leggy: A" in line for line in story_of(told, "A").happened)
    assert not any("Leggy" in line for line in story_of(told, "C").happened)
    assert any("your note: fan on" in line for line in story_of(told, "C").happened)
