"""`sidelong confirm`: readings and what persons saw become entries."""

import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

from sidelong.cli.arguments import Day
from sidelong.cli.clock import local_today
from sidelong.cli.read import layout_beside
from sidelong.cli.words import counted
from sidelong.exchange.columns import Value
from sidelong.exchange.corrections import read_corrections, write_confirmations
from sidelong.exchange.entries import write_entries
from sidelong.exchange.files import check_apart, check_place
from sidelong.exchange.layouts import read_layout
from sidelong.exchange.plans import read_plans
from sidelong.exchange.readings import read_readings
from sidelong.paper.night_sheets import page_code, spare_order
from sidelong.pathway.readings import Confirmation, Confirmed, KnownPage, find_misplaced
from sidelong.pathway.readings import confirm as confirm_readings
from sidelong.problems import Problem, Refused
from sidelong.training.correction import DATE, NO_SHEET, PAGE, Correction
from sidelong.training.entry import Scale
from sidelong.training.layout import Layout
from sidelong.training.plan import Plan
from sidelong.training.reading import ImageReading
from sidelong.training.sheet_code import SPARE_NIGHT

Booklet = tuple[str, int, int]  # the trainee's code, course and version
Forms = dict[Booklet, Scale | None]


def confirm(
    readings: Path,
    *,
    plans: Path,
    corrections: Path | None = None,
    layout: Path | None = None,
    out: Path = Path("entries.csv"),
    today: Day | None = None,
) -> None:
    """Turn confirmed readings into entries.

    A night enters whole, or not at all: while one of its fields is for review, or two photographs
    of it disagree, the night is left out, and everything that it waits for is listed. A second
    photograph of a night is compared with the first, never added. Which position a slot was comes
    from the plan.

    For example:

        sidelong confirm readings.csv --plans plans.csv --corrections corrections.csv

    Parameters
    ----------
    readings
        Table of `sidelong read`.
    plans
        Table of `sidelong plan` that the sheets were printed from.
    corrections
        Table of what persons saw: image, page, field, value, by, when. A field for review enters
        only with a row here, also where the reading is right.
    layout
        layout.json of the kit: says which form of rating each sheet has. If not given, it is told
        by the file with the ending .layout.json that `sidelong read` wrote beside its table; of
        booklets that are not in it, all five ratings are taken to be offered, and that is said.
    out
        Table of entries to write. Beside it, with the ending .confirmations.csv: every reading,
        every correction, who and when, dates and notes, and whether its night entered.
    today
        Day after which no date on a sheet can lie; today where it is not given.
    """
    check_apart(
        read={
            "the readings": readings,
            "--plans": plans,
            "--corrections": corrections,
            "--layout": layout,
        },
        written={"--out": out, "the record beside it": _beside(out)},
    )
    read = read_readings(readings)
    planned = read_plans(plans)
    said = read_corrections(corrections) if corrections else ()
    beside = layout_beside(readings)
    told = read_layout(layout or beside) if layout or beside.is_file() else None
    pages = dict(_pages_of_layout(told, planned)) if told else {}
    forms = _forms_of(told) if told else {}
    if not layout:  # pages that were read and are in no first booklet, and all that can be named
        pages = dict(_pages_of(planned, forms)) | pages
    faults = [
        *_misplaced(corrections, said, read),
        *_wrong_values(corrections, said, pages, today or local_today()),
    ]
    if faults:
        raise Refused(faults)
    check_place(out)
    made = confirm_readings(read, said, pages=pages)
    # The record of who said what comes first: entries without it would have no origin.
    write_confirmations(_beside(out), (_row(each) for each in made.confirmations))
    write_entries(out, made.entries)
    for problem in made.waiting:
        print(problem, file=sys.stderr)
    if not layout:
        _say_unknown_forms(read, said, pages, forms)
    for line in _summary(made, out):
        print(line)


def _beside(out: Path) -> Path:
    return out.with_name(f"{out.stem}.confirmations.csv")


