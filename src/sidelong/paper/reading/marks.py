"""From pictures of targets to answers: what is marked, how sure that is, and whether it may stand.

Two networks look at every target and at the gaps between them. A field's answer is judged over all
its places together, by each network on its own; what counts is the more doubtful of the two. A
blank is trusted later than a mark, since a faint pencil that cannot be seen looks like one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels
from sidelong.paper.reading.ink import FAINTEST, ink_inside, measure_ink, outlines_seen
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.mark_nets import (
    Sight,
    look,
    page_ink,
    shrink_patches,
    stored_nets,
    usual_target,
)
from sidelong.paper.reading.patches import FieldContext
from sidelong.training.layout import Field, Target
from sidelong.training.reading import FieldReading

Chances = NDArray[np.float64]

_GAP_MM = (14.5, 32.0)  # centres nearer than this see each other's surroundings; farther: no pair
_FEWEST_TARGETS, _FEWEST_MARKS = 8, 3

# Set on held pages, see docs/method/marks.md.
_LIKELY = 0.5
_SURE_MARK, _SURE_BLANK = 0.985, 0.985
# Of a mark, of a blank, and of one with gaps, where a mark may lie on printed words or drawings.
_LEAST_CHANCES = (0.9, 0.995, 0.9995)
_LEAST_VISIBLE = 0.97
_PALE = 0.6
_RATIO_UNKNOWN = 0.8
_MOST_BLUR_MM, _MOST_NOISE, _LEAST_PX_PER_MM = 0.45, 4.0, 3.0
_MOST_IN_BLANK = 30.0
_LEAST_OUTLINE_OF_BLANK, _LEAST_OUTLINE = 0.3, 0.15  # shares of the usual one


def watched_places(field: Field) -> tuple[Target, ...]:
    """List where a field has to be looked at: its targets, then the gaps between far neighbours.

    A mark in the middle of two targets 20 mm apart lies outside the surroundings of both.

    Parameters
    ----------
    field : Field
        A question of the sheet.

    Returns
    -------
    tuple of Target
        Its targets in order; then places in the middle of neighbours, whose ids end in ``+``.
    """
    gaps = [
        replace(
            first,
            id=f"{first.id}+",
            cx=(first.cx + second.cx) / 2,
            cy=(first.cy + second.cy) / 2,
        )
        for first, second in pairwise(field.targets)
        if _GAP_MM[0] < np.hypot(second.cx - first.cx, second.cy - first.cy) <= _GAP_MM[1]
    ]
    return (*field.targets, *gaps)


def answer_chances(log_sights: NDArray[np.float32], n_targets: int) -> Chances:
    """Lay what single places show together to the answers of one field.

    Parameters
    ----------
    log_sights : ndarray of float, shape (n_places, 5)
        Logarithms of chances by place, targets before gaps, as one network gives them.
    n_targets : int
        How many of the places are targets.

    Returns
    -------
    ndarray of float, shape (n_targets + 1,)
        Chance of each target being the answer, then that nothing is marked. They need not sum to
        one: the rest is what a person must look at.
    """
    sights = np.exp(np.asarray(log_sights, float))
    empty, marked = sights[:, Sight.EMPTY], sights[:, Sight.MARKED]
    quiet = np.maximum(empty + sights[:, Sight.CANCELLED] + sights[:, Sight.ERASED], 1e-12)[
        :n_targets
    ]
    clear = float(empty[n_targets:].prod())
    chances = marked[:n_targets] / quiet * quiet.prod() * clear
    return np.append(chances, empty.prod())


def judge_fields(
    patches: Sequence[Pixels], contexts: Sequence[FieldContext]
) -> tuple[FieldReading, ...]:
    """Judge all fields of one page.

    Parameters
    ----------
    patches : sequence of ndarray of uint8, each of shape (n_places, 84, 84, 3)
        By field, the surroundings of its :func:`watched_places`.
    contexts : sequence of FieldContext
        The fields, in the same order; ``visible`` has one value for every place.

    Returns
    -------
    tuple of FieldReading
        In the same order. Of a page with fewer than eight targets none is accepted: what an empty
        target looks like is learned from the page itself.

    Raises
    ------
    ValueError
        If a field has not as many patches as places.
    """
    for seen, context in zip(patches, contexts, strict=True):
        if len(seen) != len(watched_places(context.field)):
            raise ValueError(f"field {context.field.id} needs a patch for each of its places")
    if not patches:
        return ()
    small = [shrink_patches(seen) for seen in patches]
    counts = [len(context.field.targets) for context in contexts]
    targets = np.concatenate([part[:n] for part, n in zip(small, counts, strict=True)])
    usual = usual_target(targets)
    gaps = np.concatenate([np.arange(len(p)) >= n for p, n in zip(small, counts, strict=True)])
    sights = look(np.concatenate(small), usual, page_ink(targets, usual), gaps=gaps)
    ends = np.cumsum([len(part) for part in small])
    by_field = np.split(sights, ends[:-1], axis=1)
    answers = [
        likeliest(part, logs, usual=usual, n_targets=n)
        for part, logs, n in zip(small, by_field, counts, strict=True)
    ]
    usual_ink = usual_mark(answers)
    is_known = len(targets) >= _FEWEST_TARGETS
    return tuple(
        _reading(context, answer, usual_ink, is_known=is_known)
        for context, answer in zip(contexts, answers, strict=True)
    )


def judge_field(patches: Pixels, context: FieldContext) -> FieldReading:
    """Judge one field alone: for a person to see, as nothing is accepted without its page.

    Parameters
    ----------
    patches : ndarray of uint8, shape (n_places, 84, 84, 3)
        Surroundings of its :func:`watched_places`.
    context : FieldContext
        The field, and how it can be seen.

    Returns
    -------
    FieldReading
        The likeliest answer.
    """
    return replace(judge_fields([patches], [context])[0], accepted=False)


@dataclass(frozen=True)
class Answer:
    """The likeliest answer of one field, and what speaks for and against it.

    Parameters
    ----------
    place : int
        Which target; their number where nothing is marked.
    is_blank : bool
        Whether nothing is marked.
    chances : tuple of float
        Its chance by each network.
    traces : float
        Chance that another target shows a withdrawn mark.
    depth : float
        How much darker the mark is than an empty target, grey levels; 0 for a blank.
    ghost, area : float
        Area of the mark that is much paler than the rest of it, and of that rest, mm2.
    inside : float
        How dark the darkest spot inside any outline is, grey levels.
    outline : float
        Least share of the usual outline that is seen around a target without the mark: near 0
        where light has washed it out, and a pencil's mark with it.
    has_gaps : bool
        Whether gaps between its targets are watched.
    """

    place: int
    is_blank: bool
    chances: tuple[float, float]
    traces: float
    depth: float
    ghost: float
    area: float
    inside: float
    outline: float
    has_gaps: bool


@dataclass(frozen=True)
class UsualMark:
    """What the marks of a page have in common; zeros where there are too few to tell.

    Parameters
    ----------
    depth : float
        Median of how much darker they are than an empty target, grey levels.
    area : float
        Median of their areas, mm2.
    """

    depth: float = 0.0
    area: float = 0.0


def likeliest(
    small: Pixels, sights: NDArray[np.float32], *, usual: Pixels, n_targets: int
) -> Answer:
    """Find the answer of a field that both networks together prefer.

    Parameters
    ----------
    small : ndarray of uint8, shape (n_places, 42, 42, 3)
        Its places, targets first.
    sights : ndarray of float, shape (2, n_places, 5)
        What the networks say of them, logarithms of chances.
    usual : ndarray of uint8, shape (42, 42, 3)
        The usual target of the page.
    n_targets : int
        How many places are targets.

    Returns
    -------
    Answer
        With all that its confidence rests on.
    """
    chances = np.stack([answer_chances(logs, n_targets) for logs in sights])
    place = int(np.sqrt(chances.prod(axis=0)).argmax())
    is_blank = place == n_targets
    traces = np.exp(sights[:, :n_targets, (Sight.CANCELLED, Sight.ERASED)]).sum(axis=2)
    if not is_blank:
        traces[:, place] = 0.0
    depth, ghost, area = (0.0, 0.0, 0.0) if is_blank else measure_ink(small[place], usual)
    inside = float(ink_inside(small[:n_targets]).max())
    others = np.delete(small[:n_targets], [] if is_blank else place, axis=0)
    outline = float(outlines_seen(others, usual).min(initial=1.0))
    first, second = chances[:, place].tolist()
    seen = (float(traces.max()), depth, ghost, area, inside, outline, len(small) > n_targets)
    return Answer(place, is_blank, (first, second), *seen)


def usual_mark(answers: Sequence[Answer]) -> UsualMark:
    """Find what the marks of a page have in common.

    Parameters
    ----------
    answers : sequence of Answer
        All answers of the page.

    Returns
    -------
    UsualMark
        Zeros where fewer than three fields are marked.
    """
    marks = [each for each in answers if not each.is_blank and min(each.chances) > _LIKELY]
    if len(marks) < _FEWEST_MARKS:
        return UsualMark()
    depth, area = np.median([(each.depth, each.area) for each in marks], axis=0).tolist()
    return UsualMark(depth, area)


def evidence(answer: Answer, *, usual_ink: UsualMark, quality: Quality) -> Chances:
    """List what the confidence in an answer is computed from.

    Parameters
    ----------
    answer : Answer
        The answer.
    usual_ink : UsualMark
        As :func:`usual_mark` gives it.
    quality : Quality
        How well the page can be seen.

    Returns
    -------
    ndarray of float, shape (8,) for a mark, (7,) for a blank
        A one, the log odds of the more and of the less doubtful network, and figures that differ
        between marks and blanks.
    """
    odds = [_log_odds(chance) for chance in sorted(answer.chances)]
    if answer.is_blank:
        more = [np.log1p(answer.inside), quality.noise, 5 * quality.blur_mm, answer.traces]
    else:
        ratio = min(_ratio(answer, usual_ink), 1.1)
        more = [4 * ratio, np.log1p(9 * answer.ghost), answer.traces, np.log1p(answer.depth)]
        more.append(_log_size(answer, usual_ink))
    return np.array([1.0, *odds, *more])


def is_plain(answer: Answer, *, usual_ink: UsualMark, quality: Quality) -> bool:
    """Tell whether an answer passes what is asked of it whatever its confidence.

    Parameters
    ----------
    answer : Answer
        The answer.
    usual_ink : UsualMark
        As :func:`usual_mark` gives it.
    quality : Quality
        How well the page can be seen.

    Returns
    -------
    bool
        False for what a person must look at.
    """
    if min(answer.chances) < _least_chance(answer):
        return False
    if answer.outline < (_LEAST_OUTLINE_OF_BLANK if answer.is_blank else _LEAST_OUTLINE):
        return False
    if answer.is_blank:
        return _would_show_pencil(quality) and answer.inside <= _MOST_IN_BLANK
    return _ratio(answer, usual_ink) >= _PALE and answer.depth >= FAINTEST


def _least_chance(answer: Answer) -> float:
    return _LEAST_CHANCES[answer.is_blank + (answer.is_blank and answer.has_gaps)]


def _ratio(answer: Answer, usual_ink: UsualMark) -> float:
    return answer.depth / usual_ink.depth if usual_ink.depth else _RATIO_UNKNOWN


def _log_size(answer: Answer, usual_ink: UsualMark) -> float:
    """Compare a mark's area with the usual one: half of it rubbed out leaves a half."""
    if not usual_ink.area:
        return 0.0
    return float(np.clip(np.log((answer.area + 1) / (usual_ink.area + 1)), -1.5, 0.5))


