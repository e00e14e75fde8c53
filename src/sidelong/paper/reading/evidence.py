"""The likeliest answer of a field, and what speaks for and against it.

All figures are measured on the pictures of its places; what they are worth is for
:mod:`sidelong.paper.reading.marks` to judge.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels
from sidelong.paper.reading.ink import measure_ink
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.mark_nets import Sight
from sidelong.paper.reading.stray_ink import stray_ink

Chances = NDArray[np.float64]

_FEWEST_MARKS = 3
_LIKELY = 0.5
_RATIO_UNKNOWN = 0.8


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
    stray : float or None
        How dark the darkest spot of a blank is that was not printed, grey levels; None for a mark,
        and where nobody knows what was printed.
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
    stray: float | None


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
    small: Pixels,
    sights: NDArray[np.float32],
    *,
    usual: Pixels,
    inside: NDArray[np.float64],
    outlines: NDArray[np.float64],
    printed: Pixels | None,
    blur_mm: float,
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
    inside, outlines : ndarray of float, shape (n_targets,)
        What :func:`~sidelong.paper.reading.ink.ink_inside` and
        :func:`~sidelong.paper.reading.ink.outlines_seen` measure of its targets.
    printed : ndarray of uint8, shape (n_places, 42, 42), or None
        The places as they were printed.
    blur_mm : float
        How blurred the photograph is.

    Returns
    -------
    Answer
        With all that its confidence rests on.
    """
    n_targets = len(inside)
    chances = np.stack([answer_chances(logs, n_targets) for logs in sights])
    place = int(np.sqrt(chances.prod(axis=0)).argmax())
    is_blank = place == n_targets
    traces = np.exp(sights[:, :n_targets, (Sight.CANCELLED, Sight.ERASED)]).sum(axis=2)
    if not is_blank:
        traces[:, place] = 0.0
    depth = ghost = area = 0.0
    if not is_blank:
        own_print = None if printed is None else printed[place]
        depth, ghost, area = measure_ink(small[place], usual, own_print)
    outline = float(np.delete(outlines, [] if is_blank else place).min(initial=1.0))
    first, second = chances[:, place].tolist()
    stray = None
    if is_blank and printed is not None:
        stray = float(stray_ink(small, printed, blur_mm=blur_mm).max())
    seen = (float(traces.max()), depth, ghost, area, float(inside.max()), outline)
    return Answer(place, is_blank, (first, second), *seen, len(small) > n_targets, stray)


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
        ratio = min(depth_ratio(answer, usual_ink), 1.1)
        more = [4 * ratio, np.log1p(9 * answer.ghost), answer.traces, np.log1p(answer.depth)]
        more.append(_log_size(answer, usual_ink))
    return np.array([1.0, *odds, *more])


def depth_ratio(answer: Answer, usual_ink: UsualMark) -> float:
    """Compare how dark a mark is with the usual one of its page.

    Parameters
    ----------
    answer : Answer
        A mark.
    usual_ink : UsualMark
        As :func:`usual_mark` gives it.

    Returns
    -------
    float
        1 where it is as dark; 0.8 where nobody knows.
    """
    return answer.depth / usual_ink.depth if usual_ink.depth else _RATIO_UNKNOWN


def _log_size(answer: Answer, usual_ink: UsualMark) -> float:
    """Compare a mark's area with the usual one: half of it rubbed out leaves a half."""
    if not usual_ink.area:
        return 0.0
    return float(np.clip(np.log((answer.area + 1) / (usual_ink.area + 1)), -1.5, 0.5))


def _log_odds(chance: float) -> float:
    inside = min(max(chance, 1e-6), 1 - 1e-6)
    return float(np.log(inside) - np.log1p(-inside))
