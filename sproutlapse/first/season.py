"""How many photos a season makes and how much room they take on the card: plain arithmetic."""

from __future__ import annotations

from dataclasses import dataclass

from sproutlapse.first.verdict import Line, fine, mend

# When a plant came up is known to within the gap of two photos; six hours still tell morning from evening.
MOST_HOURS = 6.0
# Cards are sold in powers of ten; a tenth of one goes to the file system and to photos that turn out larger (leaves
# hold more detail than bare soil). Own proposal, no source.
FULL_SHARE = 0.9
GB = 1e9


@dataclass(frozen=True)
class Plan:
    """What the person means to do: a photo every so many hours, for so many days, onto a card with so much room."""

    every_hours: float | None = None
    days: float | None = None
    card_gb: float | None = None


def season(plan: Plan, photo_bytes: int) -> list[Line]:
    """Whether interval and card suit the season; nothing where nothing was told.

    Parameters
    ----------
    plan
        Only what was told is judged.
    photo_bytes
        Size of the first photo's file.
    """
    lines = []
    if plan.every_hours is not None:
        often = "hour" if plan.every_hours == 1 else f"{plan.every_hours:g} hours"
        says = f"a photo every {often} (at most {MOST_HOURS:g} hours)"
        fix = "Take them more often: when a plant came up is known no better than that."
        lines.append(mend("Interval", says, fix) if plan.every_hours > MOST_HOURS else fine("Interval", says))
    if plan.every_hours and plan.days:
        count = round(plan.days * 24 / plan.every_hours) + 1
        need = count * photo_bytes / GB
        room = f"{need:.1f} GB" if need >= 1 else f"{1000 * need:.0f} MB"
        says = f"{count} photos of {photo_bytes / 1e6:.1f} MB in {plan.days:g} days, {room} in all"
        if plan.card_gb is None:
            lines.append(fine("Card", says))
        elif need > FULL_SHARE * plan.card_gb:
            most = FULL_SHARE * plan.card_gb * GB / photo_bytes * plan.every_hours / 24
            fix = f"Take a larger card, or empty it after {most:.0f} days."
            lines.append(mend("Card", f"{says}; {plan.card_gb:g} GB free are too few", fix))
        else:
            lines.append(fine("Card", f"{says}; {plan.card_gb:g} GB are free"))
    return lines
