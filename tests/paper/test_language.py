"""The catalogue's languages and the two pseudo-languages."""

import calendar
from datetime import date

import pytest

from sidelong.paper.language import PSEUDO, known_languages, message, read_language
from sidelong.problems import Refused
from sidelong.training.days import say_day


def test_english_says_the_sentence_itself() -> None:
    english = read_language("en")
    assert english.say("Sit tall.") == "Sit tall."
    assert english.count("{n} night", "{n} nights", 1) == "{n} night"
    assert english.count("{n} night", "{n} nights", 0) == "{n} nights"
    assert not english.is_right_to_left
    assert english.number("4 mm") == "4 mm"


def test_a_day_is_said_with_its_month_by_name_as_in_messages_to_staff() -> None:
    english = read_language("en")
    for month in range(1, 13):
        day = date(2026, month, 9)
        assert english.day(day) == say_day(day)
        assert english.day(day) == f"9 {calendar.month_name[month]} 2026"
    mirrored = read_language("ar-XB").day(date(2026, 11, 9))
    assert "November" not in mirrored
    assert "9" in mirrored


@pytest.mark.parametrize("tag", PSEUDO)
def test_pseudo_languages_change_every_word_and_keep_the_fields(tag: str) -> None:
    language = read_language(tag)
    said = language.say("Night {night}: sit tall")
    assert "{night}" in said
    assert not {"Night", "sit", "tall"} & set(said.split())
    assert said.format(night=4)
    assert "{n}" in language.count("{n} night", "{n} nights", 14)


def test_the_long_pseudo_language_is_a_third_longer_in_brackets() -> None:
    sentence = "Take one sip of plain water and swallow it."
    said = read_language("en-XA").say(sentence)
    assert said[0] == "["
    assert said[-1] == "]"
    assert len(said) >= 1.3 * len(sentence)


def test_the_right_to_left_one_keeps_numbers_in_their_own_order() -> None:
    language = read_language("ar-XB")
    assert language.is_right_to_left
    # Unicode UAX 9: LEFT-TO-RIGHT ISOLATE ... POP DIRECTIONAL ISOLATE.
    assert language.number("4 mm") == "\u20664 mm\u2069"
    assert language.number("") == ""
    letters = [char for char in language.say("Swallow the piece") if char.isalpha()]
    assert all("\u0600" <= char <= "\u06ff" for char in letters)


def test_a_language_without_a_catalogue_is_refused_with_the_known_ones() -> None:
    with pytest.raises(Refused, match="Use en\\.") as refused:
        read_language("tlh")
    assert refused.value.problems[0].kind == "language"
    assert known_languages()[0] == "en"


def test_marking_a_sentence_leaves_it_alone() -> None:
    assert message("Sit tall.") == "Sit tall."
