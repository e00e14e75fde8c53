"""Plans for trainees who enrol one at a time: even at every moment, and not to be foreseen.

A stream is cut into blocks of n (n - 1) trainees. A block takes one base plan and gives each
trainee one of its relabellings x -> a x + b over the field of n elements: all n values of b for
one a, then all for the next. Which base plan, which position each field element stands for, and
the order of the a and of the b are drawn from HMAC-SHA256 of the secret key. Base plans are dealt
without return, so that a plan comes back only after all of them have been used.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidelong.designs.base_plans import base_plans
from sidelong.designs.criteria import SUPPORTED_NIGHTS, SUPPORTED_POSITIONS
from sidelong.designs.fields import field_tables
from sidelong.designs.measures import check_orders
from sidelong.designs.secret_draws import SecretDraws, check_key, commit_seed


def _base_plan_of_block(
    key: bytes, *, stream: str, block: int, plans: NDArray[np.intp]
) -> NDArray[np.intp]:
    deal, place = divmod(block, len(plans))
    draws = SecretDraws(key, stream=stream, purpose="deal", number=deal)
    dealt: NDArray[np.intp] = plans[draws.permutation(len(plans))[place]]
    return dealt


def allocate_orders(
    key: bytes, *, stream: str, index: int, n_positions: int, n_nights: int
) -> NDArray[np.intp]:
    """Give the plan of one trainee of a stream; the same arguments always give the same plan.

    Any index may be asked for on its own. The caller hands out indices 0, 1, 2, ... in the order
    of enrolment, each once; the balance holds for what was handed out without gaps.

    Parameters
    ----------
    key : bytes
        The secret, at least 32 bytes; record :func:`~sidelong.designs.secret_draws.commit_seed`
        of it before the first plan.
    stream : str
        Label of the stream, see :func:`~sidelong.designs.streams.stream_label`.
    index : int
        Place in the stream, from 0.
    n_positions : int
        1 to 5; with 1 every night is practice without comparison.
    n_nights : int
        7, 10, 14, 21 or 28.

    Returns
    -------
    ndarray of int, shape (n_nights, n_positions)
        Position index in 0..n_positions-1 for every night and slot.

    Raises
    ------
    ValueError
        If the index is negative, the key short, or no plans of that size are shipped.

    Examples
    --------
    >>> from sidelong.designs.secret_draws import key_from_seed
    >>> key = key_from_seed(1)
    >>> orders = [
    ...     allocate_orders(key, stream="s", index=i, n_positions=5, n_nights=14) for i in range(5)
    ... ]
    >>> sorted(int(plan[0, 0]) for plan in orders)
    [0, 1, 2, 3, 4]
    """
    check_key(key)
    if index < 0:
        raise ValueError(f"index {index} is before the first trainee of a stream")
    plans = base_plans(n_positions, n_nights)
    if n_positions == 1:
        only: NDArray[np.intp] = plans[0].copy()
        return only
    n = n_positions
    block, place = divmod(index, n * (n - 1))
    group, member = divmod(place, n)
    base = _base_plan_of_block(key, stream=stream, block=block, plans=plans)
    draws = SecretDraws(key, stream=stream, purpose="block", number=block)
    labels = draws.permutation(n)
    multiplier = draws.permutation(n - 1)[group] + 1
    # Earlier groups' translations are drawn as well: they come first in the sequence of draws.
    translation = [draws.permutation(n) for _ in range(group + 1)][group][member]
    plus, times = field_tables(n)
    orders: NDArray[np.intp] = labels[plus[times[multiplier, base], translation]]
    return orders


@dataclass(frozen=True)
class Allocation:
    """A plan with its place, as it was recorded.

    Parameters
    ----------
    stream : str
        Label of the stream.
    index : int
        Place in the stream, from 0.
    orders : tuple of tuple of int
        Position index for every night and slot.
    """

    stream: str
    index: int
    orders: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        """Refuse a place before the first and nights that are no orders."""
        if self.index < 0:
            raise ValueError(f"index {self.index} is before the first trainee of a stream")
        check_orders(np.array(self.orders))


def replay_allocations(
    key: bytes, *, commitment: str, allocations: Sequence[Allocation]
) -> tuple[Allocation, ...]:
    """Draw recorded plans again from the published key and give those that differ.

    Parameters
    ----------
    key : bytes
        The published secret.
    commitment : str
        What was recorded before the first draw.
    allocations : sequence of Allocation
        What was recorded for the trainees.

    Returns
    -------
    tuple of Allocation
        Records that are not what the key gives; empty when everything agrees.

    Raises
    ------
    ValueError
        If the key is not the one that the commitment binds.
    """
    if commit_seed(key) != commitment.strip().lower():
        raise ValueError("the key is not the one whose SHA-256 was recorded before the first draw")
    return tuple(record for record in allocations if not _is_what_key_gives(key, record))


def _is_what_key_gives(key: bytes, record: Allocation) -> bool:
    recorded = np.array(record.orders)
    n_nights, n_positions = recorded.shape
    if n_nights not in SUPPORTED_NIGHTS or n_positions not in SUPPORTED_POSITIONS:
        return False
    drawn = allocate_orders(
        key,
        stream=record.stream,
        index=record.index,
        n_positions=n_positions,
        n_nights=n_nights,
    )
    return bool(np.array_equal(drawn, recorded))
