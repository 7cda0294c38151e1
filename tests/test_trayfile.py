"""tray.toml: what is accepted, what is refused and how it is said, and that writing loses nothing."""

from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from sproutlapse.errors import TrayError
from sproutlapse.tray import Judge, Lamp, Plant, Scale, Season, Sowing, Tray, View
from sproutlapse.trayfile import check_against_picture, read_tray, write_tray

POT = '[[plant]]\nname = "A"\nbox_px = [10, 20, 110, 220]\n'


@pytest.fixture
def tray_of(tmp_path):
    def read(text: str | bytes) -> Tray:
        path = tmp_path / "tray.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_tray(path)

    return read


@pytest.fixture
def refusal_of(tray_of):
    def message(text: str | bytes) -> str:
        with pytest.raises(TrayError) as caught:
            tray_of(text)
        assert caught.value.exit_code == 3
        return str(caught.value)

    return message


FULL = Tray(
    view=View(**{"from": "side"}, pixels_of="IMG_0001.JPG", camera_to_plants_mm=650.5),
    scale=Scale(from_px=(1.25, 2.0), to_px=(301.0, 2.1), length_mm=100.0, behind_plants_mm=-12.5),
    season=Season(plant_out=date(2026, 5, 15)),
    lamp=(
        Lamp(name="left", kind="tube", above_soil_mm=180.0, keep_clear_mm=75.0),
        Lamp(name="left", kind="tube", above_soil_mm=220.0, keep_clear_mm=75.0, since=datetime(2026, 2, 9, 9, 0, 30)),
    ),
    sowing=(
        Sowing(
            name='pepper, "packet" 2 \\ ü',
            crop="pepper",
            variety="long red",
            lot="2",
            sown=datetime(2026, 2, 1, 9, tzinfo=timezone(timedelta(hours=1))),
            seeds_per_cell=2,
            seedlings_per_seed=3,
            packet_percent=85.5,
            soil_c=24.0,
            under_light=True,
            needs=("warmth", "light"),
        ),
    ),
    plant=(
        Plant(name="A", box_px=(120.0, 80.5, 380.0, 900.0), soil_y_px=790.123, sowing='pepper, "packet" 2 \\ ü'),
        Plant(
            name="r1.c2",
            box_px=(400.0, 0.0, 500.0, 9.0),
            behind_mm=40.0,
            habit="grasslike",
            lamp="left",
            place="mat",
            keep_per_cell=5,
            trim_at_mm=100.0,
            trim_to_mm=50.0,
        ),
    ),
    judge=Judge(leggy_hours=18.5),
)


def test_a_written_tray_reads_back_equal(tmp_path):
    write_tray(FULL, tmp_path / "tray.toml", comments={"plant.A": "found", "plant.box_px": "found in the pictures"})
    assert read_tray(tmp_path / "tray.toml") == FULL


@pytest.mark.parametrize("number", [1e-7, 0.1 + 0.2, 123456.789, 1e12, 29.999999999999996])
def test_no_digit_of_a_number_is_lost(tmp_path, number):
    tray = Tray(plant=(Plant(name="A", box_px=(0.0, 0.0, 9.0, 9.0), soil_y_px=number),))
    write_tray(tray, tmp_path / "tray.toml")
    assert read_tray(tmp_path / "tray.toml") == tray


@pytest.mark.parametrize("name", ["a\tb", "row\n2", "'", '"""', "\u0000\u0007", "苗", "#1", "[[plant]]"])
def test_any_name_survives(tmp_path, name):
    tray = Tray(plant=(Plant(name=name, box_px=(0.0, 0.0, 9.0, 9.0)),))
    write_tray(tray, tmp_path / "tray.toml", comments={f"plant.{name}": "two\nlines"})
    assert read_tray(tmp_path / "tray.toml") == tray


def test_an_empty_tray_is_a_tray(tray_of, tmp_path):
    assert tray_of("") == Tray()
    write_tray(Tray(), tmp_path / "written.toml")
    assert read_tray(tmp_path / "written.toml") == Tray()