def _pages_of(plans: Sequence[Plan], forms: Forms) -> Iterator[tuple[str, KnownPage]]:
    """Name every page that can have been printed from plans."""
    for plan in plans:
        # A form is fixed for a course, so that one sheet of a booklet tells it for all.
        form = forms.get(_booklet(plan), Scale.FIVE)
        for part in (0, 1, 2):
            for night in range(1, len(plan.nights) + 1):
                known = KnownPage(plan, night, form, part)
                yield page_code(plan, night=night, part=part), known
            spare = page_code(plan, night=SPARE_NIGHT, part=part)
            yield spare, KnownPage(plan, None, form, part, order=spare_order(plan))


def _forms_of(layout: Layout) -> Forms:
    return {
        (page.trainee, page.course or 1, page.version or 1): page.scale for page in layout.pages
    }


def _booklet(plan: Plan) -> Booklet:
    return (plan.trainee, plan.course, plan.version)


def _say_unknown_forms(
    read: Iterable[ImageReading],
    said: Iterable[Correction],
    pages: Mapping[str, KnownPage],
    forms: Forms,
) -> None:
    """Say for how many trainees a form of rating was taken for granted."""
    named = {page.page_id for image in read for page in image.pages}
    named |= {each.value for each in said if each.field == PAGE}
    plans = {pages[name].plan.trainee: pages[name].plan for name in named & pages.keys()}
    unknown = [plan for plan in plans.values() if _booklet(plan) not in forms]
    if unknown:
        print(
            f"No layout says which form of rating the sheets of {counted(len(unknown), 'trainee')} "
            "have: all five ratings are taken to be offered. If fewer were, give the kit's "
            "layout.json with --layout.",
            file=sys.stderr,
        )


def _pages_of_layout(layout: Layout, plans: Sequence[Plan]) -> Iterator[tuple[str, KnownPage]]:
    by_key = {(plan.trainee, plan.course, plan.version): plan for plan in plans}
    for page in layout.pages:
        plan = by_key.get((page.trainee, page.course or 1, page.version or 1))
        if plan is not None:
            yield page.page_id, KnownPage(plan, page.night, page.scale, page.part, page.order)


def _misplaced(
    table: Path | None, said: Sequence[Correction], read: Sequence[ImageReading]
) -> Iterator[Problem]:
    for each, what in find_misplaced(read, said):
        remedy = "Write image, page and field as they stand in the readings."
        yield _fault(table, said, each, what, remedy)


def _wrong_values(
    table: Path | None, said: Sequence[Correction], pages: dict[str, KnownPage], today: date
) -> Iterator[Problem]:
    """Find dates that are none, or not yet, and pages that nobody printed."""
    for each in said:
        if each.field == DATE and each.value:
            try:
                is_possible = date.fromisoformat(each.value) <= today + timedelta(days=1)
            except ValueError:
                is_possible = False
            if not is_possible:
                what = "it is no date up to today"
                remedy = "Write a date such as 2026-03-31, or leave it empty."
                yield _fault(table, said, each, what, remedy)
        if each.field == PAGE and each.value not in {*pages, NO_SHEET, ""}:
            remedy = "Write a page's code as it is printed on the sheet, or none."
            yield _fault(table, said, each, "no plan has this page", remedy)


def _fault(
    table: Path | None, said: Sequence[Correction], each: Correction, what: str, remedy: str
) -> Problem:
    place = next(row for row, other in enumerate(said, start=1) if other is each)
    name = table.name if table is not None else "corrections"
    where = f"{name}, correction {place}, {each.field}"
    return Problem(where, what, remedy, "corrections")


def _row(each: Confirmation) -> dict[str, Value]:
    return {
        "image": each.image,
        "page_id": each.page_id,
        "field": each.field,
        "read": each.read.value if each.read else None,
        "confidence": each.read.confidence if each.read else None,
        "status": each.read.status.value if each.read else None,
        "value": each.value,
        "by": each.correction.by if each.correction else None,
        "when": each.correction.when if each.correction else None,
        "outcome": each.outcome,
    }


def _summary(made: Confirmed, out: Path) -> Iterator[str]:
    n_corrected = sum(each.correction is not None for each in made.confirmations)
    yield (
        f"{counted(len(made.entries), 'night')} in {out}; "
        f"{counted(n_corrected, 'field')} seen by a person; all of it in {_beside(out).name}."
    )
    if made.waiting:
        yield (
            f"{counted(len(made.waiting), 'place')} for a person to look at; what belongs to "
            "their nights was left out."
        )
