"""Kinds of seedlings that are tall by nature, so that no stem of theirs is called stretched.

Which kinds these are is common gardening knowledge; no published list is at hand.
"""

from __future__ import annotations

from sproutlapse.crops import crop_name
from sproutlapse.tray import Habit

NO_JUDGEMENT = "no stretch judgement for this kind"

# By the habit in tray.toml, or as it was told from the plant's look.
_HABITS: dict[Habit, str] = {"grasslike": "grass-like", "climber": "climbing", "feathery": "feathery"}

# By crop, whatever habit was told from the look: a bean and a cucumber lift their seed leaves high on a long stem, peas
# climb, and carrots and their kin carry leaves too fine for a measure of leaf. The names are those of `crops.py`, and
# of a few more that its tables do not know.
_CROPS: dict[str, str] = {
    **dict.fromkeys(
        ("snap bean", "lima bean", "runner bean", "soybean", "cucumber", "squash", "pumpkin", "zucchini", "courgette",
         "sunflower", "okra", "lupin"),
        "long-stemmed",
    ),
    **dict.fromkeys(("pea", "sweet pea", "nasturtium", "morning glory", "hop", "passion flower"), "climbing"),
    **dict.fromkeys(
        ("carrot", "parsnip", "parsley", "dill", "fennel", "caraway", "coriander", "asparagus", "cosmos"), "feathery"
    ),
    **dict.fromkeys(("onion", "leek", "chive", "bunching onion", "sweet corn"), "grass-like"),
}  # fmt: skip


def tall_by_nature(habit: Habit | None, crop: str | None) -> str:
    """How a kind grows that is not judged for stretching ("climbing"), or "" for a kind that is judged."""
    if crop:
        word = " ".join(crop.lower().replace("-", " ").replace("_", " ").split())
        for name in (crop_name(crop) or word, word.removesuffix("s"), word.removesuffix("es")):
            if name in _CROPS:
                return _CROPS[name]
    return _HABITS.get(habit, "") if habit else ""
