"""`sidelong estimate` as a user runs it."""

import itertools

import numpy as np
import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.cli.clock import local_today
from sidelong.exchange.estimates import read_estimates
from sidelong.exchange.fits import SHIPPED_FIT, read_fit
from sidelong.exchange.protocols import default_protocol_text, read_protocol
from sidelong.training.entry import RatedBy, Scale

POSITIONS = ("down", "left", "centre", "right", "up")


@pytest.fixture
def entries(tmp_path):
    """Eight nights of one trainee who found `up` easiest."""
    lines = ["trainee,night,slot,position,piece_mm,rating,went_down,felt_best"]
    for night in range(1, 9):
        for slot, position in enumerate(POSITIONS, start=1):
            easy = position == "up"
            lines.append(f"T-1,{night},{slot},{position},5,{5 if easy else 3},first,{int(easy)}")
    table = tmp_path / "entries.csv"
    table.write_text("\n".join(lines) + "\n", "utf-8")
    return table


def estimate(entries, *words):
    return run(["estimate", str(entries), "--out", str(entries.parent / "out.csv"), *words])


def test_sign_off_for_up_is_stated_in_the_output(entries, capsys):
    assert estimate(entries) == DONE
    assert "`up`" not in capsys.readouterr().err
    (answer,) = read_estimates(entries.parent / "out.csv")
    assert answer.verdict.value != "clear"
    assert estimate(entries, "--up-signed-off") == DONE
    assert "you state that a swallowing specialist has signed" in capsys.readouterr().err
    (answer,) = read_estimates(entries.parent / "out.csv")
    assert answer.verdict.value == "clear"


def test_sign_off_for_up_is_refused_where_the_protocol_leaves_up_out(entries, capsys):
    protocol = entries.parent / "protocol.toml"
    protocol.write_text(default_protocol_text(), "utf-8")
    assert estimate(entries, "--up-signed-off", "--protocol", str(protocol)) == REFUSED
    assert "does not allow `up`" in capsys.readouterr().err
    assert not (entries.parent / "out.csv").exists()


def test_place_without_a_folder_is_refused_and_leaves_nothing_behind(entries, capsys):
    report = entries.parent / "reports"
    place = entries.parent / "none" / "out.csv"
    words = ["estimate", str(entries), "--out", str(place), "--report", str(report)]
    assert run(words) == REFUSED
    assert "its folder does not exist" in capsys.readouterr().err
    assert not report.exists()


def cohort(folder, n, *, nights=5):
    """Write nights of n trainees, drawn with differences between positions."""
    rng = np.random.default_rng(4)
    lines = ["trainee,night,slot,position,piece_mm,rating,went_down,felt_best"]
    for who, night in itertools.product(range(n), range(1, nights + 1)):
        for slot, position in enumerate(POSITIONS, start=1):
            rating = min(max(round(rng.normal(3.2 + 0.3 * (slot == 2))), 1), 5)
            lines.append(f"T-{who},{night},{slot},{position},5,{rating},first,")
    table = folder / "entries.csv"
    table.write_text("\n".join(lines) + "\n", "utf-8")
    return table


def test_enough_trainees_are_fitted_and_the_table_says_so_beside_it(tmp_path, capsys):
    table = cohort(tmp_path, 12)
    assert estimate(table) == DONE
    told = capsys.readouterr()
    assert "They rest on fitted to 12 trainees" in told.out
    assert "you state that their consent allows it" in told.err
    fit = read_fit(tmp_path / "out.fit.json")
    assert (fit.n_trainees, fit.made_on) == (12, local_today())
    assert len(fit.mixture.points) == 32
    assert len(fit.fingerprint) == 64


def test_a_stored_fit_gives_the_same_answers_again(tmp_path, capsys):
    table = cohort(tmp_path, 12)
    assert estimate(table) == DONE
    first = (tmp_path / "out.csv").read_bytes()
    kept = tmp_path / "kept.json"
    (tmp_path / "out.fit.json").rename(kept)
    assert estimate(table, "--prior", str(kept)) == DONE
    assert (tmp_path / "out.csv").read_bytes() == first
    assert read_fit(tmp_path / "out.fit.json") == read_fit(kept)


def test_few_trainees_rest_on_the_shipped_values_and_hear_why(entries, capsys):
    assert estimate(entries) == DONE
    told = capsys.readouterr()
    assert "the values shipped with the program, which are assumptions" in told.out
    assert "need 10 trainees with consent and 5 nights each; there are 1" in told.out
    assert "you state" not in told.err
    assert read_fit(entries.parent / "out.fit.json") == SHIPPED_FIT


