"""The table of safety events: `trainee,night,tier,position`, and when practice could go on."""

from pathlib import Path

from sidelong.exchange.columns import Column, Kind
from sidelong.exchange.tables import read_table, write_table
from sidelong.training.event import Event
from sidelong.training.position import Position
from sidelong.training.safety import Tier

EVENT_COLUMNS = (
    Column(name="trainee", kind=Kind.CODE, says="The trainee's code; never a name."),
    Column(name="night", kind=Kind.INTEGER, says="The sheet's number.", least=1),
    Column(
        name="tier",
        kind=Kind.CHOICE,
        says="pause: a brief cough that cleared; stop_tonight: lasting cough, vomiting, pain or "
        "distress; act_first: choking, trouble breathing or a piece that felt stuck.",
        choices=tuple(Tier),
    ),
    Column(
        name="position",
        kind=Kind.CHOICE,
        says="Where the head was; empty where nobody knows, which closes every position.",
        choices=tuple(Position),
        may_be_blank=True,
    ),
    Column(
        name="may_go_on_since",
        kind=Kind.DATE,
        says="Day on which a clinician answered that practice may go on; empty while it is locked. "
        "The position stays closed.",
        is_required=False,
        may_be_blank=True,
    ),
)


def read_events(path: Path) -> tuple[Event, ...]:
    """Read safety events.

    Parameters
    ----------
    path : Path
        The table.

    Returns
    -------
    tuple of Event
        In the table's order; none where there is a header alone.

    Raises
    ------
    Refused
        With every fault of the table.
    """
    return tuple(
        Event(
            trainee=row["trainee"],
            night=row["night"],
            tier=Tier(row["tier"]),
            position=Position(row["position"]) if row["position"] else None,
            may_go_on_since=row["may_go_on_since"],
        )
        for row in read_table(path, EVENT_COLUMNS, may_be_empty=True)
    )


def write_events(path: Path, events: tuple[Event, ...]) -> None:
    """Write safety events, one row each."""
    rows = (
        {
            "trainee": event.trainee,
            "night": event.night,
            "tier": event.tier.value,
            "position": event.position.value if event.position else None,
            "may_go_on_since": event.may_go_on_since,
        }
        for event in events
    )
    write_table(path, EVENT_COLUMNS, rows)
