"""Photos and results that several tests look at; made once and never changed by a test."""

import shutil
from pathlib import Path

import pytest
from shelf_photos import FEW, copy_season, halve, run, write_half_tray


@pytest.fixture(scope="session")
def season_photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example's season, shortened."""
    return copy_season(tmp_path_factory.mktemp("season") / "photos")


@pytest.fixture(scope="session")
def season(season_photos: Path) -> Path:
    """Results of the season, measured in one go by two workers, with masks."""
    return run(season_photos, masks=True, workers=2).out


@pytest.fixture(scope="session")
def few_photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eleven photos at half size with their tray.toml."""
    folder = tmp_path_factory.mktemp("few") / "photos"
    folder.mkdir()
    for name in FEW:
        halve(name, folder / name)
    write_half_tray(folder / "tray.toml")
    return folder


@pytest.fixture(scope="session")
def few(few_photos: Path) -> Path:
    """Results of the eleven photos, with masks."""
    return run(few_photos, masks=True).out


@pytest.fixture
def shelf(few_photos: Path, tmp_path: Path) -> Path:
    """A copy of the eleven photos that a test may change."""
    return Path(shutil.copytree(few_photos, tmp_path / "photos"))


@pytest.fixture
def shelf_run(shelf: Path, few: Path) -> Path:
    """The copy of the eleven photos, already measured: its results stand beside it."""
    shutil.copytree(few, shelf.with_name("photos-results"))
    return shelf
