"""Who enrols, in which positions and with which piece: ready for an order to be drawn."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from sidelong.designs import stream_label
from sidelong.pathway.readiness import may_plan
from sidelong.problems import Problem
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Piece, fit_limits
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import Limits, SortedReferral


@dataclass(frozen=True)
class NightPiece:
    """What a plan says of a piece: its largest dimension in mm and, where it has one, its code."""

    piece_mm: float
    piece: str = ""


USUAL_PIECE = NightPiece(5.0)
"""Where no ladder is given; common practice, no source."""


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
    piece : NightPiece
        The piece of every night: positions are compared on the same piece, and a step on the
        ladder makes a new plan version.
    course, version : int
        Course of the trainee and plan version within it.
    """

    trainee: str
    positions: tuple[Position, ...]
    site: str = ""
    band: str = ""
    piece: NightPiece = USUAL_PIECE
    course: int = 1
    version: int = 1

    def stream(self, n_nights: int) -> str:
        """Name the stream whose orders balance one another."""
        return stream_label(
            site=self.site, band=self.band, positions=self.positions, n_nights=n_nights
        )


@dataclass(frozen=True)
class ReadyEnrolled:
    """Who gets a plan, and who does not although somebody asked.

    Parameters
    ----------
    enrolments : tuple of Enrolment
        In the order in which they were sorted.
    held_back : tuple of Problem
        One for each trainee without a plan: what is missing, and what to do.
    """

    enrolments: tuple[Enrolment, ...]
    held_back: tuple[Problem, ...]


def enrol_ready(
    sorted_referrals: Iterable[SortedReferral], ladder: Ladder, *, protocol: Protocol, today: date
) -> ReadyEnrolled:
    """Enrol those for whom a clinician's decision holds, with the limits that it set.

    Each gets the first step of the ladder that keeps to the ingredients and the size allowed.

    Parameters
    ----------
    sorted_referrals : iterable of SortedReferral
        In order of enrolment.
    ladder : Ladder
        The site's pieces.
    protocol : Protocol
        The signed protocol under which plans are made.
    today : date
        The day of the plans; a decision must hold on it.

    Returns
    -------
    ReadyEnrolled
        Those who may practise at home, and why the others may not yet.
    """
    enrolments, held_back = [], []
    for each in sorted_referrals:
        where = f"trainee {each.trainee}"
        gaps = may_plan(each, protocol, today=today)
        piece = None if gaps else first_allowed_piece(ladder, each.limits)
        if piece is not None:
            step = NightPiece(piece.largest_mm, piece.code)
            enrolments.append(
                Enrolment(each.trainee, each.limits.positions, each.site, each.band, step)
            )
        elif gaps:
            what = "still open: " + "; ".join(gap.says or gap.part.value for gap in gaps)
            remedy = "Complete this, then sort again."
            held_back.append(Problem(where, what, remedy, "held-back"))
        else:
            what = "no piece of the ladder keeps to the limits that were decided"
            remedy = "Add a piece that does, or let a clinician decide again."
            held_back.append(Problem(where, what, remedy, "held-back"))
    return ReadyEnrolled(tuple(enrolments), tuple(held_back))


def first_allowed_piece(ladder: Ladder, limits: Limits) -> Piece | None:
    """Find the smallest piece that keeps to size and ingredients; None where there is none."""
    for piece in ladder.steps:
        if fit_limits(piece, limits.ingredients, max_piece_mm=limits.max_piece_mm).fits:
            return piece
    return None


def simulate_enrolment(
    n_trainees: int,
    *,
    positions: tuple[Position, ...],
    sites: Sequence[str],
    bands: Sequence[str],
    piece: NightPiece = USUAL_PIECE,
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
    piece : NightPiece
        The piece of all of them.
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
        Enrolment(f"T-{number + 1:0{width}d}", positions, sites[site], bands[band], piece)
        for number, (site, band) in enumerate(zip(at_sites, in_bands, strict=True))
    )


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
