"""The booklet reads at about the age of eleven or below.

Flesch-Kincaid grade, 0.39 W/S + 11.8 Y/W - 15.59 (as in the source of textstat 0.7.13), on whole
sentences alone: headings and fragments would only flatter it. Syllables are counted by a rule of
thumb for English: groups of vowels, without a silent e.
"""

import re
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

TEMPLATE = Path(__file__).parents[2] / "src/sidelong/paper/locale/sidelong.pot"
BOOKLET = (
    "front_pages.py",
    "safety_pages.py",
    "taking_home.py",
    "night_page.py",
    "night_sheets.py",
    "example_night.py",
    "heads.py",
    "true_size.py",
    "_protocol.toml",
)


def grade(n_words: int, n_sentences: int, n_syllables: int) -> float:
    return 0.39 * n_words / n_sentences + 11.8 * n_syllables / n_words - 15.59


def syllables(word: str) -> int:
    word = re.sub(r"[^a-z]", "", word.lower())
    silent = word.endswith("e") and not word.endswith(("le", "ee")) and len(word) > 3
    silent = silent or bool(re.search(r"[^aeiouydt]ed$", word))
    return max(1, len(re.findall(r"[aeiouy]+", word)) - silent)


def sentences_of(text: str) -> list[list[str]]:
    """Cut into sentences of words; what does not end like a sentence is left out."""
    found = re.findall(r"[^.?!]+[.?!](?=\s|$)", re.sub(r"\{\w+\}", "7", text))
    return [re.findall(r"[A-Za-z0-9']+", sentence) for sentence in found]


def booklet_sentences() -> list[list[str]]:
    with TEMPLATE.open("rb") as file:
        entries = [
            entry.id if isinstance(entry.id, str) else entry.id[-1]
            for entry in read_po(file)
            if any(place.endswith(BOOKLET) for place, _ in entry.locations)
        ]
    return [words for entry in entries for words in sentences_of(entry) if len(words) > 2]


def test_the_formula_and_the_counts_agree_with_a_text_counted_by_hand() -> None:
    # Counted by hand: 32 words, 5 sentences, 38 syllables, grade 0.9185.
    text = (
        "Sit up tall on the chair. Put the small piece on your tongue. Take a big sip of water. "
        "Tip your chin down a little. Swallow the water and the piece together."
    )
    sentences = sentences_of(text)
    words = [word for sentence in sentences for word in sentence]
    n_syllables = sum(map(syllables, words))
    assert (len(words), len(sentences), n_syllables) == (32, 5, 38)
    assert grade(len(words), len(sentences), n_syllables) == pytest.approx(0.9185, abs=1e-4)


def test_the_booklet_reads_at_grade_five_or_below() -> None:
    # Grade 5 is about the age of ten to eleven.
    sentences = booklet_sentences()
    words = [word for sentence in sentences for word in sentence]
    assert len(sentences) > 80
    assert grade(len(words), len(sentences), sum(map(syllables, words))) <= 5.0


def test_no_sentence_of_the_booklet_is_long() -> None:
    longest = max(booklet_sentences(), key=len)
    assert len(longest) <= 20, " ".join(longest)