def _log_odds(chance: float) -> float:
    inside = min(max(chance, 1e-6), 1 - 1e-6)
    return float(np.log(inside) - np.log1p(-inside))


def _reading(
    context: FieldContext, answer: Answer, usual_ink: UsualMark, *, is_known: bool
) -> FieldReading:
    weights = stored_nets()["judge.blank" if answer.is_blank else "judge.mark"]
    seen = evidence(answer, usual_ink=usual_ink, quality=context.quality)
    confidence = float(1 / (1 + np.exp(-np.dot(seen, weights))))
    value = "" if answer.is_blank else context.field.targets[answer.place].value
    accepted = is_known and _may_stand(context, answer, usual_ink, confidence)
    return FieldReading(value, confidence, accepted)


def _may_stand(
    context: FieldContext, answer: Answer, usual_ink: UsualMark, confidence: float
) -> bool:
    """Tell whether an answer may be used without a person."""
    if float(context.visible.min()) < _LEAST_VISIBLE:
        return False
    is_sure = confidence >= (_SURE_BLANK if answer.is_blank else _SURE_MARK)
    return is_sure and is_plain(answer, usual_ink=usual_ink, quality=context.quality)


def _would_show_pencil(quality: Quality) -> bool:
    """Tell whether a faint pencil could be seen in this photograph, so that a blank is one."""
    return (
        quality.blur_mm <= _MOST_BLUR_MM
        and quality.noise <= _MOST_NOISE
        and quality.px_per_mm >= _LEAST_PX_PER_MM
    )
