"""The picture with rulers and the tray.toml to correct: what a grower gets when the tool is asked what it sees."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from shelf_photos import FEW, SHELF, halve, write_half_tray

from sproutlapse.cli import main
from sproutlapse.errors import PhotosError, ResultsError, TrayError
from sproutlapse.job_tray_sight import tray_job
from sproutlapse.progress import Silent
from sproutlapse.trayfile import read_tray


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """Bare pots at full size, and nothing written about them."""
    folder = tmp_path / "bare pots"
    folder.mkdir()
    for name in FEW[:3]:
        (folder / name).write_bytes((SHELF / "photos" / name).read_bytes())
    return folder


@pytest.fixture
def wall(tmp_path: Path) -> Path:
    """Photos of a plain wall."""
    folder = tmp_path / "wall"
    folder.mkdir()
    rng = np.random.default_rng(4)
    for n in range(3):
        grain = rng.normal(0, 3, (240, 320, 3))
        ramp = np.linspace(120, 200, 320)[None, :, None]
        Image.fromarray(np.clip(ramp + grain, 0, 255).astype(np.uint8)).save(folder / f"IMG_{n}.png")
    return folder


def test_all_pots_of_the_shelf_are_drawn_and_written(bare: Path):
    sight = tray_job(bare, None, Silent())
    assert sight.tray == bare.with_name("bare pots-tray") / "tray.toml"
    tray = read_tray(sight.tray)
    assert [plant.name for plant in tray.plants] == ["A", "B", "C", "D", "E"]
    assert tray.view.pixels_of == FEW[0]
    for plant, true in zip(tray.plants, read_tray(SHELF / "photos" / "tray.toml").plants, strict=True):
        assert abs(plant.soil_y_px - true.soil_y_px) < 12
        middle = (plant.box_px[0] + plant.box_px[2]) / 2
        assert true.box_px[0] < middle < true.box_px[2]
    drawn = cv2.imdecode(np.frombuffer(sight.picture.read_bytes(), np.uint8), cv2.IMREAD_COLOR)
    photo = np.asarray(Image.open(bare / FEW[0]))
    assert drawn.shape[0] > photo.shape[0] and drawn.shape[1] > photo.shape[1]
    assert any("--tray" in line for line in sight.lines)


def test_the_photos_keep_their_bytes_and_get_no_company(bare: Path):
    before = {path.name: path.read_bytes() for path in bare.iterdir()}
    tray_job(bare, None, Silent())
    assert {path.name: path.read_bytes() for path in bare.iterdir()} == before


def test_asked_again_it_says_the_same(bare: Path):
    first = tray_job(bare, None, Silent())
    text = first.tray.read_bytes()
    assert tray_job(bare, None, Silent()).tray.read_bytes() == text


def test_corrections_by_hand_are_not_written_over(bare: Path):
    path = tray_job(bare, None, Silent()).tray
    corrected = path.read_text(encoding="utf-8").replace('name = "C"', 'name = "basil"')
    path.write_text(corrected, encoding="utf-8", newline="\n")
    with pytest.raises(ResultsError, match="corrections by hand") as told:
        tray_job(bare, None, Silent())
    assert "--tray" in told.value.remedy
    assert path.read_text(encoding="utf-8") == corrected


def test_a_corrected_file_among_the_photos_is_drawn_as_it_stands(bare: Path):
    path = tray_job(bare, None, Silent()).tray
    corrected = path.read_text(encoding="utf-8").replace('name = "C"', 'name = "basil"')
    path.unlink()
    (bare / "tray.toml").write_text(corrected, encoding="utf-8", newline="\n")
    again = read_tray(tray_job(bare, None, Silent()).tray)
    assert again == read_tray(bare / "tray.toml")


def test_what_is_missing_beside_written_sowings_is_found(tmp_path: Path):
    folder = tmp_path / "photos"
    folder.mkdir()
    for name in FEW[:2]:
        halve(name, folder / name)
    write_half_tray(folder / "tray.toml", plants=())
    tray = read_tray(tray_job(folder, tmp_path / "seen", Silent()).tray)
    assert len(tray.plants) == 5
    assert tray.sowings[0].name == "pepper, saved seed"


def test_where_no_pot_is_seen_rulers_and_a_file_to_fill_in_are_left(wall: Path):
    out = wall.with_name("wall-tray")
    with pytest.raises(TrayError, match="could be made out") as told:
        tray_job(wall, None, Silent())
    assert str(out / "tray.png") in told.value.remedy
    assert (out / "tray.png").stat().st_size > 1000
    text = (out / "tray.toml").read_text(encoding="utf-8")
    assert "# [[plant]]" in text and 'pixels_of = "IMG_0.png"' in text
    assert read_tray(out / "tray.toml").plants == ()
    # Filled in as its remarks say, it is a tray.
    block = text[text.index("# [[plant]]") : text.index("# More that may be written")]
    filled = text.replace(block, "\n".join(line.removeprefix("# ") for line in block.splitlines()) + "\n")
    (out / "tray.toml").write_text(filled.replace('# from = "side"', 'from = "side"'), encoding="utf-8")
    tray = read_tray(out / "tray.toml")
    assert tray.view.from_ == "side"
    assert [plant.name for plant in tray.plants] == ["A"]


def test_boxes_outside_the_picture_are_told_with_the_rulers_to_read(bare: Path):
    (bare / "tray.toml").write_text('[[plant]]\nname = "A"\nbox_px = [0, 0, 9000, 10]\n', encoding="utf-8")
    out = bare.with_name("bare pots-tray")
    with pytest.raises(TrayError, match="9000") as told:
        tray_job(bare, None, Silent())
    assert str(out / "tray.png") in told.value.remedy
    assert (out / "tray.png").is_file()
    assert not (out / "tray.toml").exists()


def test_nothing_is_written_among_the_photos(bare: Path):
    for out in (bare, bare / "tray"):
        with pytest.raises(ResultsError, match="among the photos"):
            tray_job(bare, out, Silent())
    assert sorted(path.name for path in bare.iterdir()) == sorted(FEW[:3])


def test_a_file_in_the_place_of_the_folder(bare: Path, tmp_path: Path):
    (tmp_path / "seen").write_text("mine", encoding="utf-8")
    with pytest.raises(ResultsError, match="this is a file"):
        tray_job(bare, tmp_path / "seen", Silent())


def test_photos_that_cannot_be_read(tmp_path: Path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "IMG_1.JPG").write_bytes(b"no picture")
    with pytest.raises(PhotosError, match="can be used"):
        tray_job(tmp_path / "photos", None, Silent())


def test_the_command_ends_with_3_where_no_pot_is_seen(wall: Path, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["sproutlapse", "tray", str(wall), "--quiet"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 3
    assert "tray.png" in capsys.readouterr().err
