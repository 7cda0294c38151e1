"""How far a long step is, on a terminal and elsewhere."""

import io

import pytest

from sproutlapse.progress import PlainLines, Silent, TerminalBar, progress_for, spoken_seconds


class Screen(io.StringIO):
    """A terminal as far as a program can tell."""

    def isatty(self) -> bool:
        return True


def test_the_way_to_show_progress_fits_the_place():
    assert isinstance(progress_for(stream=Screen()), TerminalBar)
    assert isinstance(progress_for(stream=io.StringIO()), PlainLines)
    assert isinstance(progress_for(quiet=True, stream=Screen()), Silent)


def test_a_log_file_gets_one_line_a_minute():
    log, now = io.StringIO(), [0.0]
    with PlainLines(log, clock=lambda: now[0]).stage("measuring photos", 300) as stage:
        for _ in range(150):
            now[0] += 1.0
            stage.advance()
    assert log.getvalue().splitlines() == [
        "measuring photos: 60 of 300 done, about 4 min left",
        "measuring photos: 120 of 300 done, about 3 min left",
    ]


def test_quiet_is_quiet(capsys):
    progress = progress_for(quiet=True)
    progress.say("hello")
    with progress.stage("measuring photos", 3) as stage:
        stage.advance(3)
    assert capsys.readouterr() == ("", "")


def test_a_terminal_gets_a_bar_that_comes_to_its_end():
    screen = Screen()
    progress = TerminalBar(screen)
    with progress.stage("measuring [1, 2]", 3) as stage:
        stage.advance(2)
        progress.say("one [red] sentence")
        with progress.stage("decoding", 1) as inner:
            inner.advance()
        stage.advance()
    progress.say("done")
    shown = screen.getvalue()
    assert "measuring [1, 2]" in shown
    assert "3/3" in shown
    assert "one [red] sentence" in shown
    assert shown.endswith("done\n")


def test_a_step_that_fails_leaves_the_terminal_usable():
    screen = Screen()
    progress = TerminalBar(screen)
    with pytest.raises(ValueError, match="no"), progress.stage("measuring", 3):
        raise ValueError("no")
    with progress.stage("again", 1) as stage:
        stage.advance()
    assert "\x1b[?25h" in screen.getvalue(), "the cursor is shown again"


@pytest.mark.parametrize(
    ("seconds", "text"), [(-1, "0 s"), (40.4, "40 s"), (100, "2 min"), (3600, "60 min"), (7500, "2 h 5 min")]
)
def test_lengths_of_time_as_one_says_them(seconds, text):
    assert spoken_seconds(seconds) == text
