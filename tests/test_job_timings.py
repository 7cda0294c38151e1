"""`run --timings`: the time of a run, by part, adds up to the whole."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from sproutlapse.cli import main
from sproutlapse.work.store import NAME


def _forget_two_photos(results: Path) -> None:
    with closing(sqlite3.connect(results / NAME)) as store, store:
        store.execute("DELETE FROM findings WHERE digest IN (SELECT digest FROM findings ORDER BY digest LIMIT 2)")


def test_the_time_of_a_run_is_told_by_part(shelf_run: Path, monkeypatch, capsys):
    results = shelf_run.with_name("photos-results")
    _forget_two_photos(results)
    words = ["run", str(shelf_run), "--no-film", "--no-report", "--workers", "2", "--timings"]
    monkeypatch.setattr("sys.argv", ["sproutlapse", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    own, _, theirs = capsys.readouterr().out.partition("In the workers")
    rows = {line[:34].rstrip(): line[34:].split() for line in own.partition("seconds")[2].splitlines()[1:] if line}
    assert {"dates and hashes", "first photos", "reference", "measuring photos", "judging", "tables"} <= set(rows)
    assert "film" not in rows
    top = {name: float(row[0]) for name, row in rows.items() if not name.startswith(" ")}
    whole = top.pop("in all")
    assert sum(top.values()) == pytest.approx(whole, abs=0.1)
    assert 0 <= top["everything else"] < 0.2 * whole
    # Seconds a photo are told of the two that were measured.
    decoding, measuring = (next(line for line in theirs.splitlines() if line.startswith(p)) for p in ("dec", "meas"))
    seconds, _, a_photo, *_ = measuring[34:].split()
    assert float(seconds) == pytest.approx(2 * float(a_photo), abs=0.01)
    assert "%" in decoding
