"""The commands as a person meets them: quick help, plain errors, documented exit statuses."""

import errno
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sproutlapse import __version__
from sproutlapse.cli import main
from sproutlapse.errors import PhotosError, ResultsError, TrayError
from sproutlapse.plainly import DEBUG, EXIT_CODES, plainly

ROOT = Path(__file__).resolve().parents[1]
COMMANDS = (
    "run", "watch", "check", "tray", "card", "film", "report", "explain", "note", "done", "compare", "sheets", "plan",
    "demo",
)  # fmt: skip


def sproutlapse(*arguments: object, **more: str) -> subprocess.CompletedProcess[str]:
    """What the command prints and its exit status, from a process of its own."""
    command = [sys.executable, "-m", "sproutlapse", *map(str, arguments)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "COLUMNS": "120", **more}
    return subprocess.run(command, capture_output=True, check=False, encoding="utf-8", env=environment, cwd=ROOT)


@pytest.fixture
def typed(capsys, monkeypatch):
    """What the command answers when it is called in this process: exit status, words, errors."""

    def answer(*arguments: object) -> tuple[object, str, str]:
        monkeypatch.setattr(sys, "argv", ["sproutlapse", *map(str, arguments)])
        monkeypatch.setenv("COLUMNS", "120")
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code or 0, *capsys.readouterr()

    return answer


def test_help_answers_within_0_4_seconds():
    def seconds() -> float:
        start = time.perf_counter()
        assert sproutlapse("--help").returncode == 0
        return time.perf_counter() - start

    # The best of a few, so that other work on the machine does not count.
    assert min(seconds() for _ in range(5)) < 0.4


def test_the_commands_load_nothing_heavy_before_they_are_called():
    heavy = ("av", "cv2", "jinja2", "matplotlib", "numpy", "pandas", "PIL", "pydantic", "rich", "scipy", "skimage")
    code = f"import sys, sproutlapse.cli; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_help_names_every_command_and_every_exit_status():
    text = sproutlapse("--help").stdout
    for command in COMMANDS:
        assert re.search(rf"^  {command}\s", text, re.MULTILINE)
    for code, meaning in EXIT_CODES.items():
        assert re.search(rf"^\s*{code}  {re.escape(meaning)}$", text, re.MULTILINE)


def test_the_readme_names_every_command_option_and_exit_status(typed):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for command in COMMANDS:
        assert f"sproutlapse {command}" in readme
        for option in re.findall(r"--[a-z][a-z-]+", typed(command, "--help")[1]):
            assert option in readme or option == "--help", f"{command} {option}"
    for code in EXIT_CODES:
        assert re.search(rf"^\| {code} \|", readme, re.MULTILINE)


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_explains_itself(command, typed):
    status, words, _ = typed(command, "--help")
    assert status == 0
    assert f"sproutlapse {command} [OPTIONS]" in words


def test_version(typed):
    assert typed("--version") == (0, f"sproutlapse {__version__}\n", "")


@pytest.mark.parametrize("arguments", [["run"], ["walk"], ["run", "x", "--workers", "0"], ["card", "--paper", "a5"]])
def test_a_command_line_that_is_not_understood_ends_with_2(arguments, typed):
    status, words, errors = typed(*arguments)
    assert status == 2
    assert "Usage" in errors
    assert words == ""


def test_card_writes_a_pdf_and_says_how_to_print_it(tmp_path, typed):
    status, words, _ = typed("card", "--mm", 40, "--paper", "letter", "--out", tmp_path / "my card.pdf")
    assert status == 0
    assert (tmp_path / "my card.pdf").read_bytes().startswith(b"%PDF")
    assert "100 %" in words


def test_a_card_of_an_impossible_size_is_refused(tmp_path, typed):
    status, words, errors = typed("card", "--mm", 1e9, "--out", tmp_path / "card.pdf")
    assert (status, words) == (2, "")
    assert "What to do" in errors
    assert not (tmp_path / "card.pdf").exists()


def _ending(error: BaseException, capsys: pytest.CaptureFixture[str]) -> tuple[object, str]:
    with pytest.raises(SystemExit) as ended, plainly():
        raise error
    return ended.value.code, capsys.readouterr().err


@pytest.mark.parametrize(("kind", "status"), [(TrayError, 3), (PhotosError, 4), (ResultsError, 5)])
def test_a_problem_is_told_with_place_and_remedy_and_its_own_status(kind, status, capsys):
    code, text = _ending(kind("is empty", where="shelf", remedy="Put photos into it."), capsys)
    assert code == status
    assert text == "shelf: is empty\n  What to do: Put photos into it.\n"


@pytest.mark.parametrize(
    ("number", "said"),
    [(errno.ENOSPC, "disk is full"), (errno.EACCES, "may not read or write"), (errno.EIO, os.strerror(errno.EIO))],
)
def test_a_full_or_closed_disk_is_told_with_the_file(number, said, capsys):
    code, text = _ending(OSError(number, os.strerror(number), "results/film.mp4"), capsys)
    assert code == 6
    assert text.startswith("results/film.mp4: ")
    assert said in text
    assert "What to do" in text


def test_stopping_from_the_keyboard_is_no_fault(capsys):
    code, text = _ending(KeyboardInterrupt(), capsys)
    assert code == 130
    assert "What was measured is kept" in text


def test_a_fault_of_our_own_is_called_one_and_shows_its_place_only_on_request(capsys, monkeypatch):
    monkeypatch.delenv(DEBUG, raising=False)
    code, text = _ending(ZeroDivisionError("division by zero"), capsys)
    assert code == 70
    assert "fault in sproutlapse" in text
    assert "Traceback" not in text
    monkeypatch.setenv(DEBUG, "1")
    assert "Traceback" in _ending(ZeroDivisionError("division by zero"), capsys)[1]


def test_a_letter_that_the_terminal_lacks_ends_nothing(tmp_path):
    tray = tmp_path / "tray.toml"
    tray.write_text("[scale]\nmarker = 30\n", encoding="utf-8")
    code = (
        "from sproutlapse.cli import main; import sys; from pathlib import Path; import sproutlapse.cli as cli\n"
        "@cli.app.command()\n"
        "def read(path: Path) -> None:\n"
        "    with cli.plainly():\n"
        "        from sproutlapse.trayfile import read_tray; read_tray(path)\n"
        f"sys.argv[1:] = ['read', {str(tray)!r}]; main()\n"
    )
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False, env=environment)
    assert done.returncode == 3
    assert b"marker_mm" in done.stderr
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize("command", ["run", "check", "tray", "film", "report"])
def test_a_folder_that_is_not_there(command, tmp_path, typed):
    pytest.importorskip("sproutlapse.job")
    status, words, errors = typed(command, tmp_path / "no such folder")
    assert status == (4 if command in ("run", "check", "tray") else 5)
    assert "no such folder" in errors
    assert "What to do" in errors
    assert words == ""


def test_a_film_speed_that_is_out_of_range_is_refused(tmp_path, typed):
    pytest.importorskip("sproutlapse.job")
    status, _, errors = typed("film", tmp_path, "--fps", 1000)
    assert status == 5
    assert "1 to 60" in errors
