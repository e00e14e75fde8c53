"""`sidelong booklet`: what each family takes home, one PDF per trainee."""

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sidelong.cli.folders import prepare_folder
from sidelong.cli.progress import track
from sidelong.cli.words import counted
from sidelong.exchange.events import read_events
from sidelong.exchange.files import write_bytes
from sidelong.exchange.layouts import write_layout
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.plans import read_plans
from sidelong.exchange.protocols import read_default_protocol, read_protocol
from sidelong.paper.booklet import Booklet, make_booklet, make_kit
from sidelong.paper.language import read_language
from sidelong.paper.night_sheets import Keys, plan_keys
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Audience, Edition
from sidelong.pathway.locked_practice import lock_problems
from sidelong.pathway.planning import latest_plans, position_faults, rating_form
from sidelong.problems import Refused
from sidelong.training.event import locked_trainees
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol

UNLOCK = "A clinician answers first; then fill in may_go_on_since."


def booklet(
    plans: Path,
    *,
    out: Path = Path("booklets"),
    paper: Paper = Paper.A4,
    language: str = "en",
    audience: Audience | None = None,
    edition: Edition = Edition.STANDARD,
    protocol: Path | None = None,
    ladder: Path | None = None,
    kit: Path | None = None,
    events: Path | None = None,
) -> None:
    """Print what each family takes home: one PDF per trainee.

    Cover, the steps with drawn heads, safety page, "not tonight" page, pieces out and back, how
    to photograph a sheet, the pieces at true size, a filled example, a sheet for every night with
    its order printed, and a spare one. Print at 100 %, not "fit to page", and check the line on
    the page "True size" with a ruler.

    For example:

        sidelong booklet plans.csv --protocol protocol.toml --paper letter --out booklets

    Parameters
    ----------
    plans
        Table of `sidelong plan`.
    out
        Folder to write: exactly one TRAINEE.pdf for each trainee.
    paper
        a4 or letter; the sheets are the same on both.
    language
        Language of the pages.
    audience
        child, teen or adult: for whom words and figures are made. If not given, by each plan's
        age band: adult where the whole band is of age, teen from 12 years, else child.
    edition
        standard, or large for large print: 18 points or more, two pages a night.
    protocol
        The site's protocol: its words, its emergency number, which form of rating each age band
        uses. Without one, the draft that ships with the program is used and marked so.
    ladder
        Table of the site's pieces, to draw their true shape.
    kit
        Folder for pages.pdf, the sheets of all trainees, and layout.json, where every mark lies:
        what is needed to read photographs of the sheets.
    events
        Table of safety events: a trainee whose practice is locked gets no booklet.
    """
    table = read_plans(plans)
    rules = read_protocol(protocol) if protocol else read_default_protocol()
    happened = read_events(events) if events else ()
    latest = latest_plans(table)
    held_back = lock_problems([plan.trainee for plan in latest], happened, remedy=UNLOCK)
    locked = locked_trainees(happened)
    planned = tuple(plan for plan in latest if plan.trainee not in locked)
    faults = position_faults(planned, rules)
    if faults:
        raise Refused(faults)
    # Numbered over the whole table, so that no two of its booklets share a marker's number.
    numbers = dict(zip(map(_identity, table), plan_keys(table), strict=True))
    press = _Press(
        keys={plan.trainee: numbers[_identity(plan)] for plan in planned},
        options={
            "protocol": rules,
            "pieces": read_ladder(ladder).steps if ladder else (),
            "paper": paper,
            "language": read_language(language),
            "edition": edition,
        },
    )
    prepare_folder(out, names=(f"{plan.trainee}.pdf" for plan in planned))
    if kit is not None:
        prepare_folder(kit, names=("pages.pdf", "layout.json"))
    for plan in track(planned, doing="Setting booklets", total=len(planned)):
        made = press.booklet(plan, audience=audience)
        write_bytes(out / f"{plan.trainee}.pdf", made.pdf)
    made_of = counted(len(planned), "booklet")
    print(f'{made_of} in {out}. Print at 100 % and check the line on the page "True size".')
    for problem in held_back:
        print(f"No booklet: {problem}", file=sys.stderr)
    for note in _notes(planned, rules):
        print(f"Note: {note}", file=sys.stderr)
    if kit is not None:
        sheets = press.kit(planned, audience=audience)
        write_bytes(kit / "pages.pdf", sheets.pdf)
        write_layout(kit / "layout.json", sheets.layout)
        in_kit = counted(len(sheets.layout.pages), "sheet")
        print(f"{in_kit} in {kit / 'pages.pdf'}, with layout.json.")


def _identity(plan: Plan) -> tuple[str, int, int]:
    return plan.trainee, plan.course, plan.version


@dataclass(frozen=True)
class _Press:
    """What all booklets and the kit of one run are made with."""

    keys: Mapping[str, Keys]
    options: Mapping[str, Any]

    def booklet(self, plan: Plan, *, audience: Audience | None) -> Booklet:
        scale = rating_form(plan, self.options["protocol"])
        keys = self.keys[plan.trainee]
        return make_booklet(plan, scale=scale, audience=audience, keys=keys, **self.options)

    def kit(self, plans: Sequence[Plan], *, audience: Audience | None) -> Booklet:
        scales = [rating_form(plan, self.options["protocol"]) for plan in plans]
        keys = [self.keys[plan.trainee] for plan in plans]
        spoken = [audience] * len(plans)
        return make_kit(plans, scales=scales, keys=keys, audiences=spoken, **self.options)


def _notes(plans: Sequence[Plan], rules: Protocol) -> list[str]:
    """Say what whoever prints must know before a family gets these pages."""
    notes = []
    if not rules.is_approved:
        notes.append(
            "every page says that the protocol is a draft, and leaves lines for the emergency "
            "number. Give the site's signed one with --protocol before a family gets them."
        )
        if any(Position.UP in plan.positions for plan in plans):
            notes.append("`up` is in these plans, and this draft is not signed for it.")
    others = sorted({plan.protocol_version for plan in plans} - {"", rules.version})
    if others:
        drawn = ", ".join(f'"{each}"' for each in others)
        notes.append(f'plans were drawn under protocol {drawn}, these pages are "{rules.version}".')
    unknown = sorted({plan.band for plan in plans} - {"", *(band.name for band in rules.bands)})
    if unknown:
        named = ", ".join(f'"{each}"' for each in unknown)
        notes.append(
            f"the protocol has no band {named}: its sheets offer all five answers, "
            "and its booklets speak to a child unless --audience says otherwise."
        )
    return notes
