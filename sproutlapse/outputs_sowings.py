"""What a run says of its sowings before anything is up, and what it keeps of them for the next season."""

from __future__ import annotations

import pandas as pd

from sproutlapse.crops_window import unknown_words, warmth_words
from sproutlapse.tray import Tray
from sproutlapse.trayfile_records import COLUMNS

# Verdicts after which no more are waited for, so that the days are those of the whole sowing.
FINISHED = ("all up", "overdue")


def sowings_in_words(sowings: pd.DataFrame, tray: Tray) -> list[str]:
    """What to say at once: a soil too cold or too hot, a crop that no table knows, dates in the wrong order.

    Once something is up the soil is told of no more: seedlings grow best cooler than they sprout.
    """
    up = {str(row["sowing"]): int(row["emerged"]) for _, row in sowings.iterrows()}
    said = []
    for sowing in tray.sowings:
        waited_for = not up.get(sowing.name)
        words = [warmth_words(sowing), unknown_words(sowing) if sowing.crop else ""] if waited_for else []
        out = tray.season.plant_out
        if out is not None and sowing.sown is not None and out <= sowing.sown.date():
            words.append(f"plant_out ({out.isoformat()}) is not after the day it was sown: check both.")
        said += [f"{sowing.name}: {word}" for word in words if word]
    return said


def own_crops(sowings: pd.DataFrame, tray: Tray) -> pd.DataFrame:
    """A row per sowing of which something came up and the date is known: own-crops.csv.

    Days are those of the middle of the gap between two photos, as in sowings.csv. `finished` tells whether more may
    have come after the last photo.
    """
    known = {sowing.name: sowing for sowing in tray.sowings}
    rows = []
    for _, row in sowings.iterrows():
        own = known[str(row["sowing"])]
        if own.sown is None or pd.isna(row["first_days"]):
            continue
        verdict = str(row["verdict"])
        by_seed = own.seeds_per_cell is not None
        rows.append(
            {
                "crop": own.crop or "",
                "variety": own.variety or "",
                "lot": own.lot or "",
                "sowing": own.name,
                "sown": own.sown.date().isoformat(),
                "soil_c": own.soil_c,
                "unit": "seed" if by_seed else "pot",
                "of": int(row["seeds"] if by_seed else row["plants"]),
                "up": int(row["emerged"]),
                "first_days": row["first_days"],
                "median_days": row["median_days"],
                "last_days": row["first_days"] + row["spread_days"],
                "finished": verdict.startswith(FINISHED) or "more is unlikely" in verdict,
            }
        )
    return pd.DataFrame(rows, columns=list(COLUMNS))
