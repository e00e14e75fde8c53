"""`sidelong plan`: practice orders for trainees who enrol one at a time."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated

import cyclopts

from sidelong.cli.arguments import Day, Names, Positions
from sidelong.cli.clock import local_today
from sidelong.cli.drawing import DrawnWith, check_orders_table, continue_drawing, new_seed
from sidelong.cli.handing_out import tell_pieces
from sidelong.cli.words import counted
from sidelong.exchange.files import check_apart, check_place
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
from sidelong.pathway.planning import check_nights, differing_plans, draw_plans
from sidelong.problems import Problem, Refused
from sidelong.training.ladder import Ladder
from sidelong.training.plan import Plan
from sidelong.training.position import ALL_POSITIONS, Position
from sidelong.training.protocol import Protocol

USUAL_SPARES = 10  # where no protocol is given; common practice, no source
CALLER_STATES = (
    "`up` is in these plans: by naming it or by default you state that your site's protocol is "
    "signed for it by a swallowing specialist. It is a slight lift only. "
    "Leave it out with --positions down,left,centre,right."
)
PROTOCOL_STATES = (
    '`up` is in these plans: protocol version "{version}" is signed for it by a swallowing '
    "specialist. It is a slight lift only."
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
    step: Annotated[int, cyclopts.Parameter(validator=cyclopts.validators.Number(gte=1))] = 1,
    start: Day | None = None,
    readiness: Path | None = None,
    protocol: Path | None = None,
    seed: str | None = None,
    replay: Path | None = None,
    today: Day | None = None,
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
        Table of pieces, smallest first; one step is planned for all nights.
    step
        The ladder's step to practise, or to begin looking from where limits were decided.
    start
        First evening, where one was agreed.
    readiness
        Table of `sidelong readiness`: plans are made for those whose decision allows practice,
        in the positions that are left to them. Plans that OUT holds already are kept, and the
        new trainees take the next places. Needs --protocol and --ladder.
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
    check_apart(
        read={"--ladder": ladder, "--readiness": readiness, "--protocol": protocol},
        written={"--out": out},
    )
    check_place(out)
    if piece_mm is not None and ladder is not None:
        remedy = "Leave --piece-mm out: the ladder says how large each piece is."
        raise Refused([Problem("--ladder", "both a size and a ladder were given", remedy)])
    check_nights(nights)
    if readiness is None:
        drawn_with = DrawnWith(out, new_seed(seed))
        enrolments = simulate_enrolment(
            trainees,
            positions=positions,
            sites=sites or ("",),
            bands=bands or ("",),
            piece=_piece(piece_mm, ladder, step),
            rng=simulation_rng(drawn_with.seed, purpose="enrolment"),
        )
        drawing = Drawing(drawn_with, enrolments, CALLER_STATES)
    else:
        drawn_with, earlier = continue_drawing(out, seed)
        enrolments, rules = _ready(
            readiness, protocol, ladder, step=step, today=today or local_today(), earlier=earlier
        )
        statement = PROTOCOL_STATES.format(version=rules.version)
        drawing = Drawing(drawn_with, enrolments, statement, earlier=earlier, rules=rules)
    plans = drawing.draw(nights, start=start)
    drawing.tell(plans, None if ladder is None else read_ladder(ladder))


@dataclass(frozen=True)
class Drawing:
    """What is about to be drawn.

    Parameters
    ----------
    drawn_with : DrawnWith
        The seed, and the files beside the table.
    enrolments : tuple of Enrolment
        Who enrols.
    statement : str
        What stands behind `up`, where it is in the plans.
    earlier : tuple of Plan
        Plans that the table holds already.
    rules : Protocol or None
        The site's protocol, where the plans are made under one.
    """

    drawn_with: DrawnWith
    enrolments: tuple[Enrolment, ...]
    statement: str
    earlier: tuple[Plan, ...] = ()
    rules: Protocol | None = None

    @property
    def goes_up(self) -> bool:
        """Whether `up` is in any new plan."""
        return any(Position.UP in each.positions for each in self.enrolments)

    def draw(self, nights: int, *, start: date | None) -> tuple[Plan, ...]:
        """Record what binds us, draw, and write the table."""
        replaced = self.drawn_with.record(
            self.enrolments,
            n_nights=nights,
            statement=self.statement if self.goes_up else "",
            earlier=self.earlier,
        )
        if replaced is not None:
            what = f"The plans that were there are kept as {replaced}, with their seed"
            print(f"{what}; booklets that were printed from them belong to it.", file=sys.stderr)
        plans = draw_plans(
            self.enrolments,
            seed=self.drawn_with.seed,
            n_nights=nights,
            start=start,
            protocol_version="" if self.rules is None else self.rules.version,
            earlier=self.earlier,
        )
        write_plans(self.drawn_with.table, [*self.earlier, *plans])
        return tuple(plans)

    def tell(self, plans: Sequence[Plan], ladder: Ladder | None) -> None:
        """Say what was drawn, what it needs, and what stands behind `up`."""
        kept = f", {len(self.earlier)} earlier ones kept" if self.earlier else ""
        drawn_with = self.drawn_with
        drawn = f"drawn as {drawn_with.record_file} says"
        print(f"{counted(len(plans), 'plan')} in {drawn_with.table}{kept}; {drawn}.")
        if ladder is not None:
            spares = USUAL_SPARES if self.rules is None else self.rules.course.spares
            for line in tell_pieces(plans, ladder, spares=spares):
                print(line)
        print(f"The secret seed is in {drawn_with.seed_file}: keep it apart until it is published.")
        if self.goes_up:
            print(self.statement, file=sys.stderr)


def _ladder_from(ladder: Path, step: int) -> Ladder:
    """Read a ladder from one of its steps upwards."""
    whole = read_ladder(ladder)
    if step > len(whole.steps):
        what = f"the ladder has no step {step}"
        raise Refused([Problem("--step", what, f"Use 1 to {len(whole.steps)}.", "ladder")])
    return Ladder(whole.steps[step - 1 :])


def _piece(piece_mm: float | None, ladder: Path | None, step: int) -> NightPiece:
    """Take the size that was given, or a step of the ladder."""
    if ladder is not None:
        first = _ladder_from(ladder, step).steps[0]
        return NightPiece(first.largest_mm, first.code)
    return USUAL_PIECE if piece_mm is None else NightPiece(piece_mm)


def _ready(
    readiness: Path,
    protocol: Path | None,
    ladder: Path | None,
    *,
    step: int,
    today: date,
    earlier: Sequence[Plan],
) -> tuple[tuple[Enrolment, ...], Protocol]:
    """Enrol those who may practise under this protocol and have no plan yet."""
    if protocol is None or ladder is None:
        remedy = "Give --protocol and --ladder too: plans keep to the limits that were decided."
        raise Refused([Problem("--readiness", "it does not stand alone", remedy)])
    rules = read_protocol(protocol)
    planned = {plan.trainee for plan in earlier}
    waiting = [each for each in read_readiness(readiness) if each.trainee not in planned]
    ready = enrol_ready(waiting, _ladder_from(ladder, step), protocol=rules, today=today)
    if not ready.enrolments:
        remedy = "Sort again when somebody new may practise."
        nobody = Problem(str(readiness), "nobody in it needs a plan", remedy, "held-back")
        raise Refused(ready.held_back or [nobody])
    for each in ready.held_back:
        print(f"No plan: {each}", file=sys.stderr)
    return ready.enrolments, rules


def _replay(table: Path, seed: str | None) -> None:
    """Draw a table's orders again and refuse those that differ."""
    if seed is None:
        raise Refused([Problem("--seed", "none was given", "Give the published seed.", "replay")])
    check_orders_table(table.with_suffix(".allocation.json"))
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
