"""Promises kept on paper: one page for the lead, set by Typst.

The values here hold finished sentences and the numbers that the plot draws;
``pathway.promise_report`` composes them.
"""

from dataclasses import asdict, dataclass
from datetime import date
from typing import Literal

from sidelong.paper.charts import CalibrationChart
from sidelong.paper.language import Language
from sidelong.paper.report import Section, WordTable
from sidelong.paper.typst import typeset

Paper = Literal["a4", "letter"]


@dataclass(frozen=True)
class PromisesPage:
    """All that the page says.

    Parameters
    ----------
    made_on : date
        Day of the page, also the date inside the PDF.
    title, subtitle : str
        Heads of the document.
    banner : str
        What must be known of all of it, as that it is invented; empty for most.
    facts : tuple of (str, str)
        Label and value, for the line under the title.
    seen, findings, told, still_open, limits : Section
        Left out where there is no sentence.
    chart : CalibrationChart or None
        None while there are too few doses.
    chart_says : tuple of str
        How to read it.
    table : WordTable
        The figures of the chart.
    made : str
        How the page came about.
    page_of : str
        Sentence with the fields ``{page}`` and ``{pages}``.
    """

    made_on: date
    title: str
    subtitle: str
    banner: str
    facts: tuple[tuple[str, str], ...]
    seen: Section
    chart: CalibrationChart | None
    chart_says: tuple[str, ...]
    table: WordTable
    findings: Section
    told: Section
    still_open: Section
    limits: Section
    made: str
    page_of: str


def set_promises(page: PromisesPage, *, language: Language, paper: Paper = "a4") -> bytes:
    """Set the page.

    Parameters
    ----------
    page : PromisesPage
        What it says, in this language.
    language : Language
        Tag and direction of the lines.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        A tagged PDF (PDF/UA-1).
    """
    shown = {
        **asdict(page),
        "made_on": page.made_on.isoformat(),
        "lang": language.tag.split("-")[0],
        "rtl": language.is_right_to_left,
        "paper": paper,
    }
    return typeset("promises.typ", page=shown)
