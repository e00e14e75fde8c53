"""The invented clinic as a new user gets it: somebody at every stage, by the clinic's own verbs."""

from typing import Any

from sidelong.clinic.demonstration.stages import STAGES
from sidelong.training.estimate import Verdict


def test_nearly_fifty_trainees_stand_at_every_stage(demo: Any) -> None:
    assert demo.facts["n"] == sum(stage.n for stage in STAGES)
    assert 40 <= demo.facts["n"] <= 50
    waiting = {"Readiness questions", "Clinician's decision", "Teaching visit", "Plan", "Booklet"}
    assert waiting <= set(demo.facts["next"])
    assert demo.facts["stopped"] >= 2, "not now, and decided against"


def test_signed_results_show_every_verdict(demo: Any) -> None:
    assert demo.facts["verdicts"] == sorted(map(str, Verdict))


def test_nights_come_back_from_none_to_all(demo: Any) -> None:
    assert demo.facts["nights"][0] == 0
    assert max(demo.facts["nights"]) >= 13
    assert len(set(demo.facts["nights"])) >= 7


def test_events_wait_and_are_answered(demo: Any) -> None:
    tiers = {tuple(each) for each in demo.facts["tiers"]}
    assert {("pause", ""), ("stop_tonight", ""), ("act_first", "")} <= tiers
    assert ("act_first", "may_go_on") in tiers


def test_somebody_repeats_and_somebody_is_lost(demo: Any) -> None:
    assert demo.facts["second"] == 1
    assert {"lost", "finished"} <= set(demo.facts["closed"])


def test_enough_first_doses_are_there_to_lay_against_what_was_said(demo: Any) -> None:
    from sidelong.pathway.promises import FEWEST

    assert demo.facts["doses"] >= FEWEST


def test_answers_rest_on_the_clinics_own_fit(demo: Any) -> None:
    from sidelong.pathway.fitting import ENOUGH_TRAINEES

    origin, n_trainees, made = demo.facts["fit"]
    assert n_trainees >= ENOUGH_TRAINEES
    assert origin.startswith(f"fitted to {n_trainees} trainees on {made} by sidelong ")
    assert demo.facts["fits"] == ["in use", "out of use: consent was taken back"]
    before = [fit for day, fit in demo.facts["rests on"] if day < made]
    since = [fit for day, fit in demo.facts["rests on"] if day > made]
    assert len(before) >= ENOUGH_TRAINEES
    assert len(since) >= ENOUGH_TRAINEES
    assert len(before) + len(since) == len(demo.facts["rests on"])
    assert set(since) == {origin}
    assert origin not in before


def test_who_declined_or_withdrew_is_not_in_that_fit(demo: Any) -> None:
    counted, said_no = set(demo.facts["counted"]), set(demo.facts["said no"])
    assert len(said_no) >= 3
    assert demo.facts["not asked"] >= 1
    assert counted <= set(demo.facts["said yes"])
    (took_back,) = demo.facts["took back"]
    # Another one than that had nights enough by then, and had declined from the start.
    declined = set(demo.facts["no, with nights before the fit"]) - {took_back}
    assert took_back in said_no
    assert declined
    assert not declined & counted


def test_everything_was_done_by_staff_and_nothing_is_dated_ahead(demo: Any) -> None:
    assert demo.facts["actors"]
    assert all(key.startswith("staff:") for key in demo.facts["actors"])
    assert demo.facts["ahead"] == 0
    assert demo.facts["chain"] == []


def test_the_folder_says_that_it_is_invented(demo: Any) -> None:
    assert "Nothing here may be used for anybody" in (demo.home / "INVENTED.txt").read_text("utf-8")
    assert demo.facts["demo"]
    assert demo.facts["route"] == "/invented/come-in/"
