"""A measured figure as a grower reads it: rounded in one way wherever it is said."""

from __future__ import annotations

import math

# "Give or take" is twice the standard deviation: 19 of 20 true values lie within (normal errors).
GIVE_OR_TAKE = 2.0
# Twice a deviation from here on bears no decimals. Own proposal.
WHOLE_FROM = 0.95


def rounded(value: float, places: int) -> str:
    """Fixed decimals with a real minus sign and no minus before zero."""
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text.replace("-", "−")


def amount(value: float, unit: str, sd: float | None = None, *, places: int | None = None) -> str:
    """`41 mm, give or take 2`; without an uncertainty the number alone.

    Parameters
    ----------
    value, sd
        The measured figure and its standard deviation, in `unit`; None or NaN where the deviation is not known.
    unit
        What follows the number, `mm` or `mm tall`.
    places
        Decimals; as many as the uncertainty bears if not given.
    """
    give = None if sd is None or math.isnan(sd) else GIVE_OR_TAKE * sd
    if places is None:
        places = _places(value, give)
    text = f"{rounded(value, places)} {unit}"
    return text if give is None else f"{text}, give or take {_rounded_up(give, places)}"


def _places(value: float, give: float | None) -> int:
    if give is None:
        return 0 if abs(value) >= 10 else 1
    return 0 if give >= WHOLE_FROM else 1


def _rounded_up(give: float, places: int) -> str:
    """An uncertainty is rounded up, as rounding it down would promise too much, and is never said as 0."""
    steps = max(math.ceil(give * 10**places - 1e-9), 1)
    return f"{steps / 10**places:.{places}f}"
