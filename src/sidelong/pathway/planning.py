"""From trainees who may practise to plans: the next order of their stream, and a piece per night.

Trainees enrol one at a time. Those who share site, band, allowed positions and number of nights
form a stream, and each takes the next place in it; the orders of a stream balance one another at
any number enrolled (``docs/method/orders.md``).
"""

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from sidelong.designs import allocate_orders, commit_seed, key_from_seed, stream_label
from sidelong.problems import Problem, Refused
from sidelong.training.plan import AllocationRecord, Night, Plan
from sidelong.training.position import Position

NIGHTS_OFFERED = (7, 10, 14, 21, 28)


@dataclass(frozen=True)
class Enrolment:
    """One trainee about to get a plan.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    positions : tuple of Position
        Positions that this trainee may use, in listed order.
    site, band : str
        Where the trainee practises and the site's age band; empty where not kept.
    course, version : int
        Course of the trainee and plan version within it.
    """

    trainee: str
    positions: tuple[Position, ...]
    site: str = ""
    band: str = ""
    course: int = 1
    version: int = 1

    def stream(self, n_nights: int) -> str:
        """Name the stream whose orders balance one another."""
        return stream_label(
            site=self.site, band=self.band, positions=self.positions, n_nights=n_nights
        )


@dataclass(frozen=True)
class NightPiece:
    """The piece of one night: its largest dimension in mm and, where there is one, its code."""

    piece_mm: float
    piece: str = ""


def simulate_enrolment(
    n_trainees: int,
    *,
    positions: tuple[Position, ...],
    sites: Sequence[str],
    bands: Sequence[str],
    rng: np.random.Generator,
) -> tuple[Enrolment, ...]:
    """Draw who enrols, in order of enrolment.

    Parameters
    ----------
    n_trainees : int
        How many enrol, >= 1.
    positions : tuple of Position
        Positions that all of them may use.
    sites, bands : sequence of str
        Each trainee's site and band are drawn from these with equal chances.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of Enrolment
        Codes ``T-0001`` and on.
    """
    width = max(4, len(str(n_trainees)))
    at_sites = rng.integers(len(sites), size=n_trainees)
    in_bands = rng.integers(len(bands), size=n_trainees)
    return tuple(
        Enrolment(f"T-{number + 1:0{width}d}", positions, sites[site], bands[band])
        for number, (site, band) in enumerate(zip(at_sites, in_bands, strict=True))
    )


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


def draw_plan(
    enrolment: Enrolment,
    *,
    seed: str,
    index: int,
    pieces: Sequence[NightPiece],
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
    pieces : sequence of NightPiece
        One per night.
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
    n_nights = len(pieces)
    if n_nights not in NIGHTS_OFFERED:
        what = f"there are no proven orders for {n_nights} nights"
        remedy = f"Use one of {', '.join(map(str, NIGHTS_OFFERED))}."
        raise Refused([Problem("nights", what, remedy, "nights")])
    key, stream = allocation_key(seed), enrolment.stream(n_nights)
    orders = allocate_orders(
        key, stream=stream, index=index, n_positions=len(enrolment.positions), n_nights=n_nights
    )
    nights = (
        Night(tuple(enrolment.positions[each] for each in order), piece.piece_mm, piece.piece)
        for order, piece in zip(orders.tolist(), pieces, strict=True)
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
    pieces: Sequence[NightPiece],
    protocol_version: str = "",
) -> tuple[Plan, ...]:
    """Draw plans for trainees in the order in which they enrolled, starting empty streams.

    Parameters
    ----------
    enrolments : iterable of Enrolment
        In order of enrolment.
    seed : str
        The secret seed of the allocation.
    pieces : sequence of NightPiece
        One per night, the same for all.
    protocol_version : str
        Version of the signed protocol; empty by command.

    Returns
    -------
    tuple of Plan
        In order of enrolment.
    """
    enrolled: Counter[str] = Counter()
    plans = []
    for enrolment in enrolments:
        stream = enrolment.stream(len(pieces))
        plans.append(
            draw_plan(
                enrolment,
                seed=seed,
                index=enrolled[stream],
                pieces=pieces,
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
        stream = enrolment.stream(len(plan.nights))
        pieces = [NightPiece(night.piece_mm, night.piece) for night in plan.nights]
        again = draw_plan(enrolment, seed=seed, index=enrolled[stream], pieces=pieces)
        enrolled[stream] += 1
        if again.nights != plan.nights:
            differing.append(plan.trainee)
    return tuple(differing)


def simulation_rng(seed: str, *, purpose: str) -> np.random.Generator:
    """Make a source of chance for a simulation that tells nothing about the allocation.

    Parameters
    ----------
    seed : str
        The seed of the run.
    purpose : str
        What it is used for; every purpose gets its own sequence.

    Returns
    -------
    numpy.random.Generator
        The same for the same seed and purpose.
    """
    digest = hashlib.sha256(f"{purpose}\n{seed}".encode()).digest()
    return np.random.default_rng(list(digest))
