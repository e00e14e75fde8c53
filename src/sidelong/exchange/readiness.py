"""Tables that say where referrals stand: one row a trainee, and one row a reason."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.plans import BAND, TRAINEE, optional
from sidelong.exchange.rows import find_code_twins, find_repeats
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.gates import Answer, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position, in_listed_order
from sidelong.training.readiness import Gap, Limits, Part, Readiness, SortedReferral

READINESS_COLUMNS = (
    TRAINEE,
    Column(name="site", kind=Kind.LABEL, says="Where the trainee practises."),
    BAND,
    optional("language", Kind.LABEL, "Language of the family, BCP 47 tag."),
    Column(
        name="readiness",
        kind=Kind.CHOICE,
        choices=tuple(Readiness),
        says="ready means ready for a clinician's decision; nobody is cleared by the program.",
    ),
    optional("missing", Kind.LABEL, "What a plan still lacks, with spaces between."),
    Column(name="n_unanswered", kind=Kind.INTEGER, least=0, says="Questions without an answer."),
    Column(name="positions", kind=Kind.LABEL, says="Positions left, with spaces between."),
    optional("ingredients", Kind.LABEL, "Limits on pieces, with spaces between."),
    optional("changes", Kind.LABEL, "Changes of the plan, with spaces between."),
    optional("max_piece_mm", Kind.NUMBER, "Largest piece that a clinician allows, mm."),
    optional("water_ml", Kind.NUMBER, "Water that a clinician allows for an evening, mL."),
    optional("decided_role", Kind.LABEL, "Role of the clinician who decided on practice."),
    optional("decided_on", Kind.DATE, "Day of that decision."),
    optional("expires_on", Kind.DATE, "Last day on which everything decided still holds."),
    Column(name="sorted_on", kind=Kind.DATE, says="Day of sorting."),
    Column(name="protocol_version", kind=Kind.LABEL, says="Version of the protocol."),
    Column(name="protocol_fingerprint", kind=Kind.LABEL, says="SHA-256 of the protocol's text."),
)
REASON_COLUMNS = (
    TRAINEE,
    optional("number", Kind.INTEGER, "Number of the gate; empty for what is missing otherwise."),
    Column(name="gate", kind=Kind.CODE, says="Key of the gate, or what a plan lacks."),
    Column(
        name="answer",
        kind=Kind.CHOICE,
        choices=(*Answer, "none"),
        is_required=False,
        may_be_blank=True,
        says="What was answered; none and unknown count as yes.",
    ),
    Column(
        name="asks_for",
        kind=Kind.CHOICE,
        choices=tuple(Readiness),
        is_required=False,
        may_be_blank=True,
        says="What this gate alone asks for on the day of sorting.",
    ),
    optional("effects", Kind.LABEL, "Effects in force, gravest first, with semicolons between."),
    optional("why", Kind.LABEL, "Reason for the gate."),
    optional("until", Kind.LABEL, "When its stop ends."),
    optional("decide_by", Kind.LABEL, "Who decides."),
    optional("note", Kind.LABEL, "What was recorded about it, or what is missing."),
    optional("source", Kind.LABEL, "Where the gate comes from."),
    optional("status", Kind.LABEL, "How well it is supported."),
)


def write_readiness(path: Path, referrals: Iterable[SortedReferral]) -> None:
    """Write where referrals stand, whole or not at all.

    Parameters
    ----------
    path : Path
        Table to write; a file of that name is replaced.
    referrals : iterable of SortedReferral
        One row each.
    """
    write_table(path, READINESS_COLUMNS, [_cells(each) for each in referrals])


def write_reasons(path: Path, referrals: Iterable[SortedReferral]) -> None:
    """Write why referrals stand where they do, whole or not at all.

    Parameters
    ----------
    path : Path
        Table to write; a file of that name is replaced.
    referrals : iterable of SortedReferral
        One row for each gate that counts as yes and for each thing that a plan still lacks.
    """
    write_table(path, REASON_COLUMNS, [row for each in referrals for row in _reasons(each)])


def read_readiness(path: Path) -> tuple[SortedReferral, ...]:
    """Read where referrals stand, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        Table as :func:`write_readiness` wrote it.

    Returns
    -------
    tuple of SortedReferral
        In the table's order; without reasons, which stand in a table of their own.

    Raises
    ------
    Refused
        With every faulty row.
    """
    scan = scan_table(path, READINESS_COLUMNS)
    faults = [*scan.faults, *find_repeats(scan.rows, "trainee", of="the table")]
    faults += find_code_twins(scan.rows)
    referrals = []
    for row in scan.rows:
        if not row.faulty:
            made = _referral(row)
            if isinstance(made, SortedReferral):
                referrals.append(made)
            else:
                faults += made
    if faults:
        raise Refused(faults)
    return tuple(referrals)


def _cells(each: SortedReferral) -> dict[str, Value]:
    limits = each.limits
    return {
        "trainee": each.trainee,
        "site": each.site,
        "band": each.band,
        "language": each.language,
        "readiness": each.readiness,
        "missing": " ".join(dict.fromkeys(gap.part for gap in each.missing)),
        "n_unanswered": len(each.unanswered),
        "positions": " ".join(limits.positions),
        "ingredients": " ".join(sorted(limits.ingredients)),
        "changes": " ".join(sorted(limits.changes)),
        "max_piece_mm": limits.max_piece_mm,
        "water_ml": limits.water_ml,
        "decided_role": each.decided_role,
        "decided_on": each.decided_on,
        "expires_on": each.expires_on,
        "sorted_on": each.sorted_on,
        "protocol_version": each.protocol_version,
        "protocol_fingerprint": each.protocol_fingerprint,
    }


def _reasons(each: SortedReferral) -> list[dict[str, Value]]:
    rows: list[dict[str, Value]] = [
        {
            "trainee": each.trainee,
            "number": reason.number,
            "gate": reason.gate,
            "answer": reason.answer or "none",
            "asks_for": reason.state,
            "effects": "; ".join(reason.effects),
            "why": reason.why,
            "until": reason.until,
            "decide_by": reason.decide_by,
            "note": reason.note,
            "source": reason.source,
            "status": reason.status,
        }
        for reason in each.reasons
    ]
    # Gates and answers have rows of their own above; the rest of what is missing has none.
    rows += [
        {"trainee": each.trainee, "gate": gap.part, "note": gap.says}
        for gap in each.missing
        if gap.part not in {Part.GATES, Part.ANSWERS}
    ]
    return rows


def _referral(row: Row) -> SortedReferral | list[Problem]:
    faults: list[Problem] = []
    positions = _words(row, "positions", Position, faults)
    ingredients = _words(row, "ingredients", IngredientLimit, faults)
    changes = _words(row, "changes", PlanChange, faults)
    missing = _words(row, "missing", Part, faults)
    if not faults and Position.CENTRE not in positions:
        remedy = "Sort the referrals again."
        faults.append(row.problem("positions", "the centre is missing", remedy))
    if faults:
        return faults
    try:
        return SortedReferral(
            trainee=row["trainee"],
            site=row["site"],
            band=row["band"] or "",
            language=row["language"] or "",
            readiness=Readiness(row["readiness"]),
            reasons=(),
            unanswered=(),
            limits=Limits(
                positions=in_listed_order(frozenset(positions)),
                ingredients=frozenset(ingredients),
                changes=frozenset(changes),
                max_piece_mm=row["max_piece_mm"],
                water_ml=row["water_ml"],
            ),
            sorted_on=row["sorted_on"],
            protocol_version=row["protocol_version"],
            protocol_fingerprint=row["protocol_fingerprint"],
            decided_role=row["decided_role"] or "",
            decided_on=row["decided_on"],
            expires_on=row["expires_on"],
            missing=tuple(Gap(part) for part in missing),
        )
    except ValueError:
        what = "nothing is said to be missing, and yet nobody has decided"
        remedy = "Do not change this table by hand; sort the referrals again."
        return [row.problem("missing", what, remedy)]


def _words(row: Row, column: str, known: Any, faults: list[Problem]) -> list[Any]:
    """Read a cell of words with spaces between them."""
    found = []
    for word in dict.fromkeys((row[column] or "").split()):
        if word in set(known):
            found.append(known(word))
        else:
            remedy = "Do not change this table by hand; sort the referrals again."
            faults.append(row.problem(column, "a word is not known here", remedy))
    return found
