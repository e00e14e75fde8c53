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
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.mark_nets import SIDE_PX, Sight, look, shrink_patches, usual_target
from sidelong.paper.reading.patches import PATCH_MM, FieldContext
from sidelong.training.layout import Field, Target
from sidelong.training.reading import FieldReading

Chances = NDArray[np.float64]

_GAP_MM = (14.5, 32.0)  # centres nearer than this see each other's surroundings; farther: no pair
_FEWEST_TARGETS = 8
_FEWEST_MARKS = 3

# Set on held pages, see docs/method/marks.md.
_LIKELY = 0.5
_SURE_MARK, _SURE_WITH_TRACES, _SURE_BLANK = 0.97, 0.98, 0.98
_CALIBRATION = ((0.0, 1.0), (0.0, 1.0))  # of marks, of blanks
_LEAST_VISIBLE = 0.97
_PALE, _FAINTEST = 0.5, 20.0
_INK_PERCENTILE = 96
_MOST_BLUR_MM, _MOST_NOISE, _LEAST_PX_PER_MM = 0.35, 9.0, 3.5

_DISC_MM = 5.0
_AXIS = (np.arange(SIDE_PX) + 0.5) * PATCH_MM / SIDE_PX - PATCH_MM / 2
_DISC = np.hypot(*np.meshgrid(_AXIS, _AXIS)) < _DISC_MM


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
    sights = look(np.concatenate(small), usual)
    ends = np.cumsum([len(part) for part in small])
    by_field = np.split(sights, ends[:-1], axis=1)
    views = [
        _View(context, part, logs)
        for context, part, logs in zip(contexts, small, by_field, strict=True)
    ]
    return _judge_page(views, usual, is_known=len(targets) >= _FEWEST_TARGETS)


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
class _View:
    """One field: its small patches, and what both networks say of them."""

    context: FieldContext
    small: Pixels
    sights: NDArray[np.float32]


@dataclass(frozen=True)
class _Answer:
    """The likeliest answer of a field: its place (or the number of targets), and how sure."""

    place: int
    chance: float
    has_traces: bool
    depth: float

    def is_blank(self, field: Field) -> bool:
        return self.place == len(field.targets)


def _judge_page(
    views: Sequence[_View], usual: Pixels, *, is_known: bool
) -> tuple[FieldReading, ...]:
    answers = [_likeliest(view, usual) for view in views]
    depths = [
        answer.depth
        for view, answer in zip(views, answers, strict=True)
        if not answer.is_blank(view.context.field) and answer.chance > _LIKELY
    ]
    usual_depth = float(np.median(depths)) if len(depths) >= _FEWEST_MARKS else 0.0
    readings = []
    for view, answer in zip(views, answers, strict=True):
        field = view.context.field
        blank = answer.is_blank(field)
        confidence = _calibrated(answer.chance, blank=blank)
        accepted = is_known and _may_stand(view.context, answer, usual_depth)
        value = "" if blank else field.targets[answer.place].value
        readings.append(FieldReading(value, confidence, accepted))
    return tuple(readings)


def _likeliest(view: _View, usual: Pixels) -> _Answer:
    """Find the answer that both networks together prefer, as sure as the more doubtful of them."""
    n_targets = len(view.context.field.targets)
    chances = np.stack([answer_chances(logs, n_targets) for logs in view.sights])
    place = int(np.sqrt(chances.prod(axis=0)).argmax())
    traces = np.exp(view.sights[:, :n_targets, (Sight.CANCELLED, Sight.ERASED)]).sum(axis=2)
    if place < n_targets:
        traces[:, place] = 0.0
    depth = 0.0 if place == n_targets else _ink_depth(view.small[place], usual)
    return _Answer(place, float(chances[:, place].min()), bool(traces.max() > 0.2), depth)


def _ink_depth(small: Pixels, usual: Pixels) -> float:
    """Tell how much darker the ink of a mark is than an empty target, grey levels."""
    darker = (usual.astype(np.int16) - small).max(axis=2)[_DISC]
    return float(np.percentile(darker, _INK_PERCENTILE))


def _may_stand(context: FieldContext, answer: _Answer, usual_depth: float) -> bool:
    """Tell whether an answer may be used without a person."""
    if float(context.visible.min()) < _LEAST_VISIBLE:
        return False
    if answer.is_blank(context.field):
        return answer.chance >= _SURE_BLANK and _would_show_pencil(context.quality)
    if answer.depth < _PALE * usual_depth or answer.depth < _FAINTEST:
        return False
    return answer.chance >= (_SURE_WITH_TRACES if answer.has_traces else _SURE_MARK)


def _would_show_pencil(quality: Quality) -> bool:
    """Tell whether a faint pencil could be seen in this photograph, so that a blank is one."""
    return (
        quality.blur_mm <= _MOST_BLUR_MM
        and quality.noise <= _MOST_NOISE
        and quality.px_per_mm >= _LEAST_PX_PER_MM
    )


def _calibrated(chance: float, *, blank: bool) -> float:
    """Turn a chance by the networks into how often such answers were right."""
    start, slope = _CALIBRATION[1 if blank else 0]
    odds = np.log(max(chance, 1e-9)) - np.log(max(1 - chance, 1e-9))
    return float(1 / (1 + np.exp(-(start + slope * odds))))
