"""When to expect the sprouts of a sowing, whether its soil is too cold or too hot, and what its seed needs: in words.

What the grower's own records say (`own_days` of a sowing) goes before every table; overdue is nothing before twice
either of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sproutlapse.crops import (
    DAYS_TABLE,
    MEMORY_SOURCE,
    SOIL_F,
    SUITED,
    TEMPERATURES_C,
    WEEKS,
    best_column,
    celsius,
    crop_name,
    days_at,
    days_to_emergence,
    near_name,
    overdue_after_days,
    percent_at,
    weeks_to_grow,
)
from sproutlapse.tray import Need, Sowing

# Common practice, no source: peppers sprout on a mat set to so many degrees C, most else does well in such a room.
MAT_C, PLAIN_ROOM_C = 24.0, 16.0
# A soil is called too cold or too hot where sprouts take so many times longer and so many days more than at the best
# temperature, or where so small a share of the best share is normal. Own proposals.
SLOW_TIMES, SLOW_DAYS, POOR_SHARE = 2.0, 4.0, 0.8
# Above the degrees that suit by so much, no table tells of these crops. Own proposal.
HOTTER_C = 6.0
# A temperature written in degrees F is the same as a limit in a table up to so much. Own proposal.
SAME_C = 0.05


@dataclass(frozen=True)
class Window:
    """Days after sowing in which sprouts are to be expected, and whose figures these are (`yours` or a source)."""

    fewest: float
    most: float
    source: str
    own: bool = False

    @property
    def from_memory(self) -> bool:
        """Whether they are from memory, without a source at hand."""
        return self.source.startswith(MEMORY_SOURCE)


def window(sowing: Sowing) -> Window | None:
    """The window of a sowing, None where neither a record nor a table knows it, or its seed waits for cold first."""
    if sowing.own_days is not None:
        return Window(*sowing.own_days, "your own records", own=True)
    if waits_for_cold(sowing):
        return None
    days = days_to_emergence(sowing.crop, sowing.soil_c)
    return None if days is None else Window(days.fewest, days.most, days.source)


def waits_for_cold(sowing: Sowing) -> bool:
    """Whether days are not to be counted from the sowing, because a cold spell of unknown length lies between."""
    return "cold" in sowing.needs


def overdue_after(sowing: Sowing, *, times: float) -> float | None:
    """Days after sowing before which nothing is overdue: twice the longer of the table's and the grower's own."""
    if waits_for_cold(sowing):
        return None
    limits = [overdue_after_days(sowing.crop, sowing.soil_c, times=times)]
    limits.append(None if sowing.own_days is None else max(times, 2.0) * sowing.own_days[1])
    return max((limit for limit in limits if limit is not None), default=None)


def span(fewest: float, most: float) -> str:
    """`8 days`, `11 to 16 days`."""
    if round(fewest) == round(most):
        return f"{most:.0f} day{'' if round(most) == 1 else 's'}"
    return f"{fewest:.0f} to {most:.0f} days"


def expected(sowing: Sowing, *, times: float = 2.0) -> str:
    """When sprouts are to be expected, with how sure that is, as it goes on behind `overdue: ...,`; `times` that much
    is waited for before anything is overdue."""
    own = own_words(sowing)
    if own:
        return own
    if waits_for_cold(sowing):
        return "its cold spell comes first, so no days can be told"
    days = window(sowing)
    if days is None:
        return "no table says when to expect it"
    often = "twice" if times <= 2 else f"{times:g} times"
    where = f" at {sowing.soil_c:.0f} °C" if sowing.soil_c is not None else ""
    return f"usually about {span(days.fewest, days.most)}{where}, up to {often} that is no alarm"


def own_words(sowing: Sowing) -> str:
    """`yours took 11 to 16 days last year`, or nothing without a record."""
    if sowing.own_days is None:
        return ""
    year = sowing.own_year
    last = sowing.sown is not None and year == sowing.sown.year - 1
    when = "" if year is None else " last year" if last else f" in {year}"
    return f"yours took {span(*sowing.own_days)}{when}"


def sow_again_by(sowing: Sowing, plant_out: date | None) -> date | None:
    """The last day on which sowing again leaves the fewest weeks the crop needs before planting out, or None."""
    weeks = weeks_to_grow(sowing.crop)
    return None if weeks is None or plant_out is None else plant_out - timedelta(weeks=weeks[0])


def weeks_from_memory(sowing: Sowing) -> bool:
    """Whether the weeks to grow of its crop are from memory, without a source at hand."""
    name = crop_name(sowing.crop)
    return name in WEEKS and WEEKS[name][2] == MEMORY_SOURCE


def warmth_words(sowing: Sowing) -> str:
    """What to say at once of a soil that is too cold or too hot; nothing where it suits the crop or is not known."""
    name, soil_c = crop_name(sowing.crop), sowing.soil_c
    if name is None or soil_c is None or (waits_for_cold(sowing) and soil_c < _likes_from(name)):
        return ""
    return _suited_warmth(name, soil_c) if name in SUITED else _table_warmth(name, soil_c)


def _likes_from(name: str) -> float:
    """Degrees C from which on a crop is not too cold: what is cooler may be the cold spell that its seed needs."""
    return celsius(SUITED[name].low_f) if name in SUITED else best_column(name) or 0.0


def _degrees(soil_c: float) -> str:
    """`18.3 °C`; a temperature that was written in degrees F has more places than any thermometer."""
    return f"{round(soil_c, 1) + 0.0:g} °C"


def _table_warmth(name: str, soil_c: float) -> str:
    best = best_column(name)
    fast = None if best is None else days_at(name, best)
    if best is None or fast is None:
        return ""
    days, normal, most = days_at(name, soil_c), percent_at(name, soil_c), percent_at(name, best)
    side = "cold" if soil_c < best else "hot"
    there = f"at {best:.0f} °C: {span(fast, fast)}" + ("" if most is None else f", {most:.0f} %")
    act = f"Set it {'warmer' if side == 'cold' else 'cooler'}."
    if days is None and _bears(name, soil_c, normal, most):
        return f"No table has days for {name} at {_degrees(soil_c)}{_for_it(name, normal)}; {there}."
    if days is None:
        return f"Too {side} for {name}: {_none_known(name, soil_c, normal)}; {there}. {act}"
    slow = days >= SLOW_TIMES * fast and days - fast >= SLOW_DAYS
    poor = normal is not None and most is not None and normal <= POOR_SHARE * most
    if not slow and not poor:
        return ""
    here = f"at {_degrees(soil_c)} about {span(days, days)}"
    here += "" if normal is None else f", {normal:.0f} % normal seedlings"
    return f"{side.capitalize()} for {name}: {here}; {there}. {act}"


def _good(name: str) -> tuple[float, float] | None:
    """Degrees C within which a crop does well."""
    return (celsius(SOIL_F[name][1]), celsius(SOIL_F[name][2])) if name in SOIL_F else None


def _bears(name: str, soil_c: float, normal: float | None, most: float | None) -> bool:
    """Whether a crop does well where nobody counted its days: not tested is neither cold nor hot."""
    good = _good(name)
    if good is not None and good[0] - SAME_C <= soil_c <= good[1] + SAME_C:
        return True
    tested = max((c, days) for c, days in zip(TEMPERATURES_C, DAYS_TABLE[name], strict=True) if days is not None)
    if good is None and tested[1] > 0 and tested[0] < soil_c <= tested[0] + HOTTER_C:
        return True
    return normal is not None and most is not None and normal > POOR_SHARE * most


def _for_it(name: str, normal: float | None) -> str:
    """What speaks for a temperature at which no table has days, and the percentage of normal seedlings there."""
    good = _good(name)
    well = "" if good is None else f"; it does well from {good[0]:.0f} to {good[1]:.0f} °C"
    return well + ("" if normal is None else f"; {normal:.0f} % normal seedlings in one trial")


def _none_known(name: str, soil_c: float, normal: float | None) -> str:
    """What the table says around a temperature at which it gives no days."""
    low, _, _, _, high = (celsius(f) for f in SOIL_F.get(name, (0.0, 0.0, 0.0, 0.0, 999.0)))
    if soil_c < low:
        return f"{_degrees(soil_c)} is below the {low:.0f} °C that it needs at least"
    if soil_c > high:
        return f"{_degrees(soil_c)} is above the {high:.0f} °C that it bears"
    some = "" if not normal else f", though {normal:.0f} % normal seedlings"
    return f"no table has days at {_degrees(soil_c)}{some}"


def _suited_warmth(name: str, soil_c: float) -> str:
    crop = SUITED[name]
    low, high = celsius(crop.low_f), celsius(crop.high_f)
    likes = f"{low:.0f} °C" if crop.low_f == crop.high_f else f"{low:.0f} to {high:.0f} °C"
    usual = f"it likes {likes}: {span(crop.fewest, crop.most)}"
    days = days_to_emergence(name, soil_c)
    if days is None:
        return f"Too cold for {name}: next to nothing is to be expected at {_degrees(soil_c)}; {usual}. Set it warmer."
    if soil_c > high + HOTTER_C:
        return f"Hot for {name}: no table tells of {_degrees(soil_c)}; {usual}. Set it cooler."
    if days.most >= SLOW_TIMES * crop.most and days.most - crop.most >= SLOW_DAYS:
        return f"Cold for {name}: at {_degrees(soil_c)} about {span(days.fewest, days.most)}; {usual}. Set it warmer."
    return ""


_NEEDS: dict[Need, str] = {
    "light": "Press the seed on and do not bury it: it sprouts in light.",
    "dark": "Keep it covered and dark until the first are up, then give light at once.",
    "cold": "Its cold spell comes first: days say nothing before that is over, and nothing is called overdue.",
    "soaking": "Soak the seed for a night before sowing, not longer; soaked seed may be up a day or two sooner.",
    "warmth": f"Keep it warm: a mat set to {MAT_C:.0f} °C is common practice, under a thermostat with its probe in the"
    " soil.",
}


def needs_words(sowing: Sowing) -> str:
    """What its seed needs to sprout, by `needs`, else by what is usual for the crop; empty where nothing is special."""
    name = crop_name(sowing.crop)
    usual = SUITED[name].needs if name in SUITED and not sowing.needs else ()
    said = [_NEEDS[need] for need in sowing.needs]
    if usual:
        said.append(f"Such seed usually needs {' and '.join(usual)}: write needs if yours does.")
    if name == "pepper" and sowing.soil_c is None and "warmth" not in sowing.needs:
        slow = days_at("pepper", PLAIN_ROOM_C)
        room = "" if slow is None else f"; in a room of {PLAIN_ROOM_C:.0f} °C it takes about {slow:.0f} days"
        said.append(f"Peppers are commonly set on a mat at {MAT_C:.0f} °C{room}.")
    return " ".join(said)


def unknown_words(sowing: Sowing) -> str:
    """That no table knows a crop, and what can be said without one; nothing where one knows it."""
    if crop_name(sowing.crop) is not None or sowing.own_days is not None:
        return ""
    if not sowing.crop:
        return "Write crop, and the days to expect can be told."
    near = near_name(sowing.crop)
    if near is not None:
        return f"No table knows “{sowing.crop}”: did you mean {near}? Till then its days and warmth are not told."
    return (
        f"No table knows “{sowing.crop}”, so when to expect it is not told and nothing is called overdue; if the "
        "packet tells days, write them as own_days."
    )
