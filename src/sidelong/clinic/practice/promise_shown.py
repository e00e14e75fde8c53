"""What pages say of promises, as sentences and values for their templates."""

from dataclasses import dataclass
from typing import Any

from sidelong.clinic.look.calibration import CalibrationPicture, picture_calibration
from sidelong.clinic.practice.promise_forms import (
    KIND_WORDS,
    RATING_WORDS,
    SEEN_WORDS,
    SHAPE_WORDS,
    WENT_WORDS,
    WHY_WORDS,
)
from sidelong.clinic.practice.promise_queries import DoseLine, LockLine, PromisesKept
from sidelong.paper.language import read_language
from sidelong.pathway.promises import FEWEST, Calibration, Reckoning, Tally
from sidelong.pathway.report_words import percent, rating_figure, verdict_word
from sidelong.training.position import Position

NOTABLE = 0.05
"""Below this p-value a page says that what happened does not agree with what was said."""


@dataclass(frozen=True)
class ShownFigure:
    """One position of a locked estimate, in words."""

    position: Position
    first_try: str
    rating: str
    best: str


def show_lock(line: LockLine) -> dict[str, Any]:
    """Lay out one locked estimate."""
    language, lock = read_language("en"), line.lock
    return {
        "line": line,
        "lock": lock,
        "verdict": verdict_word(lock.verdict, language),
        "figures": [
            ShownFigure(
                each.position,
                percent(each.p_first_try, language),
                f"{rating_figure(each.expected_rating)} "
                f"({rating_figure(each.lower)} to {rating_figure(each.upper)})",
                percent(each.p_best, language),
            )
            for each in lock.positions
        ],
    }


def show_dose(line: DoseLine) -> dict[str, Any]:
    """Lay out one version of a first dose."""
    dose = line.dose
    seen = {"whole": dose.whole, "unchewed": dose.unchewed, "unaided": dose.unaided}
    said = [word if is_so else f"not {word}" for word, is_so in seen.items() if is_so is not None]
    went = WENT_WORDS[dose.went_down].lower()
    return {
        "line": line,
        "dose": dose,
        "what": f"{KIND_WORDS[dose.kind].lower()}, {SHAPE_WORDS[dose.shape].lower()}, "
        f"{dose.largest_mm:g} mm",
        "seen_by": SEEN_WORDS[dose.seen_by],
        "went": "it did not go down" if went == "no" else f"it went down {went}",
        "why_not": WHY_WORDS[dose.why_not].lower() if dose.why_not else "",
        "rating": RATING_WORDS[dose.rating - 1] if dose.rating else "",
        "how": ", ".join(said),
        "chance": "" if line.chance is None else percent(line.chance, read_language("en")),
    }


def show_promises(kept: PromisesKept) -> dict[str, Any]:
    """Lay out the page of promises kept."""
    said = kept.reckoning
    return {
        "kept": kept,
        "said": said,
        "fewest": FEWEST,
        "seen": tally_sentence(said.seen),
        "told": tally_sentence(said.told),
        "later": tally_sentence(said.later, what="pieces"),
        "picture": _picture(said),
        "findings": () if said.calibration is None else findings(said.calibration),
    }


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


def _picture(said: Reckoning) -> CalibrationPicture | None:
    if said.calibration is None:
        return None
    return picture_calibration(said.calibration.table, chances=said.chances)
