"""The table of safety events."""

import pytest

from sidelong.exchange.events import read_events, write_events
from sidelong.problems import Refused
from sidelong.training.event import Event
from sidelong.training.position import Position
from sidelong.training.safety import Tier


def test_events_come_back_as_they_were_written(tmp_path):
    events = (Event("HL-1", 3, Tier.STOP_TONIGHT, Position.LEFT), Event("HL-2", 1, Tier.ACT_FIRST))
    write_events(tmp_path / "events.csv", events)
    assert read_events(tmp_path / "events.csv") == events


def test_every_faulty_event_is_named_at_once(tmp_path):
    table = tmp_path / "events.csv"
    table.write_text("trainee,night,tier,position\nHL-1,0,pause,left\nHL-1,2,cough,top\n", "utf-8")
    with pytest.raises(Refused) as refusal:
        read_events(table)
    places = [problem.where for problem in refusal.value.problems]
    assert places == [
        "events.csv, row 2, night",
        "events.csv, row 3, tier",
        "events.csv, row 3, position",
    ]


def test_table_with_a_header_alone_says_that_nothing_happened(tmp_path):
    write_events(tmp_path / "events.csv", ())
    assert (tmp_path / "events.csv").read_text("utf-8") == "trainee,night,tier,position\n"
    assert read_events(tmp_path / "events.csv") == ()
