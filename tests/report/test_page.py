"""The page a grower opens: what stands in it, that it stands alone, and that it reads well in the bare cases."""

from __future__ import annotations

import base64
import io
import re
import shutil
import subprocess
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from sproutlapse.errors import ResultsError
from sproutlapse.report.page import write_report
from sproutlapse.results import Results

MakeResults = Callable[..., Results]


class Page(HTMLParser):
    """Tags with their attributes, and the text that is read."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self._unread = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._unread += tag in {"style", "svg"}

    def handle_endtag(self, tag: str) -> None:
        self._unread -= tag in {"style", "svg"}

    def handle_data(self, data: str) -> None:
        if not self._unread:
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


def page_of(results: Results, film: Path | None = None) -> Page:
    return Page(write_report(results, film=film).read_text(encoding="utf-8"))


def test_page_needs_nothing_from_elsewhere(make_results: MakeResults) -> None:
    results = make_results()
    html = write_report(results, film=None).read_text(encoding="utf-8")
    page = Page(html)
    for tag, attrs in page.tags:
        for key in ("src", "href", "xlink:href", "srcset", "poster", "data"):
            value = attrs.get(key)
            assert value is None or value.startswith(("data:image/", "#")), (tag, key, value and value[:60])
    assert not page.all("script")
    assert not page.all("link")
    assert "@import" not in html
    assert not re.search(r"url\(\s*['\"]?https?:", html)


def test_every_picture_and_chart_has_words_for_those_who_cannot_see_it(make_results: MakeResults) -> None:
    page = page_of(make_results())
    assert page.all("img")
    assert all((attrs.get("alt") or "").strip() for attrs in page.all("img"))
    assert page.all("svg")
    assert all((attrs.get("aria-label") or "").strip() for attrs in page.all("svg"))


def test_things_to_do_come_first_and_in_their_order(make_results: MakeResults) -> None:
    results = make_results()
    text = page_of(results).text
    places = [text.index(item.title) for item in results.care]
    assert places == sorted(places)
    assert places[-1] < text.index("The latest photo")
    for item in results.care:
        assert item.reason in text
        assert item.number in text
        assert item.remedy in text
        assert item.caution in text


def test_sections_stand_in_reading_order(make_results: MakeResults) -> None:
    html = write_report(make_results(), film=None).read_text(encoding="utf-8")
    order = ["care", "latest", "plants", "growth", "emergence", "leggy", "sheet", "photos", "methods", "cautions"]
    places = [html.index(f'<section id="{name}"') for name in order]
    assert places == sorted(places)


def test_names_cannot_become_markup(make_results: MakeResults) -> None:
    html = write_report(make_results(sowings=("<script>alert(1)</script>",)), film=None).read_text(encoding="utf-8")
    assert "<b>B</b> & co" not in html
    assert "<script" not in html
    assert "&lt;b&gt;B&lt;/b&gt; &amp; co" in html
    assert "&lt;script&gt;" in html


def test_heights_carry_unit_and_give_or_take(make_results: MakeResults) -> None:
    text = page_of(make_results()).text
    # The last plant that is up is 180 px tall at 0.5 mm a pixel; twice 0.6 mm is its uncertainty, rounded up.
    assert "90 mm, give or take 2" in text
    assert "+4.0 mm a day" in text
    assert "known to within the gap between two photos, 6 hours" in text
    assert "Half of those that came up were up in the photo of" in text


def test_where_millimetres_come_from_is_said_with_its_give_or_take(make_results: MakeResults) -> None:
    assert "Millimetres come from the printed mark, give or take 0.8 %" in page_of(make_results()).text


def test_no_terms_of_statistics(make_results: MakeResults) -> None:
    text = page_of(make_results(sowings=("pepper",))).text.lower()
    for term in ("median", "standard deviation", "confidence", "quantile", "censor", "aruco", " sd ", "sigma"):
        assert term not in text, term


def test_light_and_dark_and_print(make_results: MakeResults) -> None:
    html = write_report(make_results(), film=None).read_text(encoding="utf-8")
    assert "prefers-color-scheme: dark" in html
    assert "@media print" in html
    assert 'name="viewport"' in html
    body = html[html.index("<svg") :]
    assert "var(--s1)" in body
    assert "currentColor" in body


def test_ids_of_the_charts_do_not_clash(make_results: MakeResults) -> None:
    page = page_of(make_results(sowings=("one", "two", "three")))
    ids = [attrs["id"] for _, attrs in page.tags if attrs.get("id")]
    assert len(ids) == len(set(ids))


def test_same_results_same_bytes(make_results: MakeResults) -> None:
    results = make_results()
    first = {p.name: p.read_bytes() for p in _written(results)}
    second = {p.name: p.read_bytes() for p in _written(results)}
    assert first == second
    assert len(first) > 4


def _written(results: Results) -> list[Path]:
    write_report(results, film=None)
    return sorted(p for p in results.out.rglob("*") if p.is_file())


def test_charts_are_files_too(make_results: MakeResults) -> None:
    results = make_results()
    write_report(results, film=None)
    svgs = sorted((results.out / "charts").glob("*.svg"))
    assert {p.stem for p in svgs} == {"growth-1", "emergence-1", "height-to-leaf-1", "brightness"}
    for path in svgs:
        assert ElementTree.parse(path).getroot().tag.endswith("svg")
        with Image.open(path.with_suffix(".png")) as picture:
            assert picture.width > 600
    assert not list(results.out.rglob("*.part"))


def test_charts_of_an_earlier_run_go_and_strange_files_stay(make_results: MakeResults) -> None:
    results = make_results()
    charts = results.out / "charts"
    charts.mkdir(parents=True)
    (charts / "growth-9.svg").write_text("old", encoding="utf-8")
    (charts / "mine.svg").write_text("mine", encoding="utf-8")
    write_report(results, film=None)
    assert not (charts / "growth-9.svg").exists()
    assert (charts / "mine.svg").read_text(encoding="utf-8") == "mine"


def test_film_is_linked_when_it_is_there(make_results: MakeResults) -> None:
    results = make_results()
    results.out.mkdir()
    film = results.out / "film.mp4"
    assert not page_of(results, film).all("video")
    film.write_bytes(b"film")
    assert [attrs["src"] for attrs in page_of(results, film).all("video")] == ["film.mp4"]


def test_nothing_up_yet_is_said(make_results: MakeResults) -> None:
    text = page_of(make_results(grown=False, care=())).text
    assert "Nothing to do today." in text
    assert "Nothing yet in the last photo" in text
    assert "No plant is up yet" in text
    assert "0 of 3 places with a plant" in text


def test_without_a_scale_pixels_are_said_plainly(make_results: MakeResults) -> None:
    text = page_of(make_results(scale=False, care=())).text
    assert "No scale is known: sizes stand in pixels." in text
    assert "180 pixels" in text
    # Nothing measured may pose as millimetres; only the note about the mark may speak of them.
    assert not re.search(r"\d mm", text.replace("The mark was taken to be 30 mm.", ""))


def test_one_photo_only(make_results: MakeResults) -> None:
    results = make_results(photos=1, dark=None, care=())
    text = page_of(results).text
    assert "1 photo in the folder, 1 measured, none left out." in text
    assert not list((results.out / "charts").glob("*.svg"))


def test_from_above_speaks_of_leaf_cover(make_results: MakeResults) -> None:
    page = page_of(make_results(above=True, care=()))
    assert "leaf cover now" in page.text
    assert "cm²" in page.text
    assert "+22 % a day" in page.text
    assert "From above, heights cannot be seen" in page.text


@pytest.mark.parametrize("cells", [24, 72])
def test_many_cells_share_few_charts_and_the_page_stays_small(make_results: MakeResults, cells: int) -> None:
    names = tuple(f"r{1 + i // 12}c{1 + i % 12}" for i in range(cells))
    results = make_results(names=names, above=True, photos=9)
    path = write_report(results, film=None)
    assert len(list((results.out / "charts").glob("growth-*.svg"))) == 1
    assert path.stat().st_size < 3_000_000
    assert "the strong line is the plant in the middle" in Page(path.read_text(encoding="utf-8")).text


def test_left_out_photos_stand_with_their_reason(make_results: MakeResults) -> None:
    text = page_of(make_results()).text
    assert "12 photos in the folder, 11 measured, 1 left out." in text
    assert "1 photo : too dark" in text.replace("photo:", "photo :")
    assert "P0005.JPG" in text


def test_no_usable_photo_at_all(make_results: MakeResults) -> None:
    results = make_results(photos=1, dark=None, care=())
    bare = Results(
        **{
            **results.__dict__,
            "frames": (),
            "measurements": results.measurements.iloc[:0],
            "frames_table": results.frames_table.iloc[:0],
            "plants": results.plants.iloc[:0],
            "events": results.events.iloc[:0],
        }
    )
    assert "No photo could be measured" in page_of(bare).text


def test_photos_that_are_gone_are_said_to_be_gone(make_results: MakeResults) -> None:
    results = make_results()
    shutil.rmtree(results.folder)
    page = page_of(results)
    assert "no longer where they were measured" in page.text
    assert not page.all("img")


def test_cautions_name_the_dangers_and_who_decides(make_results: MakeResults) -> None:
    text = page_of(make_results()).text
    for words in (
        "Mains power and water",
        "Hot lamps",
        "Heat mats",
        "do not look into",
        "local codes",
        "qualified person",
    ):
        assert words in text


def test_contact_sheet_holds_a_dozen_with_dates(make_results: MakeResults) -> None:
    html = write_report(make_results(photos=30), film=None).read_text(encoding="utf-8")
    sheet = Page(html[html.index('<section id="sheet"') : html.index('<section id="photos"')])
    assert 10 <= len(sheet.all("img")) <= 12
    assert "1 Mar, 09:00" in sheet.text
    assert "8 Mar, 15:00" in sheet.text


def test_a_folder_that_cannot_be_written_ends_in_a_message(make_results: MakeResults) -> None:
    results = make_results()
    results.out.write_text("a file", encoding="utf-8")
    with pytest.raises(ResultsError, match="cannot be written"):
        write_report(results, film=None)


def test_latest_photo_is_a_real_jpeg_of_bounded_size(make_results: MakeResults) -> None:
    src = page_of(make_results()).all("img")[0]["src"]
    assert src is not None
    with Image.open(io.BytesIO(base64.b64decode(src.split(",", 1)[1]))) as picture:
        assert picture.format == "JPEG"
        assert picture.width <= 1280


def test_opens_in_a_real_browser(make_results: MakeResults, tmp_path: Path) -> None:
    browser = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)
    if browser is None:
        pytest.skip("no Chromium on PATH to open the page with")
    page = write_report(make_results(), film=None)
    shot = tmp_path / "shot.png"
    flags = "--headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking --hide-scrollbars"
    subprocess.run(
        [
            browser,
            *flags.split(),
            f"--user-data-dir={tmp_path / 'profile'}",
            f"--screenshot={shot}",
            "--window-size=390,1400",
            page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    with Image.open(shot) as picture:
        pixels = np.asarray(picture.convert("RGB"), dtype=float)
    assert pixels.std() > 10
    # The outlined photo with its green plants is on the first screens.
    green = (pixels[..., 1] > pixels[..., 0] + 40) & (pixels[..., 1] > pixels[..., 2] + 40)
    assert green.sum() > 100
