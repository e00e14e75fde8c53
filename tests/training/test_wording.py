"""Sentences that a family reads: where they come from, and how hard they are."""

import re
from hashlib import sha256

import pytest

from sidelong.exchange.protocols import read_default_protocol
from sidelong.problems import Refused
from sidelong.training.protocol import fingerprint_of
from sidelong.training.wording import FamilyText

DRAFT = read_default_protocol()
SENTENCES = [
    sentence
    for each in (
        *DRAFT.technique,
        *DRAFT.when_it_fails,
        *DRAFT.home_rules,
        *DRAFT.afterwards,
        DRAFT.clinic_line.unwatched,
        *(words.name for words in DRAFT.position_words),
        *(words.how for words in DRAFT.position_words),
        *(text for tier in DRAFT.tiers for text in (*tier.signs, *tier.actions)),
        *(each.question for each in DRAFT.tonight),
    )
    for sentence in (each.text, *dict(each.said_to).values())
]


def test_own_translation_comes_before_the_catalogue() -> None:
    text = FamilyText("Stop.", (("fr", "Arrêtez."),))

    assert text.said("fr", say=str.upper) == "Arrêtez."
    assert text.said("es", say=str.upper) == "STOP."


def test_some_readers_are_told_in_other_words_and_the_rest_in_the_common_ones() -> None:
    text = FamilyText("Ask your helper.", said_to=(("adult", "Ask another adult."),))

    assert text.said("en", say=str, to="adult") == "Ask another adult."
    assert text.said("en", say=str.upper, to="adult") == "ASK ANOTHER ADULT."
    assert text.said("en", say=str, to="teen") == "Ask your helper."
    assert text.said("en", say=str) == "Ask your helper."


@pytest.mark.parametrize("said_to", [("nurse", "Stop."), ("adult", " "), ("adult", "Take {no}.")])
def test_a_wording_for_nobody_or_without_words_is_refused(said_to: tuple[str, str]) -> None:
    with pytest.raises(Refused):
        FamilyText("Stop.", said_to=(said_to,))


def test_a_protocol_without_such_wordings_keeps_the_fingerprint_it_was_signed_under() -> None:
    # Written out: SHA-256 of the canonical text as it was before wordings for some readers came.
    plain = {"afterwards": (FamilyText("Stop."),)}
    canonical = '{"afterwards":[{"text":"Stop.","translated":[]}]}'
    assert fingerprint_of(plain) == sha256(canonical.encode()).hexdigest()
    told = {"afterwards": (FamilyText("Stop.", said_to=(("adult", "Halt."),)),)}
    assert fingerprint_of(told) != fingerprint_of(plain)


def test_numbers_are_filled_in_from_the_protocol() -> None:
    upright = next(each for each in DRAFT.afterwards if "{" in each.text)

    assert upright.said("en", say=str, numbers=DRAFT.numbers).startswith(
        "Stay upright for 30 minutes."
    )


def test_every_brace_of_the_draft_is_filled() -> None:
    for text in SENTENCES:
        assert "{" not in FamilyText(text).said("en", say=str, numbers=DRAFT.numbers)


@pytest.mark.parametrize("text", ["", "  ", "Wait {hours} hours.", "Wait {} hours.", "Wait {"])
def test_sentence_that_cannot_be_said_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        FamilyText(text)


def test_language_is_translated_once() -> None:
    with pytest.raises(Refused):
        FamilyText("Stop.", (("fr", "Arrêtez."), ("fr", "Stop.")))
    with pytest.raises(Refused):
        FamilyText("Stop.", (("fr", " "),))


def syllables(word: str) -> int:
    """Count vowel groups, less a silent e; crude, and right for these words on average."""
    groups = re.findall(r"[aeiouy]+", word.lower())
    silent = word.lower().endswith("e") and not word.lower().endswith("le")
    return max(1, len(groups) - silent)


def test_default_sentences_read_at_eleven_or_younger() -> None:
    # Flesch-Kincaid grade: 0.39 words/sentences + 11.8 syllables/words - 15.59 (Kincaid 1975, as in
    # general readability software). Grade 6 is about eleven years of age.
    said = [text if text[-1] in ".?" else f"{text}." for text in SENTENCES]
    n_sentences = sum(len(re.findall(r"[.?:]", text)) for text in said)
    words = [word for text in said for word in re.findall(r"[A-Za-z]+", text)]

    grade = 0.39 * len(words) / n_sentences
    grade += 11.8 * sum(map(syllables, words)) / len(words) - 15.59

    assert grade < 4
    longest = max(
        len(re.findall(r"\w+", each)) for text in said for each in re.split(r"[.?:]", text)
    )
    assert longest <= 22


def test_family_words_are_those_of_the_glossary() -> None:
    hard_or_wrong = re.compile(
        r"\b(pill|tablet|sweet|candy|patient|bolus|dysphagia|trial|subject|fail\w*|score)\b", re.I
    )

    assert [text for text in SENTENCES if hard_or_wrong.search(text)] == []
