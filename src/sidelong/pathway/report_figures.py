"""The figures of the report: chances, positions over the nights, start and end, exact digits.

The chance of going down first try always stands before the chance of being the best: it is the
one that matters in the evening. Figures are rounded for reading; the last table repeats them digit
by digit, as the table of estimates has them.
"""

from collections.abc import Sequence

from sidelong.paper.charts import Outcome, TrendChart, TrendMark, TrendPanel, TrendPoint
from sidelong.paper.language import Language
from sidelong.paper.report import ChanceRow, ChanceTable, Section, WordTable
from sidelong.pathway.report_nights import answered_nights
from sidelong.pathway.report_words import (
    percent,
    pieces_of_ten,
    position_name,
    rating_figure,
    rating_word,
    verdict_word,
)
from sidelong.training.entry import Entry, WentDown
from sidelong.training.estimate import Estimate, PositionEstimate

_OUTCOMES: dict[WentDown | None, Outcome] = {
    WentDown.FIRST: "first",
    WentDown.LATER: "later",
    WentDown.NO: "no",
    None: "unknown",
}


def compose_chances(estimate: Estimate, language: Language) -> ChanceTable:
    """Say how likely a piece goes down, how easy it may feel, and which may be best."""
    night = estimate.nights_planned + 1
    sentences = [
        language.say(
            "What to expect on one more evening (night {night}) with the last piece size."
        ).format(night=night)
    ]
    if not estimate.nights_used:
        sentences.append(
            language.say("No evening was written down: these figures are not about you yet.")
        )
    columns = (
        language.say("Position"),
        language.say("Goes down at the first try"),
        language.say("How easy it may feel"),
        language.say("Easiest of all for you"),
    )
    rows = tuple(_chance_row(each, estimate, language) for each in estimate.positions)
    return ChanceTable(
        language.say("How likely a piece goes down"), tuple(sentences), columns, rows
    )


def _chance_row(each: PositionEstimate, estimate: Estimate, language: Language) -> ChanceRow:
    first_try = language.say("{pieces} ({percent})").format(
        pieces=pieces_of_ten(each.p_first_try, language),
        percent=percent(each.p_first_try, language),
    )
    rating = language.say("{word}: {rating} ({lower} to {upper})").format(
        word=rating_word(each.expected_rating, language),
        rating=rating_figure(each.expected_rating),
        lower=rating_figure(each.lower),
        upper=rating_figure(each.upper),
    )
    best = percent(each.p_best, language)
    return ChanceRow(
        position=each.position,
        name=position_name(each.position, language),
        first_try=each.p_first_try,
        first_try_words=first_try,
        rating_words=rating,
        best_words=best if len(estimate.positions) > 1 else language.say("the only one"),
        note="" if each.may_recommend else language.say("not suggested"),
    )


def _has_nights(estimate: Estimate) -> bool:
    """Whether there is anything of this trainee to draw: a prior alone is not."""
    return bool(estimate.nights) and estimate.nights_used > 0


def compose_trend_section(
    estimate: Estimate, entries: Sequence[Entry], language: Language
) -> Section:
    """Say what the chart of the nights shows, or that there is none."""
    heading = language.say("The positions over the nights")
    if not _has_nights(estimate):
        return Section(heading, (language.say("There is nothing to draw yet."),))
    said = language.say(
        "Each mark is one answer. The line is the estimate; the band holds it nine times in ten."
    )
    rows = (row for entry in entries for row in entry.rows)
    if any(row.rating is None and row.went_down is not None for row in rows):
        blank = language.say("Marks on the lowest line have no rating.")
        said = f"{said} {blank}"
    return Section(heading, (said,))


def compose_trend(
    estimate: Estimate, entries: Sequence[Entry], language: Language
) -> TrendChart | None:
    """Compose one panel per position; None where there is nothing to draw."""
    if not _has_nights(estimate):
        return None
    panels = tuple(_panel(each, estimate, entries, language) for each in estimate.positions)
    said = [
        language.say("{position}: {first} on night {start}, {last} on night {end}.").format(
            position=panel.name,
            first=rating_figure(panel.points[0].expected),
            start=panel.points[0].night,
            last=rating_figure(panel.points[-1].expected),
            end=panel.points[-1].night,
        )
        for panel in panels
        if panel.points
    ]
    start = language.say(
        "How easy it felt over the nights, one panel for each position, from 1 very hard to "
        "5 very easy."
    )
    return TrendChart(
        alt=" ".join([start, *said]),
        n_nights=max(estimate.nights_planned, *(each.night for each in estimate.nights)),
        low=language.say("very hard"),
        high=language.say("very easy"),
        night=language.say("night"),
        legend=_legend(panels, language),
        panels=panels,
    )


def _legend(panels: Sequence[TrendPanel], language: Language) -> tuple[tuple[str, str], ...]:
    """Explain the shapes; the one for a blank answer only where there is one."""
    legend = [
        ("first", language.say("down at the first try")),
        ("later", language.say("at a later try")),
        ("no", language.say("did not go down")),
    ]
    if any(mark.outcome == "unknown" for panel in panels for mark in panel.marks):
        legend.append(("unknown", language.say("not said whether it went down")))
    legend.append(("band", language.say("estimate with its 90\u00a0% interval")))
    return tuple(legend)