def test_a_written_tray_keeps_the_order_of_the_contract_and_says_what_was_assumed(tmp_path):
    path = tmp_path / "tray.toml"
    write_tray(FULL, path, comments={"plant.A.box_px": "found in the pictures", "view": "assumed"})
    data = path.read_bytes()
    text = data.decode("utf-8")
    assert b"\r" not in data
    assert text.endswith("\n")
    heads = [line.partition(" ")[0] for line in text.splitlines() if line.startswith("[")]
    assert heads == ["[view]", "[scale]", "[season]"] + ["[[lamp]]"] * 2 + ["[[sowing]]"] + ["[[plant]]"] * 2 + [
        "[judge]"
    ]
    assert "[view] # assumed" in text
    assert "box_px = [120, 80.5, 380, 900] # found in the pictures" in text
    assert text.count("found in the pictures") == 1
    assert text.count("habit = ") == 1, "a habit that nobody knows is not made up"


def test_writing_replaces_the_old_file_and_leaves_nothing_beside_it(tmp_path):
    path = tmp_path / "tray.toml"
    path.write_text("old", encoding="utf-8")
    write_tray(FULL, path)
    assert [p.name for p in tmp_path.iterdir()] == ["tray.toml"]


def test_a_day_alone_is_its_midnight(tray_of):
    tray = tray_of('[[sowing]]\nname = "x"\nsown = 2026-02-01\n[season]\nplant_out = 2026-05-15\n')
    assert tray.sowings[0].sown == datetime(2026, 2, 1)
    assert tray.season.plant_out == date(2026, 5, 15)


def test_a_time_with_an_offset_is_kept(tray_of):
    tray = tray_of('[[lamp]]\nname = "x"\nsince = 2026-02-01T09:00:00+01:00\n')
    assert tray.lamps[0].since == datetime(2026, 2, 1, 8, tzinfo=UTC)


def test_a_file_from_a_windows_editor_is_read(tray_of):
    tray = tray_of(b"\xef\xbb\xbf" + POT.replace("\n", "\r\n").encode())
    assert tray.plants[0].box_px == (10, 20, 110, 220)


def test_whole_numbers_serve_as_lengths(tray_of):
    assert tray_of("[scale]\nmarker_mm = 30\n").scale.marker_mm == 30


def test_an_unknown_key_is_named_with_its_line_and_the_nearest_known_one(refusal_of):
    message = refusal_of(POT + "soil_px = 200\n")
    assert 'line 4, plant "A" → soil_px' in message
    assert "soil_y_px" in message.split("What to do")[1]


def test_an_unknown_part_is_named_with_the_nearest_known_one(refusal_of):
    assert "Write plant " in refusal_of('[[plants]]\nname = "A"\n')


def test_a_key_in_the_wrong_part_is_sent_to_its_own(refusal_of):
    assert "belongs under [[plant]]" in refusal_of('[view]\nhabit = "broadleaf"\n')
    assert "belongs under [scale]" in refusal_of("marker_mm = 30\n")


def test_field_names_of_the_program_are_no_keys(refusal_of):
    assert "from_" in refusal_of('[view]\nfrom_ = "side"\n')
    assert "lamps" in refusal_of('[[lamps]]\nname = "x"\n')


