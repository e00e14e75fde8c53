"""Fit how sure an answer is to what speaks for it, and store that beside the networks.

Run: python research/marks/calibrate.py NETS.npz... --learned LEARN.npz... --held HELD.npz...
--out mark_nets.npz
HELD are files of ``make_patches.py --usual`` that no network was trained on. First the networks
are told how frequent things are on a usual sheet, since half of the targets that they learned from
were marked. Then answers are fitted. Prints, for limits of the confidence, how many answers pass
and how many of these are wrong, by five-fold cross-validation over pages.
"""

import argparse
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from sidelong.paper.reading.evidence import Answer, evidence, likeliest, usual_mark
from sidelong.paper.reading.ink import ink_inside, outlines_seen
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.mark_nets import VIEWS, Sight, look, page_ink, usual_target
from sidelong.paper.reading.marks import is_plain

RIDGE = 0.02
# What speaks for an answer, against it, or either, in the order of `evidence`.
SIGNS_MARK = ("?", "+", "+", "+", "-", "-", "?", "?")
SIGNS_BLANK = ("?", "+", "+", "-", "-", "-", "-")
BOUNDS = {"+": (0.0, None), "-": (None, 0.0), "?": (None, None)}
LIMITS = (0.9, 0.95, 0.97, 0.98, 0.985, 0.99, 0.993, 0.995, 0.997, 0.998, 0.999)
SEVERITIES = ("clean_scan", "good_phone", "poor_phone", "terrible")


@dataclass(frozen=True)
class Judged:
    """One answer of a held page, with the truth about it."""

    answer: Answer
    evidence: np.ndarray
    is_right: bool
    is_plain: bool
    is_readable: bool
    case: str
    severity: int
    page: int
    weight: float


def page_answers(stored: dict[str, np.ndarray], rows: np.ndarray, nets, page: int) -> list[Judged]:
    """Judge all fields of one page."""
    small, gaps, fields = stored["patch"][rows], stored["gap"][rows], stored["field"][rows]
    usual = usual_target(small[~gaps])
    sights = look(small, usual, page_ink(small[~gaps], usual), nets, gaps=gaps)
    starts = np.flatnonzero(np.r_[True, fields[1:] != fields[:-1]])
    parts = [slice(a, b) for a, b in zip(starts, [*starts[1:], len(rows)], strict=True)]
    quality, printed = Quality(*stored["figures"][rows[0]].tolist()), stored["printed"][rows]
    inside, outlines = ink_inside(small), outlines_seen(small, usual)
    answers = [
        likeliest(
            small[p],
            sights[:, p],
            usual=usual,
            inside=inside[p][~gaps[p]],
            outlines=outlines[p][~gaps[p]],
            printed=printed[p],
            blur_mm=quality.blur_mm,
        )
        for p in parts
    ]
    usual_ink = usual_mark(answers)
    found = []
    for part, answer in zip(parts, answers, strict=True):
        truth, first = stored["truth"][rows][part], rows[part][0]
        meant = int(np.argmax(truth)) if truth.any() else int((~gaps[part]).sum())
        is_readable = not stored["must_review"][first]
        is_seen = bool(stored["is_sure"][first]) and stored["visible"][rows][part].min() >= 0.97
        found.append(
            Judged(
                answer,
                evidence(answer, usual_ink=usual_ink, quality=quality),
                is_readable and answer.place == meant,
                is_seen and is_plain(answer, usual_ink=usual_ink, quality=quality),
                is_readable,
                str(stored["case"][first]),
                int(stored["severity"][first]),
                page,
                float(stored["weight"][first]) if "weight" in stored else 1.0,
            )
        )
    return found


def judge_files(paths: list[Path], nets: dict[str, np.ndarray]) -> list[Judged]:
    """Judge all pages of some files."""
    found: list[Judged] = []
    page = 0
    for path in paths:
        with np.load(path, allow_pickle=False) as file:
            stored = {name: file[name] for name in file.files}
        for number in np.unique(stored["page"]):
            found += page_answers(stored, np.flatnonzero(stored["page"] == number), nets, page)
            page += 1
    return found


