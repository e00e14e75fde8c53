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
from sidelong.pathway.promise_words import LIMITS, findings, no_plot_sentence, tally_sentence
from sidelong.pathway.promises import Reckoning
from sidelong.pathway.report_words import percent, rating_figure, verdict_word
from sidelong.training.position import Position


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
        "no_plot": no_plot_sentence(said),
        "limits": LIMITS,
        "seen": tally_sentence(said.seen),
        "told": tally_sentence(said.told),
        "later": tally_sentence(said.later, what="pieces"),
        "picture": _picture(said),
        "findings": () if said.calibration is None else findings(said.calibration),
    }


def _picture(said: Reckoning) -> CalibrationPicture | None:
    if said.calibration is None:
        return None
    return picture_calibration(said.calibration.table, chances=said.chances)
