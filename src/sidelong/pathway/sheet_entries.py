"""One night as its sheet says it, turned into an entry by the plan."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sidelong.training.entry import (
    Entry,
    EntryRow,
    RatedBy,
    Scale,
    Source,
    WentDown,
    WhyNot,
    Written,
)
from sidelong.training.plan import Plan
from sidelong.training.position import Position

ALL_THE_SAME = "same"
_OF_A_SLOT = re.compile(r"p([1-5])\.(rating|went_down|why_not)")
_TICKED = "1"


@dataclass(frozen=True)
class SheetNight:
    """What a sheet says about one night, every field of it.

    Parameters
    ----------
    plan : Plan
        Whose night it is.
    night : int
        Sheet number, from 1.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record.
    values : mapping of str to str
        By field; empty for nothing marked.
    printed : tuple of Position
        Positions in the order that is printed on the sheet; empty: as the plan has them. A spare
        sheet has an order of its own, whichever night it stands for.
    """

    plan: Plan
    night: int
    scale: Scale | None
    values: Mapping[str, str]
    printed: tuple[Position, ...] = ()

    @property
    def order(self) -> tuple[Position, ...]:
        """Positions of the night, slot 1 first."""
        return self.printed or self.plan.nights[self.night - 1].order

    def slots(self) -> dict[int, dict[str, str]]:
        """Give the answers of every slot that has any, by slot and question."""
        answered: dict[int, dict[str, str]] = {}
        for name, value in self.values.items():
            match = _OF_A_SLOT.fullmatch(name)
            if match and value:
                answered.setdefault(int(match[1]), {})[match[2]] = value
        return dict(sorted(answered.items()))


def contradictions(told: SheetNight) -> Iterator[tuple[str, str]]:
    """Find what cannot all be true on one sheet.

    Parameters
    ----------
    told : SheetNight
        What the sheet says.

    Yields
    ------
    field : str
        One field that is part of it.
    what : str
        What is wrong.
    """
    slots = told.slots()
    yield from _unknown_answers(told)
    if told.values.get("skipped") == _TICKED and slots:
        yield "skipped", "it is ticked as not practised, and answers are marked"
    for slot in slots:
        if slot > len(told.order):
            yield f"p{slot}.rating", f"the sheet has no slot {slot} on night {told.night}"
    best = told.values.get("felt_best", "")
    tried = {told.order[slot - 1] for slot in slots if slot <= len(told.order)}
    if best and best != ALL_THE_SAME and best not in tried:
        yield "felt_best", f"{best} is named as best, and nothing is marked for it"


def as_entry(told: SheetNight) -> Entry | None:
    """Make the entry of a night without contradictions.

    Parameters
    ----------
    told : SheetNight
        What the sheet says.

    Returns
    -------
    Entry or None
        None where nothing was practised: such a night has no rows.
    """
    slots = told.slots()
    if not slots:
        return None
    best, written = told.values.get("felt_best", ""), told.values.get("written", "")
    plan = told.plan
    return Entry(
        trainee=plan.trainee,
        night=told.night,
        rows=tuple(_row(told, slot, answers) for slot, answers in slots.items()),
        felt_best=Position(best) if best and best != ALL_THE_SAME else None,
        all_the_same=best == ALL_THE_SAME,
        course=plan.course,
        version=plan.version,
        scale=told.scale or Scale.FIVE,
        written=Written(written) if written else None,
        source=Source.SHEET,
        site=plan.site,
        band=plan.band,
    )


def _row(told: SheetNight, slot: int, answers: Mapping[str, str]) -> EntryRow:
    night = told.plan.nights[told.night - 1]
    rating, down, why = (answers.get(name) for name in ("rating", "went_down", "why_not"))
    return EntryRow(
        slot=slot,
        position=told.order[slot - 1],
        piece_mm=night.piece_mm,
        rating=int(rating) if rating else None,
        went_down=WentDown(down) if down else None,
        why_not=WhyNot(why) if why else None,
        rated_by=RatedBy.SUPPORTER if told.scale is None else RatedBy.TRAINEE,
        piece=night.piece,
    )


def _unknown_answers(told: SheetNight) -> Iterator[tuple[str, str]]:
    """Find values that their field does not offer; a person may have mistyped one."""
    ratings = {str(each) for each in (told.scale or Scale.FIVE).ratings}
    of_slot: dict[str, set[str]] = {
        "rating": ratings,
        "went_down": set(WentDown),
        "why_not": set(WhyNot),
    }
    of_page: dict[str, set[str]] = {
        "skipped": {_TICKED},
        "written": set(Written),
        "felt_best": {*told.order, ALL_THE_SAME},
        "tomorrow": {*told.order},
    }
    for name, value in told.values.items():
        match = _OF_A_SLOT.fullmatch(name)
        offered = of_slot[match[2]] if match else of_page.get(name)
        if value and offered is not None and value not in offered:
            others = ", ".join(sorted(map(str, offered)))
            yield name, f"this is no answer that the sheet offers ({others})"
