"""The files that bind an allocation: its seed, and the record made before the first draw."""

import json
import secrets
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sidelong
from sidelong.designs import commit_seed, table_digest
from sidelong.exchange.files import write_text
from sidelong.exchange.plans import read_plans
from sidelong.pathway.enrolling import Enrolment
from sidelong.pathway.planning import allocation_key
from sidelong.problems import Problem, Refused
from sidelong.training.plan import Plan


def new_seed(given: str | None) -> str:
    """Take the seed that was given, or draw a secret one.

    Parameters
    ----------
    given : str or None
        A whole number, or 64 hexadecimal digits.

    Returns
    -------
    str
        The seed as it is written down.
    """
    return given or secrets.token_hex(32)


@dataclass(frozen=True)
class DrawnWith:
    """The seed of a table of plans, and the files beside it.

    Parameters
    ----------
    table : Path
        The table of plans.
    seed : str
        The secret seed of the allocation.

    Raises
    ------
    Refused
        If the seed is none.
    """

    table: Path
    seed: str

    def __post_init__(self) -> None:
        """Refuse a word that is no seed."""
        allocation_key(self.seed)

    @property
    def commitment(self) -> str:
        """SHA-256 of the key, hexadecimal."""
        return commit_seed(allocation_key(self.seed))

    @property
    def seed_file(self) -> Path:
        """Where the secret seed lies."""
        return self.table.with_suffix(".seed")

    @property
    def record_file(self) -> Path:
        """Where the commitment lies, which anybody may see."""
        return self.table.with_suffix(".allocation.json")

    def record(
        self,
        enrolments: Sequence[Enrolment],
        *,
        n_nights: int,
        statement: str,
        earlier: Sequence[Plan] = (),
    ) -> Path | None:
        """Write down the seed and what binds us, before the first order is drawn.

        Parameters
        ----------
        enrolments : sequence of Enrolment
            Whose plans are about to be drawn.
        n_nights : int
            Nights of the course.
        statement : str
            What stands behind `up` in the new plans; empty where it is in none. What stands behind
            it in earlier ones is kept.
        earlier : sequence of Plan
            Plans that the table holds already; their places count in the streams.

        Returns
        -------
        Path or None
            The table of an allocation that this one replaces, where it was set aside.
        """
        replaced = None if earlier else self._set_aside()
        streams = Counter(plan.allocation.stream for plan in earlier if plan.allocation)
        streams.update(each.stream(n_nights) for each in enrolments)
        record: dict[str, object] = {
            "program": f"sidelong {sidelong.__version__}",
            "commitment_sha256": self.commitment,
            "orders_table_sha256": table_digest(),
            "nights": n_nights,
            "streams": dict(streams),
        }
        known = _read_record(self.record_file).get("statement", "") if earlier else ""
        stated = known if statement in known else f"{known} {statement}".strip()
        if stated:
            record["statement"] = stated
        write_text(self.seed_file, self.seed + "\n")
        write_text(self.record_file, json.dumps(record, indent=2) + "\n")
        return replaced

    def _set_aside(self) -> Path | None:
        """Keep an allocation that another one is about to replace: its seed exists nowhere else."""
        bound = str(_read_record(self.record_file).get("commitment_sha256", ""))
        if not bound.isalnum() or bound == self.commitment:
            return None
        for file in (self.table, self.seed_file, self.record_file):
            if file.is_file():
                ending = file.name.removeprefix(self.table.stem)
                file.replace(file.with_name(f"{self.table.stem}.{bound[:8]}{ending}"))
        return self.table.with_stem(f"{self.table.stem}.{bound[:8]}")


def continue_drawing(table: Path, given: str | None) -> tuple[DrawnWith, tuple[Plan, ...]]:
    """Go on with a table of plans, or begin one where there is none.

    Parameters
    ----------
    table : Path
        The table of plans; its plans are kept.
    given : str or None
        Seed; must be the one of the table. Where it is not given, the seed beside the table.

    Returns
    -------
    drawn_with : DrawnWith
        The seed to draw with.
    earlier : tuple of Plan
        Plans that the table holds.

    Raises
    ------
    Refused
        If the table was drawn with another seed, or its seed is not at hand.
    """
    if not table.exists():
        return DrawnWith(table, new_seed(given)), ()
    earlier = read_plans(table)
    beside = table.with_suffix(".seed")
    if given is None and not beside.is_file():
        remedy = "Give the seed with --seed, or a new name with --out."
        raise Refused([Problem(str(beside), "the seed of these plans is not here", remedy, "seed")])
    drawn_with = DrawnWith(table, given or beside.read_text(encoding="utf-8").strip())
    check_orders_table(drawn_with.record_file)
    known = {plan.allocation.commitment for plan in earlier if plan.allocation is not None}
    if known != {drawn_with.commitment}:
        remedy = "Give the seed that they were drawn with, or a new name with --out."
        raise Refused(
            [Problem(str(table), "its plans were drawn with another seed", remedy, "seed")]
        )
    return drawn_with, earlier


def check_orders_table(record_file: Path) -> None:
    """Refuse to go on, or to check, with other base orders than the record names.

    Parameters
    ----------
    record_file : Path
        Record of an allocation; nothing is checked where there is none.

    Raises
    ------
    Refused
        If the record names another table of base orders.
    """
    record = _read_record(record_file)
    if record and record.get("orders_table_sha256") != table_digest():
        what = "these plans were drawn from another version's table of orders"
        remedy = "Use the version of the program that the record names."
        raise Refused([Problem(str(record_file), what, remedy, "seed")])


def _read_record(record_file: Path) -> dict[str, Any]:
    """Read what was recorded of an allocation; nothing where there is no record."""
    if not record_file.is_file():
        return {}
    try:
        record = json.loads(record_file.read_text(encoding="utf-8"))
        if isinstance(record, dict):
            return record
    except ValueError:
        pass
    what = "this is not the record that the program wrote"
    remedy = "Put the file back as it was written beside the plans."
    raise Refused([Problem(str(record_file), what, remedy, "seed")])
