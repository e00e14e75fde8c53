"""The log."""

import json
import logging
import sys
from typing import Any

import pytest

from sidelong.clinic.journal import JsonLines


def line(message: Any, *arguments: Any, exc_info: Any = None, facts: Any = None) -> str:
    record = logging.LogRecord("a", logging.INFO, "f.py", 1, message, arguments, exc_info)
    if facts is not None:
        record.facts = facts
    return JsonLines().format(record)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\u2028", "\x85", '"}\n{"event": "forged"'])
def test_one_event_is_one_line_whatever_is_in_it(ending: str) -> None:
    written = line("x" + ending, facts={"subject": ending})
    assert written.splitlines() == [written]
    assert written.isascii()
    assert json.loads(written)["facts"] == {"subject": ending}


def test_values_that_were_to_be_filled_in_stay_out() -> None:
    assert "Inventia" not in line("no trainee called %s", "Inventia Madeup")


def test_a_failure_is_told_by_its_type_and_place_and_not_by_its_message() -> None:
    try:
        raise ValueError("Inventia Madeup was born on 2018-02-03")
    except ValueError:
        written = line("it failed", exc_info=sys.exc_info())
    content = json.loads(written)
    assert content["failure"] == "ValueError"
    assert content["through"][0].startswith("test_journal.py:")
    assert "Inventia" not in written


def test_a_message_that_is_an_object_is_told_by_its_type() -> None:
    assert json.loads(line(ValueError("Inventia")))["event"] == "ValueError"
