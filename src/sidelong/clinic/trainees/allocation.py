"""The secret key of the allocation, its commitment, and the next place of a stream.

The key lies on the key ring, outside the database, so that nobody who reads tables can foresee an
order; the commitment in the database shows later that the key was not chosen after the fact.
"""

from django.conf import settings

from sidelong.clinic.keys import Key, Purpose
from sidelong.clinic.trainees.models import Allocation, Stream
from sidelong.designs import table_digest
from sidelong.problems import Problem, Refused


def allocation_key() -> Key:
    """Give the newest key for drawing orders."""
    key: Key = settings.INSTALLATION.key_ring().newest(Purpose.ALLOCATION)
    return key


def allocation_in_use(key: Key) -> Allocation:
    """Find the commitment to a key.

    Parameters
    ----------
    key : Key
        The newest one for drawing orders.

    Returns
    -------
    Allocation
        Recorded before anything was drawn with the key.

    Raises
    ------
    Refused
        If it has not been recorded, or another table of base orders is in use by now.
    """
    row: Allocation | None = Allocation.objects.filter(key_name=key.name).first()
    if row is None:
        what = "its commitment has not been recorded"
        remedy = "Begin the allocation first; orders are drawn after that."
        raise Refused([Problem(f"allocation with {key.name}", what, remedy, "seed")])
    if row.orders_table != table_digest():
        what = "it was begun with another version's table of orders"
        remedy = "Put a new allocation key on the key ring, and begin anew."
        raise Refused([Problem(f"allocation with {key.name}", what, remedy, "seed")])
    return row


def take_place(allocation: Allocation, label: str) -> int:
    """Hand out the next place of a stream, once; inside the act that keeps the plan.

    Parameters
    ----------
    allocation : Allocation
        Whose key draws.
    label : str
        Label of the stream.

    Returns
    -------
    int
        From 0. Others wait for the row until the act has ended, and get the place back if it
        fails.
    """
    Stream.objects.get_or_create(allocation=allocation, label=label)
    stream = Stream.objects.select_for_update().get(allocation=allocation, label=label)
    place: int = stream.n_taken
    stream.n_taken = place + 1
    stream.save(update_fields=["n_taken"])
    return place


def pass_over(commitment: str, label: str, *, index: int) -> None:
    """Count a place that was handed out elsewhere with the same key; inside an act."""
    allocation = Allocation.objects.filter(commitment=commitment).first()
    if allocation is None:
        return
    Stream.objects.get_or_create(allocation=allocation, label=label)
    stream = Stream.objects.select_for_update().get(allocation=allocation, label=label)
    stream.n_taken = max(stream.n_taken, index + 1)
    stream.save(update_fields=["n_taken"])
