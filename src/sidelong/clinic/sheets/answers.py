"""What a sheet says, once the computer and a person have looked at it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sidelong.clinic.practice.models import ALL_THE_SAME
from sidelong.clinic.practice.typed import TypedCell, TypedNight
from sidelong.training.entry import WentDown
from sidelong.training.position import Position

SAME = "same"
SKIPPED = "skipped"
_WHY_NOT = ".why_not"
_WENT_DOWN = ".went_down"


@dataclass(frozen=True)
class FieldState:
    """One field of a sheet.

    Parameters
    ----------
    field : str
        Its id on the sheet, for example ``p1.rating``.
    value : str
        What counts now; empty for nothing marked.
    read : str
        What the computer read.
    confidence : float
        Of the computer, in [0, 1].
    is_settled : bool
        Accepted by the computer, or said by a person.
    is_said : bool
        Said by a person.
    """

    field: str
    value: str
    read: str
    confidence: float
    is_settled: bool
    is_said: bool


def states_of(
    read: Mapping[str, Sequence[object]], said: Mapping[str, str]
) -> dict[str, FieldState]:
    """Put together what was read and what was said.

    Parameters
    ----------
    read : mapping of str to (value, confidence, accepted)
        By field.
    said : mapping of str to str
        What a person said last, by field.

    Returns
    -------
    dict of str to FieldState
        In the order of the sheet.
    """
    states = {}
    for field, (value, confidence, accepted) in read.items():
        told = said.get(field)
        states[field] = FieldState(
            field=field,
            value=str(value) if told is None else told,
            read=str(value),
            confidence=float(str(confidence)),
            is_settled=bool(accepted) or told is not None,
            is_said=told is not None,
        )
    return states


def doubtful(states: Mapping[str, FieldState]) -> tuple[FieldState, ...]:
    """List the fields that a person has yet to look at, the most doubtful first."""
    open_ones = [each for each in states.values() if _is_asked(each, states)]
    return tuple(sorted(open_ones, key=lambda each: each.confidence))


def _is_asked(state: FieldState, states: Mapping[str, FieldState]) -> bool:
    # Why a piece did not go down is asked once it is sure that it did not.
    if state.is_settled:
        return False
    if not state.field.endswith(_WHY_NOT):
        return True
    went = states.get(state.field.removesuffix(_WHY_NOT) + _WENT_DOWN)
    return went is None or (went.is_settled and went.value == WentDown.NO)


def to_night(
    states: Mapping[str, FieldState],
    *,
    night: int,
    order: Sequence[Position],
    base: int,
    evening: str,
    not_done: str,
    scale: str,
    rated_by: str,
) -> TypedNight:
    """Write a sheet's answers as a night that somebody typed.

    Parameters
    ----------
    states : mapping of str to FieldState
        All fields of the sheet.
    night : int
        Number of the sheet.
    order : sequence of Position
        Positions of the slots, slot 1 first.
    base : int
        Version of the night that counts now; 0 for none.
    evening, not_done, scale, rated_by : str
        As :class:`TypedNight` takes them.

    Returns
    -------
    TypedNight
        Checked like every typed night.
    """
    values = {field: state.value for field, state in states.items()}
    best = values.get("felt_best", "")
    return TypedNight(
        night=night,
        base=base,
        cells=tuple(_cells(values, len(order))),
        felt_best=ALL_THE_SAME if best == SAME else best,
        evening=evening,
        written=values.get("written", ""),
        not_done=not_done if values.get(SKIPPED) else "",
        scale=scale,
        rated_by=rated_by,
    )


def _cells(values: Mapping[str, str], n: int) -> Iterator[TypedCell]:
    for slot in range(1, n + 1):
        went = values.get(f"p{slot}.went_down", "")
        why = values.get(f"p{slot}.why_not", "") if went in ("", WentDown.NO) else ""
        yield TypedCell(
            values.get(f"p{slot}.rating", ""), went or (WentDown.NO if why else ""), why
        )