@pytest.mark.parametrize(
    ("text", "found", "allowed"),
    [
        ("[scale]\nmarker_mm = true\n", "found true", "a number"),
        ('[scale]\nmarker_mm = "30"\n', 'found "30"', "a number"),
        ("[scale]\nmarker_mm = 0\n", "found 0", "above 0"),
        ("[scale]\nmarker_mm = -3\n", "found -3", "above 0"),
        ("[scale]\nmarker_mm = inf\n", "found inf", "ordinary number"),
        ("[scale]\nmarker_mm = nan\n", "found nan", "ordinary number"),
        ("[[plant]]\nbox_px = [1, 2, 3, 4]\nname = 3\n", "found 3", "text in double quotes"),
        ('[[plant]]\nbox_px = [1, 2, 3, 4]\nname = ""\n', 'found ""', "at least one character"),
        ('[[plant]]\nname = "A"\nbox_px = [1, 2, 3]\n', "found [1, 2, 3]", "left, top, right, bottom"),
        ('[[plant]]\nname = "A"\nbox_px = [1, 2, 3, true]\n', "found [1, 2, 3, true]", "four numbers"),
        ('[[plant]]\nname = "A"\n', "is missing", "needs it"),
        (POT + "keep_per_cell = 1.5\n", "found 1.5", "a whole number"),
        (POT + "keep_per_cell = true\n", "found true", "a whole number"),
        (POT + "keep_per_cell = 0\n", "found 0", "1 or more"),
        (POT + 'habit = "grass"\n', 'found "grass"', '"grasslike"'),
        ('[[sowing]]\nname = "x"\npacket_percent = 150\n', "found 150", "100 or less"),
        ('[[sowing]]\nname = "x"\nunder_light = 1\n', "found 1", "true or false"),
        ('[[sowing]]\nname = "x"\nsown = "2026-02-01"\n', 'found "2026-02-01"', "without quotes"),
        ('[[sowing]]\nname = "x"\nsown = 09:00:00\n', "found 09:00:00", "a day"),
        ('[[sowing]]\nname = "x"\nneeds = ["warm"]\n', 'found "warm"', '"warmth"'),
        ("[judge]\nleggy_hours = -1\n", "found -1", "0 or more"),
    ],
)
def test_wrong_types_and_impossible_numbers_say_what_was_found_and_what_is_allowed(refusal_of, text, found, allowed):
    message = refusal_of(text)
    assert found in message
    assert allowed in message
    assert f"line {text.count(chr(10)) if 'is missing' not in message else 1}" in message


@pytest.mark.parametrize(
    ("text", "remedy"),
    [('[plant]\nname = "A"\n', "[[plant]]"), ('[[view]]\nfrom = "side"\n', "[view]"), ("plant = [1]\n", "[[plant]]")],
)
def test_single_and_double_brackets_mixed_up_are_explained(refusal_of, text, remedy):
    assert remedy in refusal_of(text)


def test_several_problems_come_in_one_message_in_the_order_of_the_file(refusal_of):
    message = refusal_of('[scale]\nmarker = 3\nmarker_mm = "30"\n' + POT + "habit = 3\n")
    assert "3 things need correcting" in message
    assert message.index("line 2") < message.index("line 3") < message.index("line 7")


def test_a_box_turned_inside_out(refusal_of):
    message = refusal_of('[[plant]]\nname = "B"\nbox_px = [110, 20, 10, 220]\n')
    assert 'line 3, plant "B" → box_px' in message
    assert "inside out" in message


def test_two_plants_of_one_name(refusal_of):
    message = refusal_of(POT + POT)
    assert "line 5" in message
    assert "plant 1 already" in message


def test_two_sowings_of_one_name(refusal_of):
    assert "sowing 1 already" in refusal_of('[[sowing]]\nname = "x"\n' * 2)


def test_a_lamp_may_come_again_only_with_another_since(tray_of, refusal_of):
    again = '[[lamp]]\nname = "x"\n[[lamp]]\nname = "x"\nsince = 2026-02-01T09:00:00\n'
    assert len(tray_of(again).lamps) == 2
    assert "a second time" in refusal_of('[[lamp]]\nname = "x"\n' * 2)


def test_a_plant_that_names_an_unknown_sowing_or_lamp(refusal_of):
    message = refusal_of(POT + 'sowing = "peper"\nlamp = "left"\n[[sowing]]\nname = "pepper"\n')
    assert 'Write "pepper"' in message
    assert 'found "left"' in message
    assert "of which there is none" in message


