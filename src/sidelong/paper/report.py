"""The report for the follow-up visit: two pages of sentences and figures, set by Typst.

The values here hold finished sentences and the numbers that the charts draw; ``pathway.reports``
composes them. Page 1 is for the person who practised and their helper, page 2 for the clinic.
"""

from dataclasses import asdict, dataclass
from datetime import date
from typing import Literal

from sidelong.paper.charts import NightStrip, TrendChart
from sidelong.paper.language import Language
from sidelong.paper.typst import typeset
from sidelong.training.position import Position

Paper = Literal["a4", "letter"]


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it, one sentence or short group of sentences each."""

    heading: str
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True)
class Answer:
    """The verdict in plain words.

    Parameters
    ----------
    headline : str
        One short sentence.
    positions : tuple of Position
        Heads that are drawn beside it: the position to talk about, or those to choose among.
    sentences : tuple of str
        What it rests on and what it is not.
    """

    headline: str
    positions: tuple[Position, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class ChanceRow:
    """One position of the first table; the chances are drawn, the words are read.

    Parameters
    ----------
    position : Position
        Where the head is.
    name : str
        Its name.
    first_try : float
        Chance that a piece goes down first try, in [0, 1].
    first_try_words, rating_words, best_words : str
        What the cells say.
    note : str
        For example why it is not suggested; empty for most.
    """

    position: Position
    name: str
    first_try: float
    first_try_words: str
    rating_words: str
    best_words: str
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a chance outside [0, 1]."""
        if not 0.0 <= self.first_try <= 1.0:
            raise ValueError(f"a chance of {self.first_try} is not within 0..1")


@dataclass(frozen=True)
class ChanceTable:
    """Chance of going down first try, then how easy it felt, then chance of being the best."""

    heading: str
    sentences: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[ChanceRow, ...]


@dataclass(frozen=True)
class WordTable:
    """A table of words and figures.

    Parameters
    ----------
    heading : str
        What it is.
    sentences : tuple of str
        What to know before reading it.
    columns : tuple of str
        Heads.
    rows : tuple of tuple of str
        As many cells as there are heads.
    """

    heading: str
    sentences: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __post_init__(self) -> None:
        """Refuse a row with too few or too many cells."""
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"every row of {self.heading!r} needs {len(self.columns)} cells")


@dataclass(frozen=True)
class Signature:
    """The place where a clinician decides.

    Parameters
    ----------
    heading : str
        What it is.
    sentences : tuple of str
        What a signature means here.
    choices : tuple of str
        Decisions to tick.
    lines : tuple of str
        What is written by hand: reason, name, role, date, signature.
    """

    heading: str
    sentences: tuple[str, ...]
    choices: tuple[str, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Report:
    """All that the two pages say.

    Parameters
    ----------
    trainee : str
        The trainee's code; there is no place for a name.
    made_on : date
        Day of the report, also the date inside the PDF.
    title, subtitle : str
        Heads of the document.
    facts : tuple of (str, str)
        Label and value, for the line under the title.
    answer : Answer
        The verdict.
    chances : ChanceTable
        First try before best.
    trend_section, nights_section, events, next_steps, cautions : Section
        Sentences with each chart or list.
    trend : TrendChart or None
        None where there is nothing to draw.
    change : WordTable
        First night against the end, a column for each panel of the chart; no rows where there is
        nothing to compare.
    earlier : WordTable
        What would have been said on the way.
    outlook : WordTable or None
        How firm the answer is, a column for each position; None where nothing is compared.
    further : Section or None
        What more nights might change; None where that is no question.
    strip : NightStrip
        Which nights were written down.
    exact : WordTable
        The figures of the estimates table, digit by digit.
    signature : Signature
        Place for the clinician.
    made : str
        How the report came about.
    page_of : str
        Sentence with the fields ``{page}`` and ``{pages}``.
    """

    trainee: str
    made_on: date
    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    answer: Answer
    chances: ChanceTable
    trend_section: Section
    trend: TrendChart | None
    change: WordTable
    earlier: WordTable
    outlook: WordTable | None
    further: Section | None
    nights_section: Section
    strip: NightStrip
    events: Section
    next_steps: Section
    exact: WordTable
    signature: Signature
    cautions: Section
    made: str
    page_of: str

    def __post_init__(self) -> None:
        """Refuse a report about nobody."""
        if not self.trainee:
            raise ValueError("a report needs a trainee's code")


def set_report(report: Report, *, language: Language, paper: Paper = "a4") -> bytes:
    """Set one trainee's report.

    Parameters
    ----------
    report : Report
        What it says, in this language.
    language : Language
        Tag and direction of the lines.
    paper : str
        ``a4`` or ``letter``; the same lines stand in the same places on both.

    Returns
    -------
    bytes
        A tagged PDF (PDF/UA-1) of two pages.
    """
    page = {
        **asdict(report),
        "made_on": report.made_on.isoformat(),
        "lang": language.tag.split("-")[0],
        "rtl": language.is_right_to_left,
        "paper": paper,
    }
    return typeset("report.typ", page=page)
