"""Fit how sure an answer is to what speaks for it, and store that beside the networks.

Run: python research/marks/calibrate.py NETS.npz HELD.npz... --out mark_nets.npz
HELD are files of make_patches.py that no network was trained on. Prints, for limits of the
confidence, how many answers pass and how many of these are wrong, by five-fold cross-validation
over pages.
"""

import argparse
from collections import Counter
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.mark_nets import look, usual_target
from sidelong.paper.reading.marks import evidence, is_plain, likeliest, usual_mark_depth

NOBODY_KNOWS = ("two_equal", "two_unlike", "half_erased", "between", "withdrawn")
RIDGE = 0.02
LIMITS = (0.9, 0.95, 0.97, 0.98, 0.99, 0.993, 0.995, 0.997, 0.998, 0.999)


def page_answers(stored: dict[str, np.ndarray], rows: np.ndarray, nets: dict[str, np.ndarray]):
    """Judge one page; gives answer, evidence, right or not, and case of the plain ones."""
    small, gaps, fields = stored["patch"][rows], stored["gap"][rows], stored["field"][rows]
    usual = usual_target(small[~gaps])
    sights = look(small, usual, nets)
    starts = np.flatnonzero(np.r_[True, fields[1:] != fields[:-1]])
    parts = [slice(a, b) for a, b in zip(starts, [*starts[1:], len(rows)], strict=True)]
    answers = [
        likeliest(small[p], sights[:, p], usual=usual, n_targets=int((~gaps[p]).sum()))
        for p in parts
    ]
    depth = usual_mark_depth(answers)
    quality = Quality(*stored["figures"][rows[0]].tolist())
    for part, answer in zip(parts, answers, strict=True):
        case, truth = str(stored["case"][rows][part][0]), stored["truth"][rows][part]
        meant = int(np.argmax(truth)) if truth.any() else int((~gaps[part]).sum())
        is_right = case not in NOBODY_KNOWS and answer.place == meant
        seen = evidence(answer, usual_depth=depth, quality=quality)
        if is_plain(answer, usual_depth=depth, quality=quality):
            yield answer, seen, is_right, case


def fit(seen: np.ndarray, is_right: np.ndarray) -> np.ndarray:
    """Fit a logistic regression with a weak ridge on all weights but the first."""

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        score = seen @ weights
        ridge = RIDGE * np.r_[0.0, weights[1:]]
        chance = 1 / (1 + np.exp(-score))
        total = np.logaddexp(0, np.where(is_right, -score, score)).sum()
        return total + ridge @ weights / 2, seen.T @ (chance - is_right) + ridge

    return minimize(loss, np.zeros(seen.shape[1]), jac=True, method="L-BFGS-B").x


def report(name: str, seen: np.ndarray, is_right: np.ndarray, cases: list[str], pages) -> None:
    """Print what limits of the cross-validated confidence would let through."""
    confidence = np.empty(len(seen))
    for fold in range(5):
        held = pages % 5 == fold
        weights = fit(seen[~held], is_right[~held])
        confidence[held] = 1 / (1 + np.exp(-seen[held] @ weights))
    for limit in LIMITS:
        passed = confidence >= limit
        wrong = Counter(np.array(cases)[passed & ~is_right].tolist())
        share = (passed & is_right).sum() / is_right.sum()
        print(f"{name} {limit}: {passed.sum()} pass, {share:.3f} of the right; wrong {dict(wrong)}")


def main() -> None:
    """Fit marks and blanks, and write one file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("nets", type=Path)
    parser.add_argument("held", type=Path, nargs="+")
    parser.add_argument("--out", type=Path, required=True)
    chosen = parser.parse_args()
    with np.load(chosen.nets, allow_pickle=False) as stored:
        arrays = {name: stored[name] for name in stored.files}
    nets = {name: array.astype(np.float32) for name, array in arrays.items()}
    found, pages, offset = [], [], 0
    for path in chosen.held:
        with np.load(path, allow_pickle=False) as held:
            stored = {name: held[name] for name in held.files}
        for page in np.unique(stored["page"]):
            of_page = list(page_answers(stored, np.flatnonzero(stored["page"] == page), nets))
            found += of_page
            pages += [offset] * len(of_page)
            offset += 1
    for name, wanted in (("mark", False), ("blank", True)):
        rows = [i for i, (answer, *_) in enumerate(found) if answer.is_blank is wanted]
        seen = np.array([found[i][1] for i in rows])
        is_right = np.array([found[i][2] for i in rows])
        report(name, seen, is_right, [found[i][3] for i in rows], np.array(pages)[rows])
        arrays[f"judge.{name}"] = fit(seen, is_right).astype(np.float32)
        print(name, arrays[f"judge.{name}"].round(3).tolist())
    np.savez(chosen.out, **arrays)


if __name__ == "__main__":
    main()
