"""The rules for moving on the ladder: stay, up, back, start higher, finish early.

Rules are written down beforehand, so that a night's piece never depends on somebody's mood. The
program advises; staff agree the step with the family, and a changed step is a new plan version.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.ladder import Ladder
from sidelong.training.safety import Tier


class Move(StrEnum):
    """What to do about the step."""

    STAY = "stay"
    UP = "up"
    BACK = "back"
    FINISH = "finish"
    LOCKED = "locked"


@dataclass(frozen=True)
class SteppingRules:
    """When to stay, step up, step back, start higher and finish early.

    Parameters
    ----------
    up_after_easy_nights : int
        Easy nights in a row at a step before the next one, 1..5. Common practice, no source.
    easy_rating : int
        Lowest rating that counts as easy, 3..5.
    easy_share : float
        Share of a night's ratings that must be easy, in (0, 1].
    back_after_failed_nights : int
        Failed nights in a row at a step before going back, 1..3.
    start_higher : bool
        Whether home may start above the first step after the visit showed it.
    start_below_seen : int
        Steps to start below the largest piece seen swallowed easily at the visit, 0..3.
    finish_early : bool
        Whether a course may end before its last night.
    finish_after_nights : int
        Practised nights before an early finish, >= 1; one week keeps the comparison of
        positions fair.
    finish_easy_nights : int
        Easy nights in a row at the last step before an early finish, 1..7.

    Raises
    ------
    Refused
        With every value outside its range.
    """

    up_after_easy_nights: int = 3
    easy_rating: int = 4
    easy_share: float = 0.8
    back_after_failed_nights: int = 2
    start_higher: bool = True
    start_below_seen: int = 1
    finish_early: bool = True
    finish_after_nights: int = 7
    finish_easy_nights: int = 3

    def __post_init__(self) -> None:
        """Refuse rules that would rush or never move."""
        ranges: dict[str, tuple[float, float]] = {
            "up_after_easy_nights": (1, 5),
            "easy_rating": (3, 5),
            "back_after_failed_nights": (1, 3),
            "start_below_seen": (0, 3),
            "finish_after_nights": (1, 28),
            "finish_easy_nights": (1, 7),
        }
        faults = [
            Problem(
                name, f"{getattr(self, name)} is outside {low}..{high}", "Stay within.", "steps"
            )
            for name, (low, high) in ranges.items()
            if not low <= getattr(self, name) <= high
        ]
        if not 0 < self.easy_share <= 1:
            what = f"{self.easy_share} is not a share"
            faults.append(Problem("easy_share", what, "Give a share above 0, up to 1.", "steps"))
        if faults:
            raise Refused(faults)


@dataclass(frozen=True)
class PractisedNight:
    """What one night at a step showed.

    Parameters
    ----------
    step : int
        Step on the ladder, from 1.
    n_planned : int
        Positions planned that night, 1..5.
    n_went_down, n_failed : int
        Positions where the piece went down at all, and where it was tried in vain.
    ratings : tuple of int
        Ratings given, 1..5.
    event : Tier or None
        Gravest event of the night.
    """

    step: int
    n_planned: int
    n_went_down: int
    n_failed: int
    ratings: tuple[int, ...] = ()
    event: Tier | None = None

    def __post_init__(self) -> None:
        """Refuse counts that cannot be."""
        if self.step < 1 or not 1 <= self.n_planned <= 5:
            raise ValueError("a night has a step from 1 and one to five positions")
        if min(self.n_went_down, self.n_failed) < 0:
            raise ValueError("counts are not negative")
        if self.n_went_down + self.n_failed > self.n_planned:
            raise ValueError("more positions were tried than planned")
        if any(not 1 <= rating <= 5 for rating in self.ratings):
            raise ValueError("ratings lie within 1..5")

    def is_easy(self, rules: SteppingRules) -> bool:
        """Whether all went down, enough of it easily, without a safety event."""
        if self.event is not None and self.event.is_safety_event:
            return False
        if self.n_went_down < self.n_planned or len(self.ratings) < self.n_planned:
            return False
        n_easy = sum(rating >= rules.easy_rating for rating in self.ratings)
        return n_easy >= rules.easy_share * len(self.ratings)

    def is_failed(self) -> bool:
        """Whether the night came to its stop: two positions in vain, or the only one."""
        return self.n_failed >= min(2, self.n_planned)


@dataclass(frozen=True)
class StepAdvice:
    """What the written rules say about the next night.

    Parameters
    ----------
    step : int
        Step to practise next, from 1; never more than one above the last.
    move : Move
        What kind of move that is.
    reason : str
        For staff, in plain words.
    """

    step: int
    move: Move
    reason: str


def advise_step(
    nights: Sequence[PractisedNight], *, ladder: Ladder, rules: SteppingRules
) -> StepAdvice:
    """Apply the written rules to the nights so far.

    Parameters
    ----------
    nights : sequence of PractisedNight
        Nights with any practice since a clinician last answered a grave event, in order; at
        least one.
    ladder : Ladder
        The trainee's ladder.
    rules : SteppingRules
        The site's rules.

    Returns
    -------
    StepAdvice
        A grave event locks; a failed run or a stop event goes back; an easy run goes up one.

    Raises
    ------
    ValueError
        If there is no night, or a step that the ladder does not have.
    """
    if not nights or any(night.step > len(ladder.steps) for night in nights):
        raise ValueError("advice needs nights on this ladder")
    last = nights[-1]
    if any(night.event is not None and night.event.locks_practice for night in nights):
        reason = "practice is locked after an event until a clinician answers"
        return StepAdvice(last.step, Move.LOCKED, reason)
    if last.event is Tier.STOP_TONIGHT:
        return _step_back(nights, rules=rules, reason="an event stopped the last night")
    n_failed = _run(nights, [night.is_failed() for night in nights])
    if n_failed >= rules.back_after_failed_nights:
        return _step_back(nights, rules=rules, reason=f"{n_failed} failed nights in a row")
    return _stay_or_up(nights, ladder=ladder, rules=rules)


def start_step(largest_seen: int | None, *, ladder: Ladder, rules: SteppingRules) -> int:
    """Choose the first step at home.

    Parameters
    ----------
    largest_seen : int or None
        Largest step that staff saw swallowed easily at the visit; None where none was.
    ladder : Ladder
        The trainee's ladder.
    rules : SteppingRules
        The site's rules.

    Returns
    -------
    int
        Step 1, or higher where the rules allow it and the visit showed it.

    Raises
    ------
    ValueError
        If the ladder has no such step.
    """
    if largest_seen is None or not rules.start_higher:
        return 1
    if not 1 <= largest_seen <= len(ladder.steps):
        raise ValueError(f"the ladder has no step {largest_seen}")
    return max(1, largest_seen - rules.start_below_seen)


def _run(nights: Sequence[PractisedNight], holds: Sequence[bool]) -> int:
    """Count the latest nights in a row, at the last step, for which something holds."""
    count = 0
    for night, held in zip(reversed(nights), reversed(holds), strict=True):
        if not held or night.step != nights[-1].step:
            break
        count += 1
    return count


def _step_back(
    nights: Sequence[PractisedNight], *, rules: SteppingRules, reason: str
) -> StepAdvice:
    """Go back to the last step below that was easy, else one step."""
    here = nights[-1].step
    easy = [night.step for night in nights if night.step < here and night.is_easy(rules)]
    step = easy[-1] if easy else max(1, here - 1)
    if step == here:
        return StepAdvice(here, Move.STAY, f"{reason}; this is the first step: phone the family")
    return StepAdvice(step, Move.BACK, reason)


def _stay_or_up(
    nights: Sequence[PractisedNight], *, ladder: Ladder, rules: SteppingRules
) -> StepAdvice:
    here = nights[-1].step
    n_easy = _run(nights, [night.is_easy(rules) for night in nights])
    if here == len(ladder.steps):
        enough = len(nights) >= rules.finish_after_nights and n_easy >= rules.finish_easy_nights
        if rules.finish_early and enough:
            reason = f"{n_easy} easy nights at the last step: offer the follow-up visit"
            return StepAdvice(here, Move.FINISH, reason)
        return StepAdvice(here, Move.STAY, "the last step is reached: practise to the end")
    if n_easy >= rules.up_after_easy_nights:
        return StepAdvice(here + 1, Move.UP, f"{n_easy} easy nights in a row at this step")
    return StepAdvice(here, Move.STAY, f"{n_easy} of {rules.up_after_easy_nights} easy nights")
