"""The numbers of a protocol: ages, bands, one course, and what counts as success.

A site may make a safety number stricter and never looser; numbers outside what the printed pages
and the orders are made for are refused.
"""

from dataclasses import dataclass
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.entry import RatedBy, Scale
from sidelong.training.position import Position
from sidelong.training.wording import FamilyText

HARD_SUGAR_NOT_NOW_BELOW = 4
HARD_SUGAR_CLINICIAN_BELOW = 5
OLDEST = 120


@dataclass(frozen=True)
class AgeLimits:
    """Ages in completed years for hard sugar pieces; a site may only raise them.

    Parameters
    ----------
    not_now_below : int
        Younger than this: not now. At least 4.
    clinician_below : int
        Younger than this: a clinician decides first. At least 5, and above the first limit.

    Raises
    ------
    Refused
        If a limit is lower than the program allows.
    """

    not_now_below: int = HARD_SUGAR_NOT_NOW_BELOW
    clinician_below: int = HARD_SUGAR_CLINICIAN_BELOW

    def __post_init__(self) -> None:
        """Refuse a lower age: hard sweets are a choking hazard for young children."""
        floors = {
            "not_now_below": HARD_SUGAR_NOT_NOW_BELOW,
            "clinician_below": HARD_SUGAR_CLINICIAN_BELOW,
        }
        faults = [
            _fault(name, f"{getattr(self, name)} is below {low} years", "Ages can only be raised.")
            for name, low in floors.items()
            if getattr(self, name) < low
        ]
        if not faults and self.clinician_below <= self.not_now_below:
            what = "no age is left for a clinician to decide"
            faults.append(_fault("clinician_below", what, "Put it above not_now_below."))
        if faults:
            raise Refused(faults)


@dataclass(frozen=True)
class Band:
    """An age band of the site, and how its trainees rate.

    Parameters
    ----------
    name : str
        The site's name for it; one word, printed in tables.
    from_age, to_age : int
        First and last completed year, both included.
    scale : Scale
        Answers offered unless the warm-up at the visit picks another form.
    rated_by : RatedBy
        Whose rating is the record: below 5 years the supporter's.

    Raises
    ------
    Refused
        With every fault of the band.
    """

    name: str
    from_age: int
    to_age: int
    scale: Scale = Scale.FIVE
    rated_by: RatedBy = RatedBy.TRAINEE

    def __post_init__(self) -> None:
        """Refuse a band without years, or one that asks more than its age can answer."""
        faults = []
        if not self.name or self.name != "".join(self.name.split()):
            faults.append(_fault("name", f'"{self.name}" is not one word', "Use one word."))
        if not 0 <= self.from_age <= self.to_age <= OLDEST:
            what = f"{self.from_age} to {self.to_age} is not a range of years"
            faults.append(_fault("to_age", what, f"Use completed years, 0 to {OLDEST}."))
        if self.from_age < 5 and self.rated_by is not RatedBy.SUPPORTER:
            what = "children under 5 cannot rate for the record"
            faults.append(_fault("rated_by", what, "Use supporter, in a band of its own."))
        if self.from_age < 8 and self.scale is Scale.FIVE:
            what = "five answers are offered from 8 years"
            faults.append(_fault("scale", what, "Use 4, 3 or 2, or begin the band at 8."))
        if faults:
            raise Refused(faults)

    def holds(self, age_years: int) -> bool:
        """Whether this age lies in the band."""
        return self.from_age <= age_years <= self.to_age


@dataclass(frozen=True)
class PositionWords:
    """What a family reads about one position.

    Parameters
    ----------
    position : Position
        Which one.
    name, how : FamilyText
        Its name on the page, and how to hold the head.
    """

    position: Position
    name: FamilyText
    how: FamilyText


class Practised(StrEnum):
    """What makes an evening a practised night."""

    ANY = "any"
    ALL = "all"


@dataclass(frozen=True)
class Success:
    """Success: whole, unchewed, unaided, at the target size, seen by staff.

    Parameters
    ----------
    swallows, attempts : int
        How many of how many attempts must succeed.
    within_minutes : int
        Time for them, minutes.
    water_ml : int
        Most water for one piece, mL.

    Raises
    ------
    Refused
        With every number that cannot be.
    """

    swallows: int = 2
    attempts: int = 3
    within_minutes: int = 20
    water_ml: int = 100

    CRITERIA = ("whole", "unchewed", "unaided", "at the target size", "seen by staff")

    def __post_init__(self) -> None:
        """Refuse numbers that cannot be met."""
        faults = []
        if not 1 <= self.swallows <= self.attempts:
            what = f"{self.swallows} of {self.attempts} attempts cannot be"
            faults.append(_fault("swallows", what, "Use at least 1, and no more than attempts."))
        for name in ("within_minutes", "water_ml"):
            if getattr(self, name) <= 0:
                faults.append(_fault(name, f"{getattr(self, name)} is not positive", "Raise it."))
        if faults:
            raise Refused(faults)


@dataclass(frozen=True)
class Course:
    """Numbers of one course at home.

    Parameters
    ----------
    nights : int
        Nights planned: 7, 10, 14, 21 or 28. Two weeks are common practice, no source.
    spares : int
        Pieces on top of one per position and night.
    tries : int
        Tries at a position, each with a fresh piece: 1 or 2.
    failed_positions_stop : int
        Failed positions that end the evening: 1 or 2.
    minutes_trying : int
        Longest time of trying in one evening, minutes. Common practice, no source.
    minutes_upright : int
        Minutes to stay upright afterwards. Common practice, no source.
    practised : Practised
        What makes an evening a practised night.
    lost_after_days : int
        Days without contact after the follow-up was due before a trainee is lost to follow-up.
    decision_days : int
        Longest validity of a clinician's decision, days.

    Raises
    ------
    Refused
        With every number out of range.
    """

    nights: int = 14
    spares: int = 10
    tries: int = 2
    failed_positions_stop: int = 2
    minutes_trying: int = 20
    minutes_upright: int = 30
    practised: Practised = Practised.ANY
    lost_after_days: int = 28
    decision_days: int = 42

    def __post_init__(self) -> None:
        """Refuse numbers outside what the pages and the orders are made for."""
        faults = []
        if self.nights not in {7, 10, 14, 21, 28}:
            what = f"there are no orders for {self.nights} nights"
            faults.append(_fault("nights", what, "Use 7, 10, 14, 21 or 28."))
        ranges = {
            "spares": (0, 200),
            "tries": (1, 2),
            "failed_positions_stop": (1, 2),
            "minutes_trying": (1, 20),
            "minutes_upright": (2, 180),
            "lost_after_days": (1, 365),
            "decision_days": (1, 92),
        }
        for name, (low, high) in ranges.items():
            if not low <= getattr(self, name) <= high:
                what = f"{getattr(self, name)} is outside {low} to {high}"
                faults.append(_fault(name, what, "Use a number within."))
        if faults:
            raise Refused(faults)


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "protocol")
