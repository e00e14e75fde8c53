"""Making the invented clinic: staff, rules, and some forty trainees at all stages of the way."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from importlib.resources import as_file, files

import numpy as np
from django.db import transaction
from django.utils import timezone

from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.demonstration.people import Waiting
from sidelong.clinic.demonstration.staff import hire_staff
from sidelong.clinic.demonstration.stages import STAGES
from sidelong.clinic.demonstration.walk import Surroundings
from sidelong.clinic.protocols.actions import take_up_ladder, take_up_protocol
from sidelong.clinic.trainees.plan_actions import begin_allocation
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.protocols import read_demo_protocol
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
        walks = [stage.go for stage in STAGES for _ in range(stage.n)]
        for n_done, number in enumerate(rng.permutation(len(walks)), start=1):
            walks[number](around)
            yield n_done


def _demo_ladder() -> Ladder:
    with as_file(files("sidelong.exchange") / "demo_ladder.csv") as path:
        return read_ladder(path)
