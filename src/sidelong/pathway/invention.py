"""Invented trainees for the demo and for trying things out: never to be taken for real ones.

Everything here is drawn, with assumptions that nobody has published (``docs/method/estimate.md``
lists them). What follows from it, plans, booklets, estimates and reports, is made by the same
functions as for a clinic's own files.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidelong.preferences import DEFAULT, LATER, NO, Conduct, Courses, Hyperparameters
from sidelong.preferences import simulate_courses as simulate
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
from sidelong.training.event import Event
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.safety import Tier

USUAL_CONDUCT = Conduct()
"""How invented families keep to their plans; every share in it is an assumption."""

_WRITTEN = (Written.SAME_EVENING, Written.NEXT_DAY, Written.LATER)
_WRITTEN_SHARES = (0.6, 0.25, 0.15)
_WHY_NOT = (WhyNot.SPAT_OUT, WhyNot.MELTED, WhyNot.REFUSED)
_EVENT_SHARES = {Tier.PAUSE: 0.2, Tier.STOP_TONIGHT: 0.05}


@dataclass(frozen=True, eq=False)
class InventedPractice:
    """What invented families wrote down, and what was true of the trainees all along.

    Parameters
    ----------
    entries : tuple of Entry
        By trainee and night; nights that were not practised are missing.
    next_ease : ndarray of float, shape (n_plans, 5)
        True latent ease of each position on the night after the plan, in the order of the plans
        and of the positions as listed; nothing that is shown or estimated may read it.
    """

    entries: tuple[Entry, ...]
    next_ease: NDArray[np.float64]


def draw_entries(
    plans: Sequence[Plan],
    *,
    scales: Mapping[str, Scale | None],
    rng: np.random.Generator,
    hyperparameters: Hyperparameters = DEFAULT,
    conduct: Conduct = USUAL_CONDUCT,
) -> tuple[Entry, ...]:
    """Draw what invented families write down; see :func:`draw_practice`, which knows the truth."""
    drawn = draw_practice(
        plans, scales=scales, rng=rng, hyperparameters=hyperparameters, conduct=conduct
    )
    return drawn.entries


def draw_practice(
    plans: Sequence[Plan],
    *,
    scales: Mapping[str, Scale | None],
    rng: np.random.Generator,
    hyperparameters: Hyperparameters = DEFAULT,
    conduct: Conduct = USUAL_CONDUCT,
) -> InventedPractice:
    """Draw what invented families write down while they follow their plans, and keep the truth.

    Parameters
    ----------
    plans : sequence of Plan
        At least one; one per trainee.
    scales : mapping of str to Scale or None
        Form of the rating by trainee, five answers where it is not given; None where the
        supporter's record of what went down is all there is.
    rng : numpy.random.Generator
        Source of chance.
    hyperparameters : Hyperparameters
        What all invented trainees share.
    conduct : Conduct
        How families keep to the plan.

    Returns
    -------
    InventedPractice
        Entries, and the truth for :func:`sidelong.pathway.invented_doses.true_chances`.
    """
    forms = [scales.get(plan.trainee, Scale.FIVE) for plan in plans]
    simulated = simulate(
        _orders(plans),
        hyperparameters=hyperparameters,
        rng=rng,
        piece_mm=_pieces(plans),
        scale=np.array([int(form or Scale.FIVE) for form in forms]),
        conduct=conduct,
    )
    entries = tuple(
        _entry(plan, night, form, simulated.courses, who=who, rng=rng)
        for who, (plan, form) in enumerate(zip(plans, forms, strict=True))
        for night in range(len(plan.nights))
        if simulated.courses.slot[who, night].any()
    )
    return InventedPractice(entries, simulated.next_ease)


def draw_events(entries: Sequence[Entry], *, rng: np.random.Generator) -> tuple[Event, ...]:
    """Draw safety events of invented trainees: brief coughs, and a few evenings that stopped.

    Parameters
    ----------
    entries : sequence of Entry
        Of many trainees; a share of the trainees has an event on one of these nights.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of Event
        By trainee.
    """
    nights: dict[str, list[Entry]] = {}
    for entry in entries:
        nights.setdefault(entry.trainee, []).append(entry)
    events = []
    for trainee, own in nights.items():
        for tier, share in _EVENT_SHARES.items():
            if rng.random() < share:
                entry = own[rng.integers(len(own))]
                row = entry.rows[rng.integers(len(entry.rows))]
                events.append(Event(trainee, entry.night, tier, row.position))
    return tuple(events)


def _orders(plans: Sequence[Plan]) -> NDArray[np.int_]:
    """Write orders as the simulator takes them, -1 where a plan has no night or slot."""
    listed = list(Position)
    orders = np.full((len(plans), max(len(plan.nights) for plan in plans), len(listed)), -1)
    for who, plan in enumerate(plans):
        for night, each in enumerate(plan.nights):
            orders[who, night, : len(each.order)] = [listed.index(one) for one in each.order]
    return orders


def _pieces(plans: Sequence[Plan]) -> NDArray[np.float64]:
    sizes = np.full((len(plans), max(len(plan.nights) for plan in plans)), 5.0)
    for who, plan in enumerate(plans):
        sizes[who, : len(plan.nights)] = [night.piece_mm for night in plan.nights]
    return sizes


def _entry(
    plan: Plan,
    night: int,
    form: Scale | None,
    courses: Courses,
    *,
    who: int,
    rng: np.random.Generator,
) -> Entry:
    listed = list(Position)
    slots = courses.slot[who, night]
    tried = sorted(np.flatnonzero(slots), key=lambda column: int(slots[column]))
    best = int(courses.felt_best[who, night]) if form else -1
    return Entry(
        trainee=plan.trainee,
        night=night + 1,
        rows=tuple(
            EntryRow(
                slot=int(slots[column]),
                position=listed[column],
                piece_mm=plan.nights[night].piece_mm,
                rating=(int(courses.rating[who, night, column]) or None) if form else None,
                went_down=_went_down(int(courses.went_down[who, night, column])),
                why_not=_why_not(int(courses.went_down[who, night, column]), rng),
                piece=plan.nights[night].piece,
                rated_by=RatedBy.TRAINEE if form else RatedBy.SUPPORTER,
            )
            for column in tried
        ),
        felt_best=listed[best] if best >= 0 else None,
        course=plan.course,
        version=plan.version,
        scale=form or Scale.FIVE,
        written=_WRITTEN[rng.choice(len(_WRITTEN), p=_WRITTEN_SHARES)],
        source=Source.SHEET,
        site=plan.site,
        band=plan.band,
    )


def _went_down(code: int) -> WentDown | None:
    if not code:
        return None
    return {LATER: WentDown.LATER, NO: WentDown.NO}.get(code, WentDown.FIRST)


def _why_not(code: int, rng: np.random.Generator) -> WhyNot | None:
    return _WHY_NOT[rng.integers(len(_WHY_NOT))] if code == NO else None
