"""Tables of referrals, answers and decisions."""

from datetime import date
from pathlib import Path

import pytest

from sidelong.exchange.protocols import read_demo_protocol
from sidelong.exchange.referrals import read_decisions, read_referrals
from sidelong.problems import Refused
from sidelong.training.gates import Answer, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.referral import Decided, PieceForm, Referral

PROTOCOL = read_demo_protocol()


def table(folder: Path, name: str, *lines: str) -> Path:
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def faults(refusal: pytest.ExceptionInfo[Refused]) -> list[str]:
    return [str(each) for each in refusal.value.problems]


def test_referrals_come_with_their_answers(tmp_path: Path) -> None:
    path = table(
        tmp_path,
        "referrals.csv",
        "trainee,site,age_years,band,language,form,referred,last_change",
        "A-1,demo,7,younger,en,other,2026-02-01,2026-03-01",
        "A-2,demo,,,,,,",
    )
    answers = table(
        tmp_path, "answers.csv", "trainee,gate,answer", "A-1,reflux,no", "A-1,galactosaemia,unknown"
    )

    first, second = read_referrals(path, answers=answers, protocol=PROTOCOL)

    given = {"reflux": Answer.NO, "galactosaemia": Answer.UNKNOWN}
    assert first == Referral(
        "A-1",
        "demo",
        7,
        given,
        "younger",
        "en",
        PieceForm.OTHER,
        date(2026, 2, 1),
        date(2026, 3, 1),
    )
    assert second == Referral("A-2", "demo", None)


def test_referrals_may_come_before_anybody_was_asked(tmp_path: Path) -> None:
    path = table(tmp_path, "referrals.csv", "trainee,site,age_years", "A-1,demo,7")

    assert read_referrals(path, answers=None, protocol=PROTOCOL)[0].answers == {}


@pytest.mark.parametrize(
    "column",
    [
        "Name",
        "first name",
        "Surname",
        "date of birth",
        "DOB",
        "birth_date",
        "parent_phone",
        "E-mail",
        "Address",
    ],
)
def test_columns_that_say_who_somebody_is_are_refused(column: str, tmp_path: Path) -> None:
    path = table(tmp_path, "referrals.csv", f"trainee,site,age_years,{column}", "A-1,demo,7,Xyzzy")

    with pytest.raises(Refused) as refusal:
        read_referrals(path, answers=None, protocol=PROTOCOL)

    (fault,) = faults(refusal)
    assert "column 4" in fault
    assert "Delete the column" in fault
    assert "Xyzzy" not in fault


def test_faults_of_both_tables_come_at_once(tmp_path: Path) -> None:
    path = table(
        tmp_path,
        "referrals.csv",
        "trainee,site,age_years",
        "A-1,demo,seven",
        "A-2,demo,8",
        "A-2,demo,9",
    )
    answers = table(
        tmp_path,
        "answers.csv",
        "trainee,gate,answer",
        "A-2,refux,no",
        "A-9,reflux,no",
        "A-2,reflux,perhaps",
        "A-2,diabetes,no",
        "A-2,diabetes,yes",
    )

    with pytest.raises(Refused) as refusal:
        read_referrals(path, answers=answers, protocol=PROTOCOL)

    found = faults(refusal)
    assert [each.split(":")[0] for each in found] == [
        "referrals.csv, row 2, age_years",
        "referrals.csv, row 4, trainee",
        "answers.csv, row 4, answer",
        "answers.csv, row 2, gate",
        "answers.csv, row 3, trainee",
        "answers.csv, row 6, gate",
    ]
    assert "Did you mean reflux?" in found[3]


HEADER = (
    "trainee,gate,decision,decided_by,role,decided_on,reason,expires_on,gives_back,takes_out,"
    "lifts,max_piece_mm,water_ml"
)


def test_decisions_come_with_their_limits(tmp_path: Path) -> None:
    path = table(
        tmp_path,
        "decisions.csv",
        HEADER,
        "A-1,neck_condition,go_with_limits,Dr A,physiotherapist,2026-03-01,seen,2026-03-20,"
        "left right,down,no_sugar count_carbohydrate,6.5,80",
        "A-1,practice,go,Dr B,paediatrician,2026-03-02,seen,2026-03-20,,,,,",
    )

    first, second = read_decisions(path, protocol=PROTOCOL, trainees=["A-1"])

    assert first.gives_back == {Position.LEFT, Position.RIGHT}
    assert first.takes_out == {Position.DOWN}
    assert first.lifts == {IngredientLimit.NO_SUGAR, PlanChange.COUNT_CARBOHYDRATE}
    assert (first.max_piece_mm, first.water_ml) == (6.5, 80)
    assert second.decided is Decided.GO
    assert second.expires_on == date(2026, 3, 20)


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("A-9,reflux,go,Dr A,doctor,2026-03-01,seen,2026-03-20,,,,,", "trainee"),
        ("A-1,refux,go,Dr A,doctor,2026-03-01,seen,2026-03-20,,,,,", "gate"),
        ("A-1,reflux,maybe,Dr A,doctor,2026-03-01,seen,2026-03-20,,,,,", "decision"),
        ("A-1,reflux,go,,doctor,2026-03-01,seen,2026-03-20,,,,,", "decided_by"),
        ("A-1,reflux,go,Dr A,,2026-03-01,seen,2026-03-20,,,,,", "role"),
        ("A-1,reflux,go,Dr A,doctor,2026-03-01,,2026-03-20,,,,,", "reason"),
        ("A-1,reflux,go,Dr A,doctor,2026-03-01,seen,,,,,,", "expires_on"),
        ("A-1,reflux,go,Dr A,doctor,2026-03-21,seen,2026-03-20,,,,,", "expires_on"),
        ("A-1,reflux,go,Dr A,doctor,2026-03-01,seen,2026-03-20,sideways,,,,", "gives_back"),
        (
            "A-1,reflux,go_with_limits,Dr A,doctor,2026-03-01,seen,2026-03-20,,centre,,,",
            "takes_out",
        ),
        ("A-1,reflux,go,Dr A,doctor,2026-03-01,seen,2026-03-20,,,,6,", "decision"),
        ("A-1,reflux,do_not_go,Dr A,doctor,2026-03-01,seen,2026-03-20,up,,,,", "decision"),
        ("A-1,reflux,go,Dr A,doctor,2026-03-01,seen,2026-03-20,,,no_fun,,", "lifts"),
    ],
)
def test_decision_that_is_not_whole_is_refused(row: str, place: str, tmp_path: Path) -> None:
    path = table(tmp_path, "decisions.csv", HEADER, row)

    with pytest.raises(Refused) as refusal:
        read_decisions(path, protocol=PROTOCOL, trainees=["A-1"])

    assert faults(refusal)[0].startswith(f"decisions.csv, row 2, {place}: ")


def test_headers_alone_say_that_nobody_was_asked_and_nothing_decided(tmp_path: Path) -> None:
    path = table(tmp_path, "referrals.csv", "trainee,site,age_years", "A-1,demo,7")
    answers = table(tmp_path, "answers.csv", "trainee,gate,answer")
    header = "trainee,gate,decision,decided_by,role,decided_on,reason,expires_on"
    decisions = table(tmp_path, "decisions.csv", header)

    (referral,) = read_referrals(path, answers=answers, protocol=PROTOCOL)

    assert referral.answers == {}
    assert read_decisions(decisions, protocol=PROTOCOL, trainees=["A-1"]) == ()
