"""From promises laid against first doses to the page that a lead prints: the page's own words.

It is written in English, as the clinic's page of promises is.
"""

from datetime import date

from sidelong.outcomes import CalibrationTable
from sidelong.paper.charts import CalibrationChart, CalibrationMark
from sidelong.paper.promises_print import PromisesPage
from sidelong.paper.report import Section, WordTable
from sidelong.pathway.promise_words import (
    LIMITS,
    calibration_rows,
    describe_calibration,
    findings,
    no_plot_sentence,
    tally_sentence,
)
from sidelong.pathway.promises import Reckoning
from sidelong.training.protocol import Protocol

_COLUMNS = ("It was said", "Doses", "First try", "Share", "95 % interval", "Agrees")
_LEGEND = (("first", "agrees with what was said"), ("later", "does not"))
_CHART_SAYS = (
    "Upright lines hold the true share 95 times in 100. On the dashed line every promise is kept. "
    "Short strokes along the foot: one for each dose.",
)


def compose_promises(
    said: Reckoning, *, n_locked: int, protocol: Protocol | None, today: date, made: str
) -> PromisesPage:
    """Compose the page of promises kept.

    Parameters
    ----------
    said : Reckoning
        What was said, laid against what happened.
    n_locked : int
        Courses with a locked estimate.
    protocol : Protocol or None
        The site's, for its name, and for the word that it is invented.
    today : date
        Day of the page.
    made : str
        How it came about.

    Returns
    -------
    PromisesPage
        For :func:`sidelong.paper.promises_print.set_promises`.
    """
    drawn = said.calibration
    return PromisesPage(
        made_on=today,
        title="Promises kept",
        subtitle=(protocol.site_name or protocol.site) if protocol else "",
        banner=_banner(protocol),
        facts=_facts(said),
        seen=_seen(said),
        chart=None if drawn is None else _chart(drawn.table, said.chances),
        chart_says=_CHART_SAYS,
        table=WordTable("", (), _COLUMNS, () if drawn is None else _rows(drawn.table)),
        findings=Section("What the figures say", () if drawn is None else findings(drawn)),
        told=_told(said),
        still_open=_still_open(said, n_locked),
        limits=Section("What this cannot say", LIMITS),
        made=made,
        page_of="Page {page} of {pages}",
    )


def _banner(protocol: Protocol | None) -> str:
    if protocol is None or not protocol.invented:
        return ""
    return "These doses are invented. What simulated figures show is no clinical accuracy."


def _facts(said: Reckoning) -> tuple[tuple[str, str], ...]:
    counts = {
        "First doses": said.n_promises,
        "seen by staff": said.seen.n,
        "told by home": said.told.n,
        "not laid against anything": said.n_unplaced,
        "in the suggested position": said.n_suggested,
    }
    return tuple((label, str(n)) for label, n in counts.items())


def _seen(said: Reckoning) -> Section:
    without = no_plot_sentence(said)
    told = tally_sentence(said.seen) or "No first dose that staff saw is in the table yet."
    plot = (f"There is no plot yet. {without}",) if without else ()
    return Section("Seen by staff", (told, *plot))


def _told(said: Reckoning) -> Section:
    told = tally_sentence(said.told)
    aside = "Reports are not in the plot: success is seen by staff."
    return Section("Told by home", (told, aside) if told else ())


def _still_open(said: Reckoning, n_locked: int) -> Section:
    without = n_locked - said.n_promises
    courses = "course has" if n_locked == 1 else "courses have"
    lack = "has" if without == 1 else "have"
    sentence = (
        f"{n_locked} {courses} a locked estimate; {without} of them {lack} no first dose so far. "
        "Who never comes back is missing here, and may have fared worse."
    )
    return Section("Still open", (sentence,))


def _chart(table: CalibrationTable, chances: tuple[float, ...]) -> CalibrationChart:
    marks = tuple(
        CalibrationMark(
            said=float(table.stated[group]),
            share=float(table.share[group]),
            lower=float(table.lower[group]),
            upper=float(table.upper[group]),
            agrees=bool(table.agrees[group]),
        )
        for group in range(table.n.size)
    )
    return CalibrationChart(
        alt=describe_calibration(table),
        across="What was said beforehand: chance of going down first try, in per cent",
        up="What happened: of 100 doses, so many went down first try",
        marks=marks,
        chances=chances,
        legend=_LEGEND,
    )


def _rows(table: CalibrationTable) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (
            row.said,
            str(row.n),
            str(row.n_happened),
            row.share,
            row.interval,
            "yes" if row.agrees else "no",
        )
        for row in calibration_rows(table)
    )
