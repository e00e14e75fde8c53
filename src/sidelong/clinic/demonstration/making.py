"""Making the invented clinic: staff, rules, and some fifty trainees at all stages of the way."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from importlib.resources import as_file, files

import numpy as np
from django.db import transaction
from django.utils import timezone

from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.demonstration.people import Waiting
from sidelong.clinic.demonstration.staff import hire_staff
from sidelong.clinic.demonstration.stages import (
    BEFORE_THE_FIT,
    FIRST_FIT,
    NEXT_FIT,
    SINCE_THE_FIT,
    STAGES,
    Stage,
)
from sidelong.clinic.demonstration.walk import Surroundings, at_morning
from sidelong.clinic.practice.fit_actions import record_consent, refit
from sidelong.clinic.practice.fits import consents_now
from sidelong.clinic.protocols.actions import take_up_ladder, take_up_protocol
from sidelong.clinic.trainees.plan_actions import begin_allocation
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.protocols import read_demo_protocol
from sidelong.training.consent import Consent
from sidelong.training.ladder import Ladder

N_TRAINEES = sum(stage.n for stage in STAGES)
_BEFORE_ALL = timedelta(days=120)


def invented_on() -> date | None:
    """Give the day on which the clinic was invented; None where that is still to be done."""
    first = AuditRow.objects.order_by("number").values_list("at", flat=True).first()
    return None if first is None else timezone.localdate(datetime.fromisoformat(first))


def invent_clinic(*, today: date, rng: np.random.Generator) -> Iterator[int]:
    """Write the invented clinic's past, all of it or nothing.

    Parameters
    ----------
    today : date
        Today at the site: the day to which everything has come.
    rng : numpy.random.Generator
        Source of chance; orders of positions come from the allocation key, as in a real clinic.

    Yields
    ------
    int
        How many trainees there are so far.
    """
    protocol, ladder = read_demo_protocol(), _demo_ladder()
    # One transaction: an interrupted making leaves nothing, and the disk is waited for once.
    with transaction.atomic():
        staff = hire_staff()
        begun = timezone.make_aware(datetime.combine(today - _BEFORE_ALL, time(9)))
        take_up_protocol(protocol=protocol, now=begun, by=staff.lead)
        take_up_ladder(site=protocol.site, ladder=ladder, now=begun, by=staff.lead)
        begin_allocation(now=begun, by=staff.lead)
        waiting = Waiting(protocol, ladder, today=today, rng=rng)
        around = Surroundings(today, protocol, ladder, staff, waiting, rng)
        n_done = 0
        for stages in (BEFORE_THE_FIT, SINCE_THE_FIT):
            for _ in _walk_all(stages, around):
                n_done += 1
                yield n_done
            if stages is BEFORE_THE_FIT:
                _learn(around)


def _walk_all(stages: Sequence[Stage], around: Surroundings) -> Iterator[None]:
    walks = [stage.go for stage in stages for _ in range(stage.n)]
    for number in around.rng.permutation(len(walks)):
        yield walks[number](around)


def _learn(around: Surroundings) -> None:
    """Have the clinic's own fit made, let somebody take consent back, and have it made anew."""
    first, then = (around.today - timedelta(days=days) for days in (FIRST_FIT, NEXT_FIT))
    refit(now=at_morning(first), today=first, by=around.staff.lead)
    willing = sorted(code for code, said in consents_now().items() if said is Consent.YES)
    record_consent(
        code=str(around.rng.choice(willing)),
        answer=Consent.NO,
        now=at_morning(then),
        by=around.staff.coach,
    )
    refit(now=at_morning(then), today=then, by=around.staff.lead)


def _demo_ladder() -> Ladder:
    with as_file(files("sidelong.exchange") / "demo_ladder.csv") as path:
        return read_ladder(path)
