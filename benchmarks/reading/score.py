"""Lay a table of readings against the truth, by the rules of contract 1 of sheets.

Run: python benchmarks/reading/score.py READINGS TRUTHS, where TRUTHS is the folder with one JSON
file beside each image. Written from the contract's text alone; uses nothing of the reader.
"""

import argparse
import csv
import json
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

from scipy.stats import beta

LEVEL = 0.95


@dataclass
class Score:
    """Counts over images of one severity."""

    n_images: int = 0
    n_pages: int = 0
    n_detected: int = 0
    n_reported: int = 0  # pages reported with status accepted
    n_wrong_page: int = 0
    n_readable: int = 0  # fields with a value that may be accepted
    n_accepted_readable: int = 0
    n_accepted: int = 0
    n_silent: int = 0
    n_must_review: int = 0  # fields that a person must see
    n_right_in_review: int = 0
    n_in_review: int = 0
    n_scales: int = 0
    n_wrong_scales: int = 0
    seconds: list[float] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)
    confidences: list[tuple[float, bool]] = field(default_factory=list)

    def figures(self) -> dict[str, float]:
        """Name every figure of the contract."""
        return {
            "images": self.n_images,
            "pages": self.n_pages,
            "detected_share": self.n_detected / max(self.n_pages, 1),
            "detected_lower": lower_bound(self.n_detected, self.n_pages),
            "wrong_pages": self.n_wrong_page,
            "wrong_page_upper": upper_bound(self.n_wrong_page, self.n_reported),
            "accepted_fields": self.n_accepted,
            "silent_errors": self.n_silent,
            "silent_upper": upper_bound(self.n_silent, self.n_accepted),
            "accept_rate": self.n_accepted_readable / max(self.n_readable, 1),
            "must_review_fields": self.n_must_review,
            "right_in_review": self.n_right_in_review / max(self.n_in_review, 1),
            "calibration_error": calibration_error(self.confidences),
            "scales_told": self.n_scales,
            "scales_wrong": self.n_wrong_scales,
        }


def upper_bound(n_events: int, n: int) -> float:
    """One-sided 95 % upper bound of a share (Clopper and Pearson 1934); 3/n for no event."""
    if n == 0:
        return 1.0
    if n_events == 0:
        return min(3.0 / n, 1.0)
    return 1.0 if n_events >= n else float(beta.ppf(LEVEL, n_events + 1, n - n_events))


def lower_bound(n_events: int, n: int) -> float:
    """One-sided 95 % lower bound of a share."""
    if n_events == 0 or n == 0:
        return 0.0
    return float(beta.ppf(1 - LEVEL, n_events, n - n_events + 1))


def calibration_error(pairs: list[tuple[float, bool]], *, bins: int = 10) -> float:
    """Mean distance of confidence from share right, over bins of equal width, weighted."""
    sums: dict[int, list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0])
    for confidence, is_right in pairs:
        bin_ = sums[min(int(confidence * bins), bins - 1)]
        bin_[0] += 1
        bin_[1] += confidence
        bin_[2] += is_right
    total = sum(each[0] for each in sums.values())
    return sum(abs(each[1] - each[2]) for each in sums.values()) / total if total else 0.0


def score(readings: list[dict[str, str]], truths: list[dict]) -> dict[str, Score]:
    """Score rows of a table of readings; by severity."""
    by_image: dict[str, list[dict[str, str]]] = defaultdict(list)
    for row in readings:
        by_image[row["image"]].append(row)
    scores: dict[str, Score] = defaultdict(Score)
    for truth in truths:
        _score_image(by_image[truth["image"]], truth, scores[truth["severity"]])
    return dict(scores)


def _score_image(rows: list[dict[str, str]], truth: dict, total: Score) -> None:
    pages = {page["page_id"]: page for page in truth["pages"]}
    reported = {row["page_id"]: row for row in rows if row["field"] == "@page" and row["page_id"]}
    total.n_images += 1
    total.n_pages += len(pages)
    total.n_detected += len(pages.keys() & reported.keys())
    accepted = {page for page, row in reported.items() if row["status"] == "accepted"}
    total.n_reported += len(accepted)
    total.n_wrong_page += len(accepted - pages.keys())
    total.seconds += [float(row["value"]) for row in rows if row["field"] == "@seconds"]
    for page in pages.values():
        fields = page["fields"].values()
        total.n_readable += sum(bool(each["acceptable"]) for each in fields)
        total.n_must_review += sum(not each["acceptable"] for each in fields)
    for row in rows:
        if row["field"] == "@print_scale":
            _score_scale(row, pages.get(row["page_id"]), total)
        elif not row["field"].startswith("@"):
            _score_field(row, pages.get(row["page_id"]), truth["image"], total)


def _score_field(row: dict[str, str], page: dict | None, image: str, total: Score) -> None:
    known = None if page is None else page["fields"].get(row["field"])
    acceptable = [] if known is None else known["acceptable"]
    if known is not None:
        total.confidences.append((float(row["confidence"]), row["value"] == known["truth"]))
    if row["status"] != "accepted":
        if known is not None:
            total.n_in_review += 1
            total.n_right_in_review += row["value"] == known["truth"]
        return
    total.n_accepted += 1
    total.n_accepted_readable += bool(acceptable)
    if row["value"] not in acceptable:
        total.n_silent += 1
        wanted = "|".join(acceptable) if acceptable else "review"
        total.silent.append(f"{image} {row['page_id']} {row['field']}: {row['value']!r} ({wanted})")


def _score_scale(row: dict[str, str], page: dict | None, total: Score) -> None:
    if page is None or row["value"] == "unknown" or "print_scale" not in page:
        return
    total.n_scales += 1
    total.n_wrong_scales += abs(float(row["value"]) - page["print_scale"]) > 0.01


def read_truths(folder: Path) -> list[dict]:
    """Read all truth files of a folder."""
    return [json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("*.*.json"))]


def read_rows(path: Path) -> list[dict[str, str]]:
    """Read a table of readings as text."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def main() -> None:
    """Print the figures by severity."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("readings", type=Path)
    parser.add_argument("truths", type=Path)
    chosen = parser.parse_args()
    scores = score(read_rows(chosen.readings), read_truths(chosen.truths))
    for severity, counted in scores.items():
        print(severity)
        for name, value in counted.figures().items():
            print(f"  {name:20} {value:.5g}")
        for each in counted.silent:
            print(f"  silent: {each}")


if __name__ == "__main__":
    main()
