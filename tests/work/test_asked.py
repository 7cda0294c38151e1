"""Costly answers are found once, and forgotten when no run needs them."""

from pathlib import Path

import pytest

from sproutlapse.work.asked import KEY, Asked
from sproutlapse.work.store import Store


def fail() -> int:
    raise LookupError


def test_the_next_run_finds_nothing_again_unless_what_it_depends_on_changed(tmp_path: Path):
    with Store(tmp_path) as store:
        asked = Asked.of(store)
        assert asked.ask(["view", [1.0, 0.5]], lambda: 7) == 7
        asked.keep()
    with Store(tmp_path) as store:
        again = Asked.of(store)
        assert again.ask(["view", [1.0, 0.5]], fail) == 7
        assert again.ask(["view", [1.0, 0.6]], lambda: 8) == 8


def test_what_a_run_did_not_ask_is_forgotten_and_a_failure_is_no_answer(tmp_path: Path):
    with Store(tmp_path) as store:
        asked = Asked.of(store)
        asked.ask(["old"], lambda: 1)
        with pytest.raises(LookupError):
            asked.ask(["unread"], fail)
        asked.end()
        later = Asked.of(store)
        assert later.ask(["unread"], lambda: 2) == 2
        later.end()
        assert len(store.about(KEY)) == 1