def test_only_trainees_with_consent_count_towards_the_fit(tmp_path, capsys):
    table, consent = cohort(tmp_path, 12), tmp_path / "consent.csv"
    words = ["yes"] * 10 + ["no", ""]
    consent.write_text(
        "trainee,consent\n" + "".join(f"T-{who},{word}\n" for who, word in enumerate(words)),
        "utf-8",
    )
    assert estimate(table, "--consent", str(consent)) == DONE
    assert "fitted to 10 trainees" in capsys.readouterr().out
    answers = read_estimates(tmp_path / "out.csv")
    assert len(answers) == 12
    consent.write_text(consent.read_text("utf-8").replace("T-3,yes", "T-3,no"), "utf-8")
    assert estimate(table, "--consent", str(consent)) == DONE
    assert "there are 9" in capsys.readouterr().out


def test_faults_of_consents_are_told_all_at_once(tmp_path, capsys):
    table, consent = cohort(tmp_path, 2), tmp_path / "consent.csv"
    consent.write_text("trainee,consent\nT-0,yes\nT-0,no\nT-1,Anna\n", "utf-8")
    assert estimate(table, "--consent", str(consent)) == REFUSED
    told = capsys.readouterr().err
    assert "row 3" in told
    assert "row 4" in told
    assert "Anna" not in told
    consent.write_text("trainee,consent\nT-7,yes\n", "utf-8")
    assert estimate(table, "--consent", str(consent)) == REFUSED
    assert "trainee T-7: there are no entries for it" in capsys.readouterr().err
    assert not (tmp_path / "out.csv").exists()


BROKEN = """trainee,night,slot,position,piece_mm,rating,went_down,felt_best,scale,written_at
T-1,1,1,down,5,7,first,0,5,
T-1,1,2,left,5,Marlene,first,0,5,
T-1,1,3,left,5,3,first,0,5,
T-1,1,4,right,-5,3,first,1,5,
T-1,1,5,up,5,3,first,1,5,
T-1,0,1,down,5,3,first,0,5,
T-1,2,6,down,5,3,first,0,5,
T-1,3,1,sideways,5,3,maybe,0,5,
Ann Other,3,1,down,5,3,first,0,5,
t-1,4,1,down,5,3,first,0,3,
t-1,4,2,left,5,2,first,0,3,
t-1,5,1,left,5,2,first,0,5,2999-01-01T10:00+00:00
"""


def test_a_broken_table_is_refused_with_every_fault_and_no_name(tmp_path, capsys):
    table = tmp_path / "entries.csv"
    table.write_text(BROKEN, "utf-8")
    assert estimate(table) == REFUSED
    told = capsys.readouterr().err
    for where in (
        'row 2, rating: "7" is out of range',
        "row 3, rating: the text in this cell",
        "row 4, position",
        'row 5, piece_mm: "-5" is out of range',
        'row 7, night: "0" is out of range',
        'row 8, slot: "6" is out of range',
        "row 9, position",
        "row 9, went_down",
        "row 10, trainee",
        "row 11, trainee: t-1 differs only in capitals",
        "row 12, rating: 2 is not offered",
        "row 13, written_at",
    ):
        assert where in told
    for word in ("Marlene", "sideways", "maybe", "Ann", "2999-01-01T"):
        assert word not in told
    assert "faults; nothing was written" in told
    assert not (tmp_path / "out.csv").exists()
    assert not (tmp_path / "out.fit.json").exists()


def test_a_form_that_the_table_does_not_say_is_taken_from_the_band(tmp_path, capsys):
    lines = ["trainee,night,slot,position,piece_mm,rating,went_down,felt_best,band"]
    for night, slot in itertools.product(range(1, 6), range(1, 6)):
        rating = (1, 2, 4, 5, 4)[(night + slot) % 5]
        lines.append(f"T-1,{night},{slot},{POSITIONS[slot - 1]},5,{rating},first,,younger")
    table, protocol = tmp_path / "entries.csv", tmp_path / "protocol.toml"
    table.write_text("\n".join(lines) + "\n", "utf-8")
    protocol.write_text(default_protocol_text(), "utf-8")
    assert estimate(table) == DONE
    assert "not recorded for 1 of the trainees with a band: read as five" in capsys.readouterr().err
    as_five = (tmp_path / "out.csv").read_bytes()
    band = next(
        each
        for each in read_protocol(protocol).bands
        if each.scale is Scale.FOUR and each.rated_by is not RatedBy.SUPPORTER
    )
    table.write_text(table.read_text("utf-8").replace("younger", band.name), "utf-8")
    assert estimate(table, "--protocol", str(protocol)) == DONE
    assert "trainee T-1: the form of rating is not recorded, read as 4" in capsys.readouterr().err
    assert (tmp_path / "out.csv").read_bytes() != as_five
    table.write_text(table.read_text("utf-8").replace(",4,first", ",3,first"), "utf-8")
    assert estimate(table, "--protocol", str(protocol)) == DONE
    assert "but others were given: read as five" in capsys.readouterr().err
