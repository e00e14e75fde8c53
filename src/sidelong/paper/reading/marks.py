"""From pictures of targets to answers: what is marked, how sure that is, and whether it may stand.

Two networks look at every target and at the gaps between them. A field's answer is judged over all
its places together, by each network on its own; what counts is the more doubtful of the two. A
blank is trusted later than a mark, since a faint pencil that cannot be seen looks like one.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from sidelong.paper.images import Pixels
from sidelong.paper.reading.evidence import (
    Answer,
    UsualMark,
    depth_ratio,
    evidence,
    likeliest,
    usual_mark,
)
from sidelong.paper.reading.ink import FAINTEST, ink_inside, outlines_seen
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.mark_nets import (
    look,
    page_ink,
    shrink_patches,
    stored_nets,
    usual_target,
)
from sidelong.paper.reading.patches import FieldContext
from sidelong.training.layout import Field, Target
from sidelong.training.reading import FieldReading

_GAP_MM = (14.5, 32.0)  # centres nearer than this see each other's surroundings; farther: no pair
_FEWEST_TARGETS = 8

# Set on held pages, see docs/method/marks.md.
_SURE_MARK, _SURE_BLANK = 0.985, 0.985
_LEAST_CHANCE, _LEAST_CHANCE_POORLY_SEEN = 0.8, 0.9
_LEAST_CHANCE_OF_BLANK = 0.9
_CLEAN, _MOST_STRAY_IN_BLANK = 6.0, 40.0  # grey levels of ink that was not printed
# Of a blank that is not clean or whose print is unknown, and of one with gaps: words or drawings
# may hide a mark.
_LEAST_CHANCES_ALONE = (0.995, 0.9995)
_LEAST_VISIBLE = 0.97
_PALE = 0.6
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
    target_ends = np.cumsum(counts)[:-1]
    inside = np.split(ink_inside(targets), target_ends)
    outlines = np.split(outlines_seen(targets, usual), target_ends)
    answers = [
        likeliest(
            part,
            logs,
            usual=usual,
            inside=dark,
            outlines=shares,
            printed=context.printed,
            blur_mm=context.quality.blur_mm,
        )
        for part, logs, dark, shares, context in zip(
            small, by_field, inside, outlines, contexts, strict=True
        )
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
    is_sharp = _would_show_pencil(quality)
    if min(answer.chances) < _least_chance(answer, is_sharp=is_sharp):
        return False
    if answer.outline < (_LEAST_OUTLINE_OF_BLANK if answer.is_blank else _LEAST_OUTLINE):
        return False
    if not answer.is_blank:
        return depth_ratio(answer, usual_ink) >= _PALE and answer.depth >= FAINTEST
    if not is_sharp or (answer.stray or 0.0) > _MOST_STRAY_IN_BLANK:
        return False
    return _is_clean(answer) or answer.inside <= _MOST_IN_BLANK


def _is_clean(answer: Answer) -> bool:
    """Tell whether nothing but print is seen anywhere in a field."""
    return answer.stray is not None and answer.stray <= _CLEAN


def _least_chance(answer: Answer, *, is_sharp: bool) -> float:
    if not answer.is_blank:
        return _LEAST_CHANCE if is_sharp else _LEAST_CHANCE_POORLY_SEEN
    return _LEAST_CHANCE_OF_BLANK if _is_clean(answer) else _LEAST_CHANCES_ALONE[answer.has_gaps]


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
