"""What is asked of whoever looks: guesses of one kind side by side, the doubtful ones alone."""

from datetime import UTC, date, datetime
from typing import Any

from sidelong.clinic.sheets.answers import doubtful, states_of
from sidelong.clinic.sheets.forms import said_in_form
from sidelong.clinic.sheets.queries import SheetLine
from sidelong.clinic.sheets.shown import sort_out
from sidelong.training.position import Position

ORDER = (Position.LEFT, Position.CENTRE, Position.RIGHT)
RATINGS = ("1", "2", "3", "4", "5")
BEGINS = date(2026, 12, 1)


def line(night: int | None, read: dict[str, Any], **more: Any) -> SheetLine:
    """One sheet; what is read is (value, confidence, accepted) by field."""
    states = states_of(read, more.pop("said", {}))
    usual: dict[str, Any] = {
        "key": night or 99,
        "night": night,
        "is_spare": False,
        "part": 0,
        "order": ORDER,
        "is_sure": True,
        "is_wrong_size": False,
        "states": states,
        "waiting": doubtful(states),
        "values": dict.fromkeys(read, RATINGS),
        "notes": ("free.0",),
        "outcome": "",
        "has_pixels": True,
        "received": datetime(2026, 12, 20, tzinfo=UTC),
        "is_known": False,
        "evening": "",
        "seems_undated": False,
        "handwriting": (),
    }
    return SheetLine(**usual | more)


def rated(value: str, confidence: float) -> dict[str, Any]:
    return {f"p{slot}.rating": [value, confidence, False] for slot in (1, 2, 3)}


def test_guesses_of_one_value_stand_together_over_all_sheets() -> None:
    lines = [line(night, rated("45"[night % 2], 0.9)) for night in (1, 2, 3, 4)]
    shown = sort_out(lines)
    assert shown.questions == ()
    assert [{item.asked.guess.value for item in each.items} for each in shown.guesses] == [
        {"4"},
        {"5"},
    ]
    assert [len(each.items) for each in shown.guesses] == [6, 6]
    assert "easy" in shown.guesses[0].title


def test_no_group_is_larger_than_a_screen_and_they_are_shared_out_evenly() -> None:
    shown = sort_out([line(night, rated("4", 0.9)) for night in range(1, 6)])
    assert [len(each.items) for each in shown.guesses] == [7, 8]
    assert all(item.letter for each in shown.guesses for item in each.items)


def test_doubtful_guesses_and_those_of_unsure_sheets_are_asked_alone_most_doubtful_first() -> None:
    lines = [
        line(1, rated("4", 0.3)),
        line(2, rated("4", 0.9), is_sure=False),
        line(3, rated("", 0.55)),
        line(4, rated("4", 0.9), has_pixels=False),
    ]
    shown = sort_out(lines)
    assert shown.guesses == ()
    assert [each.night for each in shown.questions] == [1] * 3 + [3] * 3 + [2, 2, 2, 4, 4, 4]


def test_every_open_field_is_asked_exactly_once() -> None:
    lines = [
        line(night, {f"p{slot}.rating": [str(slot), 0.2 * slot, False] for slot in (1, 2, 3)})
        for night in range(1, 10)
    ]
    shown = sort_out(lines)
    asked = [(each.sheet, each.field) for each in shown.questions]
    asked += [(g.asked.sheet, g.asked.field) for each in shown.guesses for g in each.items]
    assert sorted(asked) == sorted((each.key, s.field) for each in lines for s in each.waiting)
    assert len(sort_out(lines, one_by_one=True).questions) == len(asked)


def test_a_group_sends_what_is_guessed_of_each_sheet() -> None:
    (group,) = sort_out([line(7, rated("4", 0.8))]).guesses
    sent = set(said_in_form({group.name: group.value}))
    assert sent == {(7, f"p{slot}.rating", "4") for slot in (1, 2, 3)}


def test_blanks_are_not_asked_where_it_is_sure_that_nobody_practised() -> None:
    read = rated("", 0.4) | {"skipped": ["1", 0.9, True], "felt_best": ["left", 0.9, False]}
    states = states_of(read, {})
    assert [each.field for each in doubtful(states)] == ["felt_best"]
    unsure = states_of(read | {"skipped": ["1", 0.6, False]}, {})
    assert len(doubtful(unsure)) == 5, "a tick that nobody has looked at implies nothing"


def test_dates_are_proposed_only_where_one_is_written_and_none_in_the_future() -> None:
    done = {"p1.rating": ["4", 1.0, True]}
    lines = [
        line(2, done),
        line(3, done, evening="2026-12-05"),
        line(4, done),
        line(5, done, seems_undated=True),
        line(9, done),
    ]
    shown = sort_out(lines, begins=BEGINS, today=date(2026, 12, 8))
    proposed = {each.line.night: each.form.initial["evening"] for each in shown.to_confirm}
    assert proposed == {2: "2026-12-02", 3: "2026-12-05", 4: "2026-12-06", 5: "", 9: ""}
    assert [each.line.night for each in shown.to_confirm if each.is_date_proposed] == [2, 4]
