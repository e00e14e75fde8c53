"""Which form of the rating a course used, where the table of entries does not say.

The number of answers offered decides how a rating is read: "5" out of two answers says less than
"5" out of five. A blank is therefore filled from what is known, and said: from the trainee's band
under the site's protocol where no rating speaks against it, else five answers.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from sidelong.pathway.planning import latest_plans
from sidelong.problems import Problem
from sidelong.training.entry import Entry, RatedBy, Scale
from sidelong.training.plan import Plan
from sidelong.training.protocol import Protocol

_REMEDY = "Give the column scale where another form was offered."


def fill_forms(
    entries: Sequence[Entry],
    *,
    plans: Iterable[Plan] = (),
    protocol: Protocol | None = None,
) -> tuple[tuple[Entry, ...], tuple[Problem, ...]]:
    """Fill in forms of rating that were not recorded, and say so.

    Parameters
    ----------
    entries : sequence of Entry
        As they were read.
    plans : iterable of Plan
        Say the band of their trainees; else the entries do.
    protocol : Protocol or None
        Says which form each band is offered.

    Returns
    -------
    entries : tuple of Entry
        In the same order, each with the form that it is to be read with.
    notices : tuple of Problem
        One for every trainee whose band says another form than five answers, and one for all
        whose form rests on nothing.
    """
    bands = {plan.trainee: plan.band for plan in latest_plans(tuple(plans))}
    silent: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        if not entry.scale_is_said:
            silent[entry.trainee].append(entry)
    forms: dict[str, Scale] = {}
    notices, resting_on_nothing = [], 0
    for trainee, own in silent.items():
        band = bands.get(trainee) or next((each.band for each in own if each.band), "")
        offered = _offered(band, protocol)
        if offered is None:
            resting_on_nothing += bool(band)
        elif offered is not Scale.FIVE:
            fits = _fits(own, offered)
            forms[trainee] = offered if fits else Scale.FIVE
            notices.append(_notice(trainee, offered, fits=fits))
    if resting_on_nothing:
        what = (
            f"the form of rating is not recorded for {resting_on_nothing} of the trainees with a "
            "band: read as five answers"
        )
        notices.append(Problem("entries", what, f"{_REMEDY} Or give --protocol.", "rating-form"))
    filled = tuple(
        entry if entry.scale_is_said else replace(entry, scale=forms.get(entry.trainee, Scale.FIVE))
        for entry in entries
    )
    return filled, tuple(notices)


def _offered(band: str, protocol: Protocol | None) -> Scale | None:
    """Find what a band is offered; None where that is not known."""
    for each in protocol.bands if protocol else ():
        if each.name == band:
            return Scale.FIVE if each.rated_by is RatedBy.SUPPORTER else each.scale
    return None


def _fits(entries: Iterable[Entry], form: Scale) -> bool:
    """Tell whether every rating is one that the form offers."""
    given = {row.rating for entry in entries for row in entry.rows if row.rating is not None}
    return given <= set(form.ratings)


def _notice(trainee: str, form: Scale, *, fits: bool) -> Problem:
    read_as = (
        f"read as {int(form)} answers, as its band is offered"
        if fits
        else f"its band is offered {int(form)} answers, but others were given: read as five"
    )
    what = f"the form of rating is not recorded, {read_as}"
    return Problem(f"entries, trainee {trainee}", what, _REMEDY, "rating-form")
