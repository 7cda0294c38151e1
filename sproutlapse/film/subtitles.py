"""What happened as subtitles (WebVTT), for players that show them."""

from __future__ import annotations

from collections.abc import Sequence

# So long a line stands, unless the next one comes earlier; shorter than this nobody reads it.
STANDS_S, LEAST_S = 3.0, 0.8


def webvtt(lines: Sequence[tuple[float, str]], length_s: float) -> str:
    """The file's text.

    Parameters
    ----------
    lines
        (second of the film, words), in order.
    length_s
        Length of the film, seconds.
    """
    made = ["WEBVTT", ""]
    for number, (start, words) in enumerate(lines):
        after = lines[number + 1][0] if number + 1 < len(lines) else length_s
        end = min(start + STANDS_S, max(after, start + LEAST_S), length_s)
        if end > start:
            safe = words.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
            made += [f"{_clock(start)} --> {_clock(end)}", " ".join(safe.split()), ""]
    return "\n".join(made) + ("" if made[-1] == "" else "\n")


def _clock(seconds: float) -> str:
    """Hours, minutes, seconds and thousandths (W3C WebVTT, 4.1, "WebVTT timestamp")."""
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
