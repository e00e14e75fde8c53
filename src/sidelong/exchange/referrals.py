"""Tables of referrals, their answers and clinicians' decisions; codes only.

Names and birth dates have no place in these files: a column that looks like one is refused before
any cell is looked at.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from sidelong.exchange.columns import Column, Kind, nearest
from sidelong.exchange.plans import BAND, TRAINEE, optional
from sidelong.exchange.rows import find_code_twins, find_repeats, group_rows
from sidelong.exchange.tables import Row, Scan, read_records_of_text, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.gates import Answer, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.referral import PRACTICE, Decided, Decision, PieceForm, Referral

REFERRAL_COLUMNS = (
    TRAINEE,
    Column(name="site", kind=Kind.LABEL, says="Where the trainee practises; as in the protocol."),
    Column(
        name="age_years",
        kind=Kind.INTEGER,
        least=0,
        most=120,
        may_be_blank=True,
        says="Completed years; empty where not known, which counts against practice.",
    ),
    BAND,
    optional("language", Kind.LABEL, "Language of the family, BCP 47 tag."),
    Column(
        name="form",
        kind=Kind.CHOICE,
        choices=tuple(PieceForm),
        is_required=False,
        may_be_blank=True,
        says="Kind of piece that is meant; hard_sugar where empty.",
    ),
    optional("referred", Kind.DATE, "Day of the referral."),
    optional(
        "last_change",
        Kind.DATE,
        "Last visit, illness or new medicine; decisions from before it are open again.",
    ),
)
ANSWER_COLUMNS = (
    TRAINEE,
    Column(name="gate", kind=Kind.CODE, says="Key of a gate, or of its follow-up question."),
    Column(
        name="answer",
        kind=Kind.CHOICE,
        choices=tuple(Answer),
        says="yes, no, or unknown, which counts as yes.",
    ),
)
DECISION_COLUMNS = (
    TRAINEE,
    Column(name="gate", kind=Kind.CODE, says=f"Key of a gate, or {PRACTICE} for all of it."),
    Column(name="decision", kind=Kind.CHOICE, choices=tuple(Decided), says="What was decided."),
    Column(name="decided_by", kind=Kind.LABEL, says="The clinician, as the site names staff."),
    Column(name="role", kind=Kind.LABEL, says="The clinician's role."),
    Column(name="decided_on", kind=Kind.DATE, says="Day of the decision."),
    Column(name="reason", kind=Kind.LABEL, says="Why; no names."),
    Column(name="expires_on", kind=Kind.DATE, says="Last day on which it holds."),
    optional("gives_back", Kind.LABEL, "Held positions that are allowed, with spaces between."),
    optional("takes_out", Kind.LABEL, "Positions that are ruled out, with spaces between."),
    optional("lifts", Kind.LABEL, "Limits or changes that are lifted, with spaces between."),
    Column(
        name="max_piece_mm",
        kind=Kind.NUMBER,
        above=0,
        most=50,
        is_required=False,
        may_be_blank=True,
        says="Largest piece allowed, mm.",
    ),
    Column(
        name="water_ml",
        kind=Kind.NUMBER,
        above=0,
        most=2000,
        is_required=False,
        may_be_blank=True,
        says="Water allowed for an evening, mL.",
    ),
)

_PERSONAL = re.compile(
    r"(?:^|_)(?:name|names|firstname|surname|lastname|forename|born|birth|birthday|birthdate|dob"
    r"|address|street|phone|mobile|email|mail|postcode|zip)(?:_|$)"
)
_LIFTED: dict[str, IngredientLimit | PlanChange] = {
    **{each.value: each for each in PlanChange},
    **{each.value: each for each in IngredientLimit},
}


def read_referrals(path: Path, *, answers: Path | None, protocol: Protocol) -> tuple[Referral, ...]:
    """Read referrals and their answers, or refuse both tables with every fault in them.

    Parameters
    ----------
    path : Path
        Table of referrals, one row a trainee.
    answers : Path or None
        Table of answers, one row a trainee and question; None where nobody has been asked yet.
    protocol : Protocol
        Says which questions there are.

    Returns
    -------
    tuple of Referral
        In the table's order.

    Raises
    ------
    Refused
        With every faulty row of both tables.
    """
    referrals = _scan(path, REFERRAL_COLUMNS)
    faults = [*referrals.faults, *find_repeats(referrals.rows, "trainee", of="the table")]
    faults += find_code_twins(referrals.rows)
    given: dict[str, dict[str, Answer]] = defaultdict(dict)
    if answers is not None:
        asked = _scan(answers, ANSWER_COLUMNS, may_be_empty=True)
        trainees = {row["trainee"] for row in referrals.rows}
        faults += [*asked.faults, *_answer_faults(asked, trainees, set(protocol.questions))]
        for row in asked.rows:
            if not row.faulty:
                given[row["trainee"]][row["gate"]] = Answer(row["answer"])
    if faults:
        raise Refused(faults)
    return tuple(_referral(row, given[row["trainee"]]) for row in referrals.rows)


def read_decisions(
    path: Path, *, protocol: Protocol, trainees: Iterable[str] | None = None
) -> tuple[Decision, ...]:
    """Read what clinicians decided, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        Table of decisions.
    protocol : Protocol
        Says which gates there are.
    trainees : iterable of str or None
        Codes that may stand in it; None takes any.

    Returns
    -------
    tuple of Decision
        In the table's order.

    Raises
    ------
    Refused
        With every faulty row.
    """
    scan = _scan(path, DECISION_COLUMNS, may_be_empty=True)
    faults = list(scan.faults)
    known = None if trainees is None else set(trainees)
    keys = {PRACTICE, *(gate.key for gate in protocol.gates)}
    decisions = []
    for row in scan.rows:
        if known is not None and "trainee" not in row.faulty and row["trainee"] not in known:
            faults.append(_unknown_trainee(row))
        if "gate" not in row.faulty and row["gate"] not in keys:
            faults.append(_unknown_gate(row, keys))
        if not row.faulty:
            made = _decision(row)
            if isinstance(made, Decision):
                decisions.append(made)
            else:
                faults += made
    if faults:
        raise Refused(faults)
    return tuple(decisions)


def _scan(path: Path, columns: Sequence[Column], *, may_be_empty: bool = False) -> Scan:
    """Read a table after looking for columns that say who somebody is."""
    records, _ = read_records_of_text(path, [column.name for column in columns])
    known = {column.name for column in columns}
    remedy = "Delete the column and save again: these files know trainees by their code alone."
    faults = [
        Problem(
            f"{path.name}, row 1, column {number}",
            "the column looks like a name, a birth date or a contact",
            remedy,
            "table-header",
        )
        for number, cell in enumerate(records[0], start=1)
        if _tidy(cell) not in known and _PERSONAL.search(_tidy(cell))
    ]
    if faults:
        raise Refused(faults)
    return scan_table(path, columns, may_be_empty=may_be_empty)


def _tidy(cell: str) -> str:
    return re.sub(r"[^a-z]+", "_", cell.casefold()).strip("_")


def _answer_faults(asked: Scan, trainees: set[str], keys: set[str]) -> list[Problem]:
    faults = []
    for row in asked.rows:
        if "trainee" not in row.faulty and row["trainee"] not in trainees:
            faults.append(_unknown_trainee(row))
        if "gate" not in row.faulty and row["gate"] not in keys:
            faults.append(_unknown_gate(row, keys))
    for (trainee,), rows in group_rows(asked.rows, ("trainee",)).items():
        faults += find_repeats(rows, "gate", of=f"trainee {trainee}")
    return faults


def _unknown_trainee(row: Row) -> Problem:
    remedy = "Add the trainee to the referrals, or correct the code."
    return row.problem("trainee", f"{row['trainee']} is not among the referrals", remedy)


def _unknown_gate(row: Row, keys: set[str]) -> Problem:
    remedy = f"Use the key of a gate in the protocol.{nearest(row['gate'], sorted(keys))}"
    return row.problem("gate", f"the protocol has no gate {row['gate']}", remedy)


def _referral(row: Row, answers: dict[str, Answer]) -> Referral:
    return Referral(
        trainee=row["trainee"],
        site=row["site"],
        age_years=row["age_years"],
        answers=answers,
        band=row["band"] or "",
        language=row["language"] or "",
        form=PieceForm(row["form"] or PieceForm.HARD_SUGAR),
        referred=row["referred"],
        last_change=row["last_change"],
    )


def _decision(row: Row) -> Decision | list[Problem]:
    faults: list[Problem] = []
    positions = {each.value: each for each in Position}
    gives_back = _words(row, "gives_back", positions, faults)
    takes_out = _words(row, "takes_out", positions, faults)
    lifts = _words(row, "lifts", _LIFTED, faults)
    if faults:
        return faults
    try:
        return Decision(
            trainee=row["trainee"],
            gate=row["gate"],
            decided=Decided(row["decision"]),
            decided_by=row["decided_by"],
            role=row["role"],
            decided_on=row["decided_on"],
            expires_on=row["expires_on"],
            reason=row["reason"],
            gives_back=gives_back,
            takes_out=takes_out,
            lifts=lifts,
            max_piece_mm=row["max_piece_mm"],
            water_ml=row["water_ml"],
        )
    except Refused as refused:
        return [
            row.problem(each.where, each.what, each.remedy, kind=each.kind)
            for each in refused.problems
        ]


def _words(row: Row, column: str, known: dict[str, Any], faults: list[Problem]) -> frozenset[Any]:
    """Read a cell of words with spaces between them."""
    found = set()
    for word in (row[column] or "").split():
        if word in known:
            found.add(known[word])
        else:
            remedy = f"Use known words, with spaces between.{nearest(word, sorted(known))}"
            faults.append(row.problem(column, "a word is not known here", remedy))
    return frozenset(found)


def write_referrals(path: Path, referrals: Iterable[Referral], *, answers: Path) -> None:
    """Write referrals and their answers as two tables, each whole or not at all.

    Parameters
    ----------
    path : Path
        Table of referrals.
    referrals : iterable of Referral
        What is written; reading both tables gives it back.
    answers : Path
        Table of answers.
    """
    kept = list(referrals)
    asked = (
        {"trainee": each.trainee, "gate": gate, "answer": answer.value}
        for each in kept
        for gate, answer in each.answers.items()
    )
    write_table(answers, ANSWER_COLUMNS, asked)
    rows = (
        {column.name: getattr(each, column.name) or None for column in REFERRAL_COLUMNS}
        | {"age_years": each.age_years}
        for each in kept
    )
    write_table(path, REFERRAL_COLUMNS, rows)


def write_decisions(path: Path, decisions: Iterable[Decision]) -> None:
    """Write clinicians' decisions, whole or not at all.

    Parameters
    ----------
    path : Path
        Table to write.
    decisions : iterable of Decision
        What is written; it reads back as the same values.
    """
    rows = (
        {
            "trainee": each.trainee,
            "gate": each.gate,
            "decision": each.decided.value,
            "decided_by": each.decided_by,
            "role": each.role,
            "decided_on": each.decided_on,
            "reason": each.reason,
            "expires_on": each.expires_on,
            "gives_back": " ".join(sorted(each.gives_back)),
            "takes_out": " ".join(sorted(each.takes_out)),
            "lifts": " ".join(sorted(each.lifts)),
            "max_piece_mm": each.max_piece_mm,
            "water_ml": each.water_ml,
        }
        for each in decisions
    )
    write_table(path, DECISION_COLUMNS, rows)