@pytest.mark.parametrize(
    ("scale", "said"),
    [
        ("marker_mm = 30\nfrom_px = [1, 2]\nto_px = [3, 4]\nlength_mm = 5", "Take one of the two out"),
        ("from_px = [1, 2]\nlength_mm = 5", "Add to_px"),
        ("length_mm = 5", "Add from_px and to_px"),
        ("from_px = [1, 2]\nto_px = [1, 2]\nlength_mm = 5", "same point"),
    ],
)
def test_a_scale_is_a_mark_or_two_points_with_their_length(refusal_of, scale, said):
    assert said in refusal_of(f"[scale]\n{scale}\n")


def test_a_cut_must_leave_less_than_there_was(refusal_of):
    assert "less than trim_at_mm" in refusal_of(POT + "trim_at_mm = 50\ntrim_to_mm = 50\n")


def test_nothing_stands_behind_the_camera(refusal_of):
    assert "camera stands 650 mm" in refusal_of("[view]\ncamera_to_plants_mm = 650\n[scale]\nbehind_plants_mm = -650\n")


def test_broken_toml_names_line_and_column(refusal_of):
    message = refusal_of("[scale]\nmarker_mm = 30,5\n")
    assert "line 2, column" in message
    assert "marker_mm = 30,5" in message
    assert "not valid TOML" in refusal_of("[view]\n[view]\n")
    assert "not valid TOML" in refusal_of("a = [" * 5000)


def test_a_date_as_it_is_written_by_hand_is_answered_with_the_one_to_write(refusal_of):
    assert "year-month-day: 2025-04-19." in refusal_of('[[sowing]]\nname = "a"\nsown = 19.4.2025\n')
    assert "year-month-day, such as 2025-04-19." in refusal_of('[[sowing]]\nname = "a"\nsown = 4/19/2025\n')


def test_a_file_in_another_encoding_names_the_line(refusal_of):
    assert "line 2" in refusal_of(b'[[sowing]]\nname = "K\xfcrbis"\n')


def test_no_such_file_and_a_folder_in_its_place(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(TrayError, match="What to do"):
            read_tray(path)


def test_pixels_must_lie_inside_the_picture(tmp_path):
    path = tmp_path / "tray.toml"
    path.write_text(POT + "soil_y_px = 205\n[scale]\nfrom_px = [0, 5]\nto_px = [639, 5]\nlength_mm = 9\n", "utf-8")
    tray = read_tray(path)
    check_against_picture(tray, (640, 480))
    with pytest.raises(TrayError) as caught:
        check_against_picture(tray, (639, 200), path=path)
    message = str(caught.value)
    assert 'line 3, plant "A" → box_px: found [10, 20, 110, 220]' in message
    assert 'line 4, plant "A" → soil_y_px: found 205' in message
    assert "scale → to_px: found [639, 5]" in message
    assert "639 x 200 pixels" in message
    assert "from_px" not in message


def test_the_last_pixel_is_inside_and_the_next_is_not():
    def tray(right: float) -> Tray:
        return Tray(plant=(Plant(name="A", box_px=(0.0, 0.0, right, 9.0)),))

    check_against_picture(tray(99), (100, 10))
    with pytest.raises(TrayError, match="x from 0 to 99"):
        check_against_picture(tray(100), (100, 10))


def test_the_example_reads(tmp_path):
    tray = read_tray(Path(__file__).parents[1] / "fixtures" / "shelf" / "photos" / "tray.toml")
    check_against_picture(tray, (1280, 960))
    write_tray(tray, tmp_path / "again.toml")
    assert read_tray(tmp_path / "again.toml") == tray
    assert [plant.name for plant in tray.plants] == list("ABCDE")


def test_the_tray_in_the_readme_reads(tray_of):
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    tray = tray_of(readme.partition("```toml\n")[2].partition("```")[0])
    assert tray.plants[0].sowing == tray.sowings[0].name
