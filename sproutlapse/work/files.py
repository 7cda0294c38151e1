"""Tables and other files of the results folder, written beside and moved into place: the old or the new, never half."""

from __future__ import annotations

import errno
import hashlib
import json
import math
import os
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sproutlapse.errors import ResultsError

# Pure numbers get four decimals, everything else that is measured three: the contract of files out.
_RATIOS = frozenset(
    {"height_to_leaf", "emerged_share", "gain", "rgr_per_day", "share_low", "share_high", "speed_per_day", "synchrony",
     "uncertainty_bits", "fit_log_sd", "fit_final_share", "lead_share", "lead_sd_share", "equal_age_spread",
     "rate_per_day", "rate_sd_per_day"}
)  # fmt: skip

# A quota that is used up and a largest file size that is reached call for the same remedy as a full disk.
_FULL = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})

# Windows opens a device under these names, whatever stands behind a dot: Microsoft, "Naming Files, Paths, and
# Namespaces".
_DEVICES = frozenset(
    {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in "0123456789\u00b9\u00b2\u00b3")}
)
_DIGITS = 6  # of a digest: enough to tell a tray's plants apart, short enough to be read


def is_device(name: str) -> bool:
    """Whether some system takes a file of this name for a device, so that no file can have it."""
    return name.partition(".")[0].strip().casefold() in _DEVICES


def told_apart(plain: str, name: str) -> str:
    """A file's name that stands for something else's name alone: with a short digest of it, always the same."""
    return f"{plain}-{hashlib.sha256(name.encode('utf-8')).hexdigest()[:_DIGITS]}"


def beside_of(path: Path) -> Path:
    """Where a file is written before it is moved into place: another place for each process, and the number in it tells
    the next run whose it is."""
    return path.with_name(f"{path.name}.{os.getpid()}.part")


def put(path: Path, data: bytes) -> None:
    """Write a file whole, or leave the old one; a file that holds the same bytes already is not touched.

    Raises
    ------
    ResultsError
        If the disk is full or the folder may not be written.
    """
    beside = beside_of(path)
    try:
        if path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data:
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise not_written(path, error) from error


def sync_folder(folder: Path) -> None:
    """Have the disk hold the names in a folder, too: a file that cannot be made again must outlast a power failure."""
    if os.name == "nt":
        return  # a folder cannot be opened there
    with suppress(OSError):  # some network disks cannot do it
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def not_written(path: Path, error: OSError) -> ResultsError:
    """What a failed write means for a person."""
    if error.errno in _FULL:
        return ResultsError(
            "the disk is full.", where=str(path), remedy="Make room and run again: it goes on where it stopped."
        )
    return ResultsError(
        f"cannot be written ({error.strerror or error}).",
        where=str(path),
        remedy="Check that the folder is there and may be written, and that no other program has the file open; "
        "or name another folder with --out.",
    )


def csv_bytes(table: pd.DataFrame, columns: tuple[str, ...] | None = None) -> bytes:
    """A table as the contract writes it: UTF-8, line feeds, lengths with three decimals, ratios with four, true and
    false, empty where there is no value."""
    columns = columns or tuple(str(c) for c in table.columns)
    lines = [",".join(columns)]
    parts = [_cells(table[name], 4 if name in _RATIOS else 3) for name in columns]
    lines += [",".join(row) for row in zip(*parts, strict=True)]
    return ("\n".join(lines) + "\n").encode("utf-8")


def _cells(column: pd.Series[Any], decimals: int) -> list[str]:
    """A column's cells. Most are numbers, and texts that come again in many rows."""
    if column.dtype == np.float64:
        return _numbers(column.to_numpy(), decimals)
    known: dict[tuple[type, Any], str] = {}
    out = []
    for value in column.tolist():
        key = type(value), value
        text = known.get(key)
        if text is None:
            text = known[key] = _cell(value, decimals)
        out.append(text)
    return out


def _numbers(values: NDArray[np.float64], decimals: int) -> list[str]:
    out = np.full(len(values), "", dtype=object)
    there = np.isfinite(values)
    known = values[there]
    if len(known):
        texts = ("\n".join([f"%.{decimals}f"] * len(known)) % tuple(known.tolist())).split("\n")
        # What is nought when rounded has no sign.
        for at in np.flatnonzero((known <= 0) & (known > -1.0)):
            texts[at] = _cell(float(known[at]), decimals)
        out[there] = texts
    return out.tolist()


def _cell(value: Any, decimals: int) -> str:
    if value is None or value is pd.NaT or value is pd.NA:
        return ""
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    if isinstance(value, int | np.integer):
        return str(value)
    if isinstance(value, float | np.floating):
        if not math.isfinite(value):
            return ""
        text = f"{value:.{decimals}f}"
        return text[1:] if text.startswith("-") and float(text) == 0 else text
    text = str(value)
    return '"' + text.replace('"', '""') + '"' if any(c in text for c in ',"\n\r') else text


def json_bytes(values: dict[str, Any]) -> bytes:
    """Values as JSON text, keys in the order given, numbers as they are."""
    return (json.dumps(values, indent=1, ensure_ascii=False) + "\n").encode("utf-8")
