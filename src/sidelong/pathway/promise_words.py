"""What is said of promises kept: sentences and rows, the same on the page and on paper."""

from dataclasses import dataclass

from sidelong.outcomes import CalibrationTable
from sidelong.pathway.promises import FEWEST, Calibration, Reckoning, Tally

NOTABLE = 0.05
"""Below this p-value it is said that what happened does not agree with what was said."""

LIMITS = (
    "A few dozen outcomes are few: an honest estimate can look off, and a poor one right.",
    "Only those who went on to a real medicine are here. They are not like everybody.",
    "Only the position that was used is seen. How the others would have gone, nobody knows.",
    "The chance was for a practice piece at home in the evening. A real medicine has another "
    "size, shape and taste, and staff stand by.",
    "It compares no coaches and no sites, and it clears nobody.",
)
"""What the figures cannot say."""


@dataclass(frozen=True)
class CalibrationRow:
    """One group of similar chances in words.

    Parameters
    ----------
    said : str
        Smallest and largest chance, in per cent.
    n, n_happened : int
        Outcomes, and how many of them happened.
    share, interval : str
        Share that happened and its 95 % interval, in per cent.
    agrees : bool
        Whether the interval holds the mean of what was said.
    """

    said: str
    n: int
    n_happened: int
    share: str
    interval: str
    agrees: bool


def calibration_rows(table: CalibrationTable) -> tuple[CalibrationRow, ...]:
    """Say each group of a calibration table in words."""
    return tuple(_row(table, group) for group in range(table.n.size))


def describe_calibration(table: CalibrationTable) -> str:
    """Say what the plot shows, for those who cannot see it."""
    rows = calibration_rows(table)
    n_agree = sum(row.agrees for row in rows)
    told = "; ".join(
        f"said {row.said}, seen {row.share} of {row.n} ({row.interval})" for row in rows
    )
    return (
        f"What was said against what happened, in {len(rows)} groups; in {n_agree} of them the "
        f"interval holds what was said. {told}."
    )


def tally_sentence(tally: Tally, *, what: str = "doses") -> str:
    """Say how many went down first try, and how many were expected to; empty for none.

    Parameters
    ----------
    tally : Tally
        Counts and the expectation.
    what : str
        What was counted, more than one of it.

    Returns
    -------
    str
        One or two sentences.
    """
    if not tally.n:
        return ""
    one = tally.n == 1
    counted = f"Of {tally.n} {what[:-1] if one else what}, {tally.n_first} went down first try."
    expected = (
        f"What was said beforehand adds up to {tally.expected:.1f}; if it holds, the count lies "
        f"from {tally.lower:.1f} to {tally.upper:.1f}, 95 times in 100."
    )
    end = "" if tally.is_as_expected else " It does not."
    return f"{counted} {expected}{end}"


def no_plot_sentence(said: Reckoning) -> str:
    """Say how far it is to a plot; empty where there is one."""
    if said.calibration is not None:
        return ""
    verb = "is" if said.n_missing == 1 else "are"
    return (
        f"It is drawn from {FEWEST} doses on; {said.n_missing} more {verb} needed. "
        "With fewer, chance alone can make it look like anything."
    )


def findings(drawn: Calibration) -> tuple[str, ...]:
    """Say what the test, the line and the score found, each with what it cannot say.

    Parameters
    ----------
    drawn : Calibration
        Of outcomes enough.

    Returns
    -------
    tuple of str
        Sentences.
    """
    said = []
    if drawn.test is not None:
        agrees = drawn.test.p_value >= NOTABLE
        verdict = (
            "what happened does not contradict what was said"
            if agrees
            else "what happened does not agree with what was said"
        )
        z = f"{drawn.test.z:.2f}".replace("-", "\u2212")
        figures = f"z = {z}, p {_p_words(drawn.test.p_value)}"
        end = " That is no proof: few outcomes contradict nothing." if agrees else ""
        said.append(f"Spiegelhalter's test: {verdict} ({figures}).{end}")
    if drawn.line is not None:
        low, high = drawn.line.slope_interval
        said.append(
            f"Slope {drawn.line.slope:.2f} (95 % interval {low:.2f} to {high:.2f}); 1 is right, "
            "below 1 means that chances were said too boldly, above 1 too timidly."
        )
    else:
        said.append("A slope is not fitted yet: it needs ten doses of either outcome.")
    brier = drawn.brier
    said.append(
        f"Brier score {brier.score:.3f}, of which {brier.reliability:.3f} is for chances that were "
        f"off; always saying the overall share would score {brier.uncertainty:.3f}. Smaller is "
        "better."
    )
    return tuple(said)


def _p_words(p_value: float) -> str:
    return "below 0.001" if p_value < 0.001 else f"= {p_value:.3f}"


def _row(table: CalibrationTable, group: int) -> CalibrationRow:
    least, most = _percent(table.least[group]), _percent(table.most[group])
    return CalibrationRow(
        said=f"{least} %" if least == most else f"{least} to {most} %",
        n=int(table.n[group]),
        n_happened=int(table.happened[group]),
        share=f"{_percent(table.share[group])} %",
        interval=f"{_percent(table.lower[group])} to {_percent(table.upper[group])} %",
        agrees=bool(table.agrees[group]),
    )


def _percent(share: float) -> int:
    return round(100 * float(share))
