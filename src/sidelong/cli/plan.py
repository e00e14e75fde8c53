"""`sidelong plan`: practice orders for trainees who enrol one at a time."""

import json
import secrets
import sys
from collections import Counter
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

import cyclopts

import sidelong
from sidelong.cli.arguments import Names, Positions
from sidelong.cli.clock import local_today
from sidelong.designs import commit_seed
from sidelong.exchange.files import write_text
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.plans import read_plans, write_plans
from sidelong.exchange.protocols import read_protocol
from sidelong.exchange.readiness import read_readiness
from sidelong.pathway.enrolling import (
    USUAL_PIECE,
    Enrolment,
    NightPiece,
    enrol_ready,
    simulate_enrolment,
    simulation_rng,
)
from sidelong.pathway.planning import allocation_key, check_nights, differing_plans, draw_plans
from sidelong.problems import Problem, Refused
from sidelong.training.plan import Plan
from sidelong.training.position import ALL_POSITIONS, Position

UP_STATEMENT = (
    "`up` is in these plans: by naming it or by default you state that your site's protocol is "
    "signed for it by a swallowing specialist. It is a slight lift only. "
    "Leave it out with --positions down,left,centre,right."
)


def plan(
    *,
    out: Path = Path("plans.csv"),
    trainees: Annotated[int, cyclopts.Parameter(validator=cyclopts.validators.Number(gte=1))] = 1,
    nights: int = 14,
    positions: Positions = ALL_POSITIONS,
    sites: Names = (),
    bands: Names = (),
    piece_mm: Annotated[
        float | None, cyclopts.Parameter(validator=cyclopts.validators.Number(gt=0, lte=30))
    ] = None,
    ladder: Path | None = None,
    readiness: Path | None = None,
    protocol: Path | None = None,
    seed: str | None = None,
    replay: Path | None = None,
    today: date | None = None,
) -> None:
    """Draw practice orders, balanced within each stream of trainees and random for everybody.

    Every plan alone compares the positions fairly: over places in the night, over what came just
    before, in week one and after an early stop. Over all trainees of a site, band and set of
    positions, every position stands equally often in every place of every night.

    For example:

        sidelong plan --trainees 240 --sites a,b --bands younger,older --out plans.csv

        sidelong plan --readiness readiness.csv --protocol protocol.toml --ladder ladder.csv

        sidelong plan --replay plans.csv --seed 2f6c...   (check published plans against the seed)

    Parameters
    ----------
    out
        Table to write; beside it, OUT.allocation.json says how it was drawn and OUT.seed holds
        the secret seed. Keep the seed apart until the allocation is published.
    trainees
        How many enrol; each one's site and band are drawn at random.
    nights
        Nights of the course: 7, 10, 14, 21 or 28.
    positions
        Head positions, with commas: down, left, centre, right, up.
    sites
        Sites of the programme, with commas.
    bands
        Age bands, with commas.
    piece_mm
        Largest dimension of the piece in mm, the same every night (5 without --ladder).
    ladder
        Table of pieces, smallest first; the first step is planned for all nights.
    readiness
        Table of `sidelong readiness`: plans are made for those whose decision allows practice,
        in the positions that are left to them. Needs --protocol.
    protocol
        The site's signed protocol.
    seed
        Makes the result repeatable. A short seed can be guessed; without one, a secret one is
        drawn and recorded.
    replay
        Draw this table's orders again from --seed and say whether they are the same.
    today
        Day on which a decision must hold, with --readiness; today where it is not given.
    """
    if replay is not None:
        _replay(replay, seed)
        return
    if piece_mm is not None and ladder is not None:
        raise Refused([Problem("--ladder", "both a size and a ladder were given", "Give one.")])
    seed = seed or secrets.token_hex(32)
    key = allocation_key(seed)
    version = ""
    if readiness is not None:
        enrolments, version = _ready(readiness, protocol, ladder, today or local_today())
    else:
        enrolments = simulate_enrolment(
            trainees,
            positions=positions,
            sites=sites or ("",),
            bands=bands or ("",),
            piece=_piece(piece_mm, ladder),
            rng=simulation_rng(seed, purpose="enrolment"),
        )
    check_nights(nights)
    _record_allocation(out, key, enrolments, nights)
    plans = draw_plans(enrolments, seed=seed, n_nights=nights, protocol_version=version)
    write_plans(out, plans)
    write_text(_beside(out, "seed"), seed + "\n")
    _tell(out, plans)


def _piece(piece_mm: float | None, ladder: Path | None) -> NightPiece:
    """Take the size that was given, or the first step of the ladder."""
    if ladder is not None:
        first = read_ladder(ladder).steps[0]
        return NightPiece(first.largest_mm, first.code)
    return USUAL_PIECE if piece_mm is None else NightPiece(piece_mm)


def _ready(
    readiness: Path, protocol: Path | None, ladder: Path | None, today: date
) -> tuple[tuple[Enrolment, ...], str]:
    """Enrol those who may practise under this protocol, in the table's order."""
    if protocol is None or ladder is None:
        remedy = "Give --protocol and --ladder too: plans keep to the limits that were decided."
        raise Refused([Problem("--readiness", "it does not stand alone", remedy)])
    rules = read_protocol(protocol)
    sorted_referrals = read_readiness(readiness)
    pieces = read_ladder(ladder)
    ready = enrol_ready(sorted_referrals, pieces, protocol=rules, today=today)
    if not ready.enrolments:
        raise Refused(ready.held_back)
    for each in ready.held_back:
        print(f"No plan: {each}", file=sys.stderr)
    return ready.enrolments, rules.version


def _beside(out: Path, ending: str) -> Path:
    """Name a file that belongs to the table."""
    return out.with_suffix(f".{ending}")


def _record_allocation(out: Path, key: bytes, enrolments: Sequence[Enrolment], nights: int) -> None:
    """Write down what binds us before the first order is drawn."""
    record = {
        "program": f"sidelong {sidelong.__version__}",
        "commitment_sha256": commit_seed(key),
        "nights": nights,
        "streams": dict(Counter(each.stream(nights) for each in enrolments)),
    }
    if any(Position.UP in each.positions for each in enrolments):
        record["statement"] = UP_STATEMENT
    write_text(_beside(out, "allocation.json"), json.dumps(record, indent=2) + "\n")


def _tell(out: Path, plans: Sequence[Plan]) -> None:
    """Say what was written, and what the caller has stated by it."""
    print(f"{len(plans)} plans in {out}; how they were drawn in {_beside(out, 'allocation.json')}.")
    print(f"The secret seed is in {_beside(out, 'seed')}: keep it apart until it is published.")
    if any(Position.UP in plan.positions for plan in plans):
        print(UP_STATEMENT, file=sys.stderr)


def _replay(table: Path, seed: str | None) -> None:
    """Draw a table's orders again and refuse those that differ."""
    if seed is None:
        raise Refused([Problem("--seed", "none was given", "Give the published seed.", "replay")])
    plans = read_plans(table)
    differing = differing_plans(plans, seed=seed)
    remedy = "Check the seed, and that the rows stand in the order of enrolment."
    if differing:
        raise Refused(
            [
                Problem(f"{table}, trainee {code}", "another order than drawn", remedy, "replay")
                for code in differing
            ]
        )
    print(f"All {len(plans)} plans are those that this seed gives.")