def count_labels(paths: list[Path]) -> np.ndarray:
    """Count what places show, weighted, over some files; nothing is counted as less than one."""
    total = np.ones(len(Sight))
    for path in paths:
        with np.load(path, allow_pickle=False) as stored:
            labels = stored["label"]
            weight = stored["weight"] if "weight" in stored else np.ones(len(labels))
        is_known = labels >= 0
        total += np.bincount(labels[is_known], weight[is_known], minlength=len(Sight))
    return total / total.sum()


def tell_odds(arrays: dict[str, np.ndarray], learned: list[Path], held: list[Path]) -> None:
    """Shift the last biases from the odds of what was learned from to those of usual sheets."""
    shift = np.log(count_labels(held) / count_labels(learned))
    print("shift of log odds", dict(zip(Sight.__members__, shift.round(2).tolist(), strict=True)))
    for view in VIEWS:
        arrays[f"{view}.5.bias"] = (arrays[f"{view}.5.bias"] + shift).astype(np.float32)


def fit(answers: list[Judged]) -> np.ndarray:
    """Fit a logistic regression with a weak ridge on all weights but the first.

    Few answers are wrong, so that what a figure speaks for is told beforehand.
    """
    seen = np.array([each.evidence for each in answers])
    is_right = np.array([each.is_right for each in answers])
    counts = np.array([each.weight for each in answers])

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        score = seen @ weights
        ridge = RIDGE * np.r_[0.0, weights[1:]]
        chance = 1 / (1 + np.exp(-score))
        total = counts @ np.logaddexp(0, np.where(is_right, -score, score))
        return total + ridge @ weights / 2, seen.T @ (counts * (chance - is_right)) + ridge

    bounds = [BOUNDS[sign] for sign in (SIGNS_BLANK if answers[0].answer.is_blank else SIGNS_MARK)]
    start = np.zeros(seen.shape[1])
    return minimize(loss, start, jac=True, bounds=bounds, method="L-BFGS-B").x


def crossed(answers: list[Judged]) -> np.ndarray:
    """Give every answer the confidence of a fit that has not seen its page."""
    confidence = np.empty(len(answers))
    for fold in range(5):
        weights = fit([each for each in answers if each.page % 5 != fold])
        for i, each in enumerate(answers):
            if each.page % 5 == fold:
                confidence[i] = 1 / (1 + np.exp(-each.evidence @ weights))
    return confidence


def report(name: str, answers: list[Judged]) -> None:
    """Print what limits of the cross-validated confidence would let through."""
    confidence = crossed(answers)
    for limit in LIMITS:
        passed = [each for each, sure in zip(answers, confidence, strict=True) if sure >= limit]
        usual = [each for each in passed if each.weight == 1.0]
        by_severity = Counter(each.severity for each in usual)
        wrong = Counter(each.case or "blank" for each in passed if not each.is_right)
        weighed = sum(each.weight for each in passed if not each.is_right)
        shares = [by_severity[severity] for severity in range(4)]
        print(f"{name} {limit}: {len(usual)} {shares}; wrong {dict(wrong)}, weighing {weighed:.1f}")


def main() -> None:
    """Fit marks and blanks, and write one file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("nets", type=Path, nargs="+", help="arrays of one or of both networks")
    parser.add_argument(
        "--learned", type=Path, nargs="+", help="without: the odds are told already"
    )
    parser.add_argument("--held", type=Path, nargs="+", required=True)
    parser.add_argument("--out", type=Path, required=True)
    chosen = parser.parse_args()
    arrays: dict[str, np.ndarray] = {}
    for path in chosen.nets:
        with np.load(path, allow_pickle=False) as stored:
            arrays |= {name: stored[name] for name in stored.files}
    if chosen.learned:
        tell_odds(arrays, chosen.learned, chosen.held)
    found = judge_files(
        chosen.held, {name: array.astype(np.float32) for name, array in arrays.items()}
    )
    for severity, name in enumerate(SEVERITIES):
        own = [each for each in found if each.severity == severity and each.is_readable]
        plain = sum(each.is_plain for each in own)
        print(f"{name}: {len(own)} readable fields, {plain} plain")
    for name, wanted in (("mark", False), ("blank", True)):
        answers = [each for each in found if each.answer.is_blank is wanted and each.is_plain]
        report(name, answers)
        arrays[f"judge.{name}"] = fit(answers).astype(np.float32)
        print(name, arrays[f"judge.{name}"].round(3).tolist())
    np.savez(chosen.out, **arrays)


if __name__ == "__main__":
    main()
