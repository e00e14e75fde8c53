"""What a sheet says, once the computer and a person have looked at it."""

from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass, replace

from sidelong.clinic.practice.models import ALL_THE_SAME
from sidelong.clinic.practice.nights import Known
from sidelong.clinic.practice.typed import TypedCell, TypedNight
from sidelong.training.entry import WentDown
from sidelong.training.position import Position

SAME = "same"
SKIPPED = "skipped"
_NOT_SAID = "other"
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
    if state.is_settled:
        return False
    skipped = states.get(SKIPPED)
    if skipped and skipped.is_settled and skipped.value and not state.read:
        return False  # nobody practised, and nothing is seen here that says otherwise
    if not state.field.endswith(_WHY_NOT):
        return True
    # Why a piece did not go down is asked once it is sure that it did not.
    went = states.get(state.field.removesuffix(_WHY_NOT) + _WENT_DOWN)
    return went is None or (went.is_settled and went.value == WentDown.NO)


@dataclass(frozen=True)
class SheetPlace:
    """Which night a sheet is, and what is known of that night.

    Parameters
    ----------
    night : int
        Number of the sheet, or the night that a spare one stands for.
    order : tuple of Position
        Positions of the sheet's slots, slot 1 first.
    plan_version : int
        Version of the plan that it was printed from.
    is_part : bool
        Whether the night stands on two pages, of which this is one.
    known : Known
        What is known of the course.
    """

    night: int
    order: tuple[Position, ...]
    plan_version: int
    is_part: bool
    known: Known

    @property
    def before(self) -> TypedNight:
        """The night as it is known."""
        return self.known.typed(self.night)

    @property
    def is_known(self) -> bool:
        """Whether anything is known of the night."""
        return self.known.version(self.night) > 0

    def adds_only(self, ours: TypedNight) -> bool:
        """Tell whether a page fills in what was blank, and says nothing else otherwise."""
        before = self.before
        pairs = [
            (before.felt_best, ours.felt_best),
            (before.evening, ours.evening),
            (before.written, ours.written),
            (before.not_done, ours.not_done),
        ]
        for position, cell in zip(self.order, ours.cells, strict=True):
            kept = self.cell_before(position)
            pairs += zip(astuple(kept), astuple(cell), strict=True)
        return all(not known or known == said for known, said in pairs)

    def cell_before(self, position: Position) -> TypedCell:
        """Give what is known of one position; blank where nothing is."""
        cells = dict(zip(self.known.order(self.night), self.before.cells, strict=True))
        return cells.get(position, TypedCell())


def to_night(
    states: Mapping[str, FieldState],
    place: SheetPlace,
    *,
    evening: str = "",
    not_done: str = "",
    replaces: bool = False,
) -> TypedNight:
    """Write a sheet's answers as a night that somebody typed.

    What a sheet does not ask stays as it is known. The second page of a large print goes over the
    first one as long as the two do not contradict each other.

    Parameters
    ----------
    states : mapping of str to FieldState
        All fields of the sheet.
    place : SheetPlace
        Which night it is.
    evening, not_done : str
        Date and reason as a person gives them; those that are known where these are empty.
    replaces : bool
        Let the sheet count although the night is known otherwise.

    Returns
    -------
    TypedNight
        Checked like every typed night.
    """
    before = place.before
    values = {field: state.value for field, state in states.items()}
    best = values.get("felt_best", before.felt_best)
    skipped = not_done or before.not_done or _NOT_SAID if values.get(SKIPPED) else ""
    ours = TypedNight(
        night=place.night,
        base=0,
        cells=tuple(
            _cell(values, slot, place.cell_before(position))
            for slot, position in enumerate(place.order, start=1)
        ),
        felt_best=ALL_THE_SAME if best == SAME else best,
        evening=evening or (before.evening if place.is_known else ""),
        written=values.get("written", before.written),
        not_done=skipped if SKIPPED in values else before.not_done,
        scale=before.scale,
        rated_by=before.rated_by,
        order=place.order,
        plan_version=place.plan_version,
    )
    if replaces or (place.is_part and place.adds_only(ours)):
        return replace(ours, base=place.known.version(place.night))
    return ours


def _cell(values: Mapping[str, str], slot: int, kept: TypedCell) -> TypedCell:
    went = values.get(f"p{slot}.went_down", kept.went_down)
    why = values.get(f"p{slot}.why_not", kept.why_not) if went in ("", WentDown.NO) else ""
    rating = values.get(f"p{slot}.rating", kept.rating)
    return TypedCell(rating, went or (WentDown.NO if why else ""), why)