def _panel(
    each: PositionEstimate, estimate: Estimate, entries: Sequence[Entry], language: Language
) -> TrendPanel:
    points = sorted(
        (n for n in estimate.nights if n.position is each.position), key=lambda n: n.night
    )
    marks = tuple(
        TrendMark(entry.night, row.rating, _OUTCOMES[row.went_down])
        for entry in entries
        for row in entry.rows
        if row.position is each.position and (row.rating is not None or row.went_down is not None)
    )
    return TrendPanel(
        each.position,
        position_name(each.position, language),
        tuple(TrendPoint(n.night, n.expected_rating, n.lower, n.upper) for n in points),
        marks,
    )


def compose_change(estimate: Estimate, entries: Sequence[Entry], language: Language) -> WordTable:
    """Compare the first night with the first one after the plan."""
    heading = language.say("The first night against the end")
    sentences = _first_and_last_words(entries, language)
    columns = ("", *(position_name(each.position, language) for each in estimate.positions))
    if not _has_nights(estimate):
        nothing = language.say("There is nothing to compare yet.")
        return WordTable(heading, (*sentences, nothing), columns, ())
    start = min(each.night for each in estimate.nights)
    first = {n.position: n.expected_rating for n in estimate.nights if n.night == start}
    pairs = [(first[each.position], each.expected_rating) for each in estimate.positions]
    rows = (
        (_night_word(start, language), *(rating_figure(begin) for begin, _ in pairs)),
        (
            _night_word(estimate.nights_planned + 1, language),
            *(rating_figure(end) for _, end in pairs),
        ),
        (language.say("change"), *(_difference(begin, end) for begin, end in pairs)),
    )
    practice = language.say("A rise can come from practice itself, in whichever position.")
    return WordTable(heading, (*sentences, practice), columns, rows)


def _night_word(night: int, language: Language) -> str:
    return language.say("night {night}").format(night=night)


def _difference(begin: float, end: float) -> str:
    """Subtract the figures as they are shown, so that the column adds up."""
    change = float(rating_figure(end)) - float(rating_figure(begin))
    sign = "−" if change < -0.05 else "+" if change > 0.05 else "±"
    return f"{sign}{rating_figure(abs(change))}"


def _first_and_last_words(entries: Sequence[Entry], language: Language) -> list[str]:
    answered = answered_nights(entries)
    if len(answered) < 2:
        return []
    first, last = answered[min(answered)], answered[max(answered)]
    (first_down, first_tried), (last_down, last_tried) = _went_down(first), _went_down(last)
    said = language.say(
        "Pieces down at the first try: {first_down} of {first_tried} on the first evening (night "
        "{first}), {last_down} of {last_tried} on the last (night {last})."
    )
    return [
        said.format(
            first=first.night,
            first_down=first_down,
            first_tried=first_tried,
            last=last.night,
            last_down=last_down,
            last_tried=last_tried,
        )
    ]


def _went_down(entry: Entry) -> tuple[int, int]:
    """Count the pieces of one night that went down first try, and those with an answer."""
    told = [row.went_down for row in entry.rows if row.went_down is not None]
    return sum(each is WentDown.FIRST for each in told), len(told)


def compose_earlier(estimate: Estimate, language: Language) -> WordTable:
    """Say what would have been said on the way, and what is said now."""
    columns = (
        language.say("After night"),
        language.say("It would have said"),
        language.say("Ahead at that time"),
    )
    rows = [
        (
            str(each.night),
            verdict_word(each.verdict, language),
            _ahead(each.chances_ahead, estimate, language),
        )
        for each in estimate.earlier
    ]
    if estimate.nights_used:
        now = tuple(each.chance_ahead for each in estimate.positions)
        rows.append(
            (
                language.say("{night}, now").format(night=estimate.nights_planned),
                verdict_word(estimate.verdict, language),
                _ahead(now, estimate, language),
            )
        )
    return WordTable(
        language.say("How the answer came about"),
        () if rows else (language.say("There was nothing to say on the way."),),
        columns,
        tuple(rows),
    )


def _ahead(chances: tuple[float, ...], estimate: Estimate, language: Language) -> str:
    """Name who was ahead among the positions that may be suggested, and how surely."""
    open_to = [
        (chance, each.position)
        for chance, each in zip(chances, estimate.positions, strict=True)
        if each.may_recommend
    ]
    if not open_to or len(estimate.positions) == 1:
        return language.say("nothing to compare")
    chance, position = max(open_to, key=lambda pair: pair[0])
    return language.say("{position}, {percent}").format(
        position=position_name(position, language), percent=percent(chance, language)
    )


def compose_exact(estimate: Estimate, language: Language) -> WordTable:
    """Repeat the figures as the table of estimates writes them, four digits."""
    said = language.say(
        "Digit by digit as in the table of estimates, for night {night}: chances from 0 to 1, "
        "ratings from 1 to 5 with standard deviation and 90\u00a0% interval."
    )
    columns = (
        language.say("Position"),
        "p_first_try",
        "p_best",
        "expected_rating",
        "sd",
        "lower",
        "upper",
    )
    rows = tuple(
        (
            position_name(each.position, language),
            *(f"{figure:.4f}" for figure in _figures(each)),
        )
        for each in estimate.positions
    )
    return WordTable(
        language.say("The exact figures"),
        (said.format(night=estimate.nights_planned + 1),),
        columns,
        rows,
    )


def _figures(each: PositionEstimate) -> tuple[float, ...]:
    return (
        each.p_first_try,
        each.p_best,
        each.expected_rating,
        each.sd,
        each.lower,
        each.upper,
    )
