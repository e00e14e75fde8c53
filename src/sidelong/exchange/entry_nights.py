"""Rows of a table of entries, gathered by trainee and night, beside the plan where there is one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sidelong.exchange.rows import group_rows
from sidelong.exchange.tables import Row
from sidelong.training.plan import Plan

ENTRY_KEY = ("trainee", "course", "version", "night")


@dataclass(frozen=True)
class RecordedNight:
    """All rows of one night of one trainee.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course, version, night : int
        Where the night belongs.
    rows : tuple of Row
        By slot; rows whose slot could not be read come last.
    plan : Plan or None
        The plan that the night belongs to, where one is known.
    """

    trainee: str
    course: int
    version: int
    night: int
    rows: tuple[Row, ...]
    plan: Plan | None = None

    @property
    def is_planned(self) -> bool:
        """Whether the plan has this night."""
        return self.plan is not None and self.night <= len(self.plan.nights)


def gather_nights(rows: Iterable[Row], plans: Sequence[Plan] | None) -> tuple[RecordedNight, ...]:
    """Gather rows into nights.

    Parameters
    ----------
    rows : iterable of Row
        Rows of a table of entries; those whose trainee or night could not be read are left out.
    plans : sequence of Plan or None
        Plans to set beside them. An empty course or version is that of a trainee's only plan,
        else 1.

    Returns
    -------
    tuple of RecordedNight
        By trainee in the order of first rows, then course, version and night.
    """
    by_key = {(plan.trainee, plan.course, plan.version): plan for plan in plans or ()}
    only = _only_plans(plans or ())
    places: dict[str, int] = {}
    gathered: dict[tuple[str, int, int, int], list[Row]] = {}
    for (trainee, course, version, night), group in group_rows(rows, ENTRY_KEY).items():
        plan = only.get(trainee)
        course = course or (plan.course if plan else 1)
        version = version or (plan.version if plan else 1)
        places.setdefault(trainee, len(places))
        gathered.setdefault((trainee, course, version, night), []).extend(group)
    in_order = sorted(gathered, key=lambda key: (places[key[0]], *key[1:]))
    return tuple(
        RecordedNight(*key, _by_slot(gathered[key]), by_key.get(key[:3])) for key in in_order
    )


def _only_plans(plans: Iterable[Plan]) -> dict[str, Plan]:
    """Plans of those trainees who have one and no more."""
    found: dict[str, list[Plan]] = {}
    for plan in plans:
        found.setdefault(plan.trainee, []).append(plan)
    return {trainee: each[0] for trainee, each in found.items() if len(each) == 1}


def _by_slot(rows: Iterable[Row]) -> tuple[Row, ...]:
    return tuple(sorted(rows, key=lambda row: (row["slot"] is None, row["slot"], row.number)))
