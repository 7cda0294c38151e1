"""Page and film beside the watch: what could not be made is told and tried again."""

import os
import sys
import time
from pathlib import Path

import pytest
from watched_folder import look, watching

from sproutlapse.job_watch_page import EVERY_S, PageMaker


def stepped(maker: PageMaker) -> str:
    """Step until nothing is under way; what it said."""
    said = maker.step()
    until = time.monotonic() + 30
    while maker._process is not None and time.monotonic() < until:
        time.sleep(0.02)
        said += maker.step()
    return said


@pytest.mark.skipif(sys.platform == "win32", reason="limits of other systems")
def test_a_process_that_cannot_be_started_is_told_once_and_tried_again(shelf_run: Path):
    import resource  # noqa: PLC0415 - not everywhere

    now = 1000.0
    maker = PageMaker(film=False, page=True, clock=lambda: now)
    watch = watching(shelf_run)
    look(watch)
    assert watch.outcome is not None
    whole = watch.outcome.whole
    maker.offer(whole, None)
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    try:
        first = os.open(os.devnull, os.O_RDONLY)
        os.close(first)
        resource.setrlimit(resource.RLIMIT_NOFILE, (first + 2, hard))  # enough for a pipe, too few for a process
        assert "could not be made" in stepped(maker)
        now += 2 * EVERY_S
        assert stepped(maker) == ""
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    assert maker.busy
    now += 2 * EVERY_S
    stepped(maker)
    assert not maker.busy
    assert (whole.out / "report.html").is_file()
