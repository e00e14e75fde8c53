"""`sidelong booklet`: what each family takes home, one PDF per trainee."""

import sys
from collections.abc import Sequence
from pathlib import Path

from sidelong.cli.folders import prepare_folder
from sidelong.cli.progress import track
from sidelong.cli.words import counted
from sidelong.exchange.events import read_events
from sidelong.exchange.files import write_bytes
from sidelong.exchange.layouts import write_layout
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.plans import read_plans
from sidelong.exchange.protocols import read_default_protocol, read_protocol
from sidelong.paper.booklet import make_booklet, make_kit
from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.pathway.locked_practice import lock_problems
from sidelong.pathway.planning import latest_plans, position_faults, rating_form
from sidelong.problems import Refused
from sidelong.training.event import locked_trainees
from sidelong.training.piece import Piece
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
    protocol: Path | None = None,
    ladder: Path | None = None,
    kit: Path | None = None,
    events: Path | None = None,
) -> None:
    """Print what each family takes home: one PDF per trainee.

    Cover, the steps with drawn heads, safety page, "not tonight" page, a sheet for every night
    with its order printed, and the pieces at true size. Print at 100 %, not "fit to page", and
    check the line on the last page with a ruler.

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
    chosen = read_language(language)
    planned = latest_plans(read_plans(plans))
    rules = read_protocol(protocol) if protocol else read_default_protocol()
    pieces: tuple[Piece, ...] = read_ladder(ladder).steps if ladder else ()
    happened = read_events(events) if events else ()
    held_back = lock_problems([plan.trainee for plan in planned], happened, remedy=UNLOCK)
    locked = locked_trainees(happened)
    planned = tuple(plan for plan in planned if plan.trainee not in locked)
    faults = position_faults(planned, rules)
    if faults:
        raise Refused(faults)
    prepare_folder(out, names=(f"{plan.trainee}.pdf" for plan in planned))
    if kit is not None:
        prepare_folder(kit, names=("pages.pdf", "layout.json"))
    for plan in track(planned, doing="Setting booklets", total=len(planned)):
        made = make_booklet(
            plan,
            protocol=rules,
            scale=rating_form(plan, rules),
            pieces=pieces,
            paper=paper,
            language=chosen,
        )
        write_bytes(out / f"{plan.trainee}.pdf", made.pdf)
    made_of = counted(len(planned), "booklet")
    print(f"{made_of} in {out}. Print at 100 % and check the line on the last page.")
    for problem in held_back:
        print(f"No booklet: {problem}", file=sys.stderr)
    for note in _notes(planned, rules):
        print(f"Note: {note}", file=sys.stderr)
    if kit is not None:
        sheets = make_kit(
            planned,
            protocol=rules,
            scales=[rating_form(plan, rules) for plan in planned],
            pieces=pieces,
            paper=paper,
            language=chosen,
        )
        write_bytes(kit / "pages.pdf", sheets.pdf)
        write_layout(kit / "layout.json", sheets.layout)
        in_kit = counted(len(sheets.layout.pages), "sheet")
        print(f"{in_kit} in {kit / 'pages.pdf'}, with layout.json.")


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
        notes.append(f"the protocol has no band {named}: its sheets offer all five answers.")
    return notes
