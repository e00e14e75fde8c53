"""From trainees who may practise to plans: the next order of their stream for every night.

Trainees enrol one at a time. Those who share site, band, allowed positions and number of nights
form a stream, and each takes the next place in it; the orders of a stream balance one another at
any number enrolled (``docs/method/orders.md``).
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from sidelong.designs import SUPPORTED_NIGHTS, allocate_orders, commit_seed, key_from_seed
from sidelong.pathway.enrolling import Enrolment
from sidelong.problems import Problem, Refused
from sidelong.training.entry import RatedBy, Scale
from sidelong.training.plan import AllocationRecord, Night, Plan
from sidelong.training.protocol import Protocol


def allocation_key(seed: str) -> bytes:
    """Turn a seed as it is written down into the key of the draws.

    Parameters
    ----------
    seed : str
        64 hexadecimal digits, which are the key; or a whole number, which is easy to repeat and
        easy to guess.

    Returns
    -------
    bytes
        32 bytes.

    Raises
    ------
    Refused
        If it is neither.
    """
    if re.fullmatch("[0-9a-fA-F]{64}", seed):
        return bytes.fromhex(seed)
    if re.fullmatch("[0-9]{1,18}", seed):
        return key_from_seed(int(seed))
    remedy = "Give a whole number, or the 64 hexadecimal digits of a recorded seed."
    raise Refused([Problem("seed", "this is not a seed", remedy, "seed")])


def check_nights(n_nights: int) -> None:
    """Refuse a course for which there are no proven orders.

    Parameters
    ----------
    n_nights : int
        Nights of the course.

    Raises
    ------
    Refused
        Naming the numbers of nights that are offered.
    """
    if n_nights not in SUPPORTED_NIGHTS:
        what = f"there are no proven orders for {n_nights} nights"
        remedy = f"Use one of {', '.join(map(str, SUPPORTED_NIGHTS))}."
        raise Refused([Problem("nights", what, remedy, "nights")])


def draw_plan(
    enrolment: Enrolment,
    *,
    seed: str,
    index: int,
    n_nights: int,
    start: date | None = None,
    protocol_version: str = "",
) -> Plan:
    """Draw one trainee's plan.

    Parameters
    ----------
    enrolment : Enrolment
        Whose plan, and which positions.
    seed : str
        The secret seed of the allocation; keep it apart until it is published.
    index : int
        The trainee's place in the stream, from 0. Whoever counts must hand out each place once.
    n_nights : int
        Nights of the course: 7, 10, 14, 21 or 28.
    start : date or None
        First evening, where one was agreed.
    protocol_version : str
        Version of the signed protocol; empty by command.

    Returns
    -------
    Plan
        With its allocation record.

    Raises
    ------
    Refused
        If there are no orders for this number of nights.
    """
    check_nights(n_nights)
    key, stream = allocation_key(seed), enrolment.stream(n_nights)
    orders = allocate_orders(
        key, stream=stream, index=index, n_positions=len(enrolment.positions), n_nights=n_nights
    )
    piece = enrolment.piece
    nights = (
        Night(tuple(enrolment.positions[each] for each in order), piece.piece_mm, piece.piece)
        for order in orders.tolist()
    )
    return Plan(
        trainee=enrolment.trainee,
        nights=tuple(nights),
        site=enrolment.site,
        band=enrolment.band,
        course=enrolment.course,
        version=enrolment.version,
        start=start,
        protocol_version=protocol_version,
        allocation=AllocationRecord(commit_seed(key), stream, index),
    )


def draw_plans(
    enrolments: Iterable[Enrolment],
    *,
    seed: str,
    n_nights: int,
    start: date | None = None,
    protocol_version: str = "",
    earlier: Iterable[Plan] = (),
) -> tuple[Plan, ...]:
    """Draw plans for trainees in the order in which they enrolled.

    Parameters
    ----------
    enrolments : iterable of Enrolment
        In order of enrolment.
    seed : str
        The secret seed of the allocation.
    n_nights : int
        Nights of the course: 7, 10, 14, 21 or 28.
    start : date or None
        First evening, where one was agreed for all of them.
    protocol_version : str
        Version of the signed protocol; empty by command.
    earlier : iterable of Plan
        Plans drawn before with the same seed; the new ones take the next places of each stream.

    Returns
    -------
    tuple of Plan
        The new ones, in order of enrolment.
    """
    enrolled: Counter[str] = Counter()
    for plan in earlier:
        if plan.allocation is not None:
            place = plan.allocation.index + 1
            enrolled[plan.allocation.stream] = max(enrolled[plan.allocation.stream], place)
    plans = []
    for enrolment in enrolments:
        stream = enrolment.stream(n_nights)
        plans.append(
            draw_plan(
                enrolment,
                seed=seed,
                index=enrolled[stream],
                n_nights=n_nights,
                start=start,
                protocol_version=protocol_version,
            )
        )
        enrolled[stream] += 1
    return tuple(plans)


def differing_plans(plans: Sequence[Plan], *, seed: str) -> tuple[str, ...]:
    """Draw every plan again from a published seed and name the trainees whose orders differ.

    Parameters
    ----------
    plans : sequence of Plan
        In order of enrolment.
    seed : str
        The seed as published.

    Returns
    -------
    tuple of str
        Trainees' codes; empty when every order is the one that the seed gives.
    """
    enrolled: Counter[str] = Counter()
    differing = []
    for plan in plans:
        enrolment = Enrolment(plan.trainee, plan.positions, plan.site, plan.band)
        n_nights = len(plan.nights)
        stream = enrolment.stream(n_nights)
        again = draw_plan(enrolment, seed=seed, index=enrolled[stream], n_nights=n_nights)
        enrolled[stream] += 1
        if any(one.order != two.order for one, two in zip(again.nights, plan.nights, strict=True)):
            differing.append(plan.trainee)
    return tuple(differing)


def position_faults(plans: Iterable[Plan], protocol: Protocol) -> tuple[Problem, ...]:
    """List plans with a position that the signed protocol does not allow.

    Parameters
    ----------
    plans : iterable of Plan
        About to be printed.
    protocol : Protocol
        The site's; a draft has not settled its positions yet, and every page says that it is one.

    Returns
    -------
    tuple of Problem
        One for each trainee.
    """
    if not protocol.is_approved:
        return ()
    remedy = "Plan again without them, or have the protocol signed for them."
    faults = []
    for plan in plans:
        beyond = [each.value for each in plan.positions if each not in protocol.positions]
        if beyond:
            what = f'protocol "{protocol.version}" does not allow {", ".join(beyond)}'
            faults.append(Problem(f"trainee {plan.trainee}", what, remedy, "plan"))
    return tuple(faults)


def latest_plans(plans: Iterable[Plan]) -> tuple[Plan, ...]:
    """Keep the last version of each trainee's last course, in order of enrolment."""
    latest: dict[str, Plan] = {}
    for plan in plans:
        known = latest.get(plan.trainee)
        if known is None or (plan.course, plan.version) >= (known.course, known.version):
            latest[plan.trainee] = plan
    return tuple(latest.values())


def rating_form(plan: Plan, protocol: Protocol) -> Scale | None:
    """Find the form of rating of a trainee's band; None where the supporter's record counts."""
    for band in protocol.bands:
        if band.name == plan.band:
            return None if band.rated_by is RatedBy.SUPPORTER else band.scale
    return Scale.FIVE
