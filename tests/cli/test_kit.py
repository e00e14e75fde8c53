"""`sidelong booklet --kit`: a kit obeys contract 1 of the sheets, checked from the contract's text.

The checker below knows nothing of our own code: it reads ``layout.json`` as plain JSON and the PDF
with pypdfium2, and asks for what the contract says, word by word.
"""

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdfium2
import pytest

from sidelong.cli.application import DONE, run

FAMILY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
PAGE_KEYS = {"page_id": str, "pdf_page": int, "width_mm": (int, float), "height_mm": (int, float)}
LENGTHS = ("cx", "cy", "w", "h")


def contract_faults(kit: Path) -> list[str]:
    """Find everything in a kit that contract 1 does not allow."""
    layout = json.loads((kit / "layout.json").read_text(encoding="utf-8"))
    faults = [] if layout.get("contract") == 1 else ["contract is not 1"]
    with pypdfium2.PdfDocument(kit / layout["pdf"]) as pdf:
        sizes = [tuple(side * 25.4 / 72 for side in page.get_size()) for page in pdf]
    ids = [page["page_id"] for page in layout["pages"]]
    faults += ["a page_id twice"] if len(set(ids)) < len(ids) else []
    for page in layout["pages"]:
        faults += [
            f"{page.get('page_id')}: {fault}"
            for fault in (*_page_faults(page, sizes), *_field_faults(page))
        ]
    return faults


def _page_faults(page: dict[str, Any], sizes: list[tuple[float, ...]]) -> list[str]:
    faults = [key for key, kind in PAGE_KEYS.items() if not isinstance(page.get(key), kind)]
    if not 0 <= page["pdf_page"] < len(sizes):
        return [*faults, "pdf_page is not in the PDF, counted from 0"]
    printed = sizes[page["pdf_page"]]
    wanted = (page["width_mm"], page["height_mm"])
    if max(abs(one - two) for one, two in zip(printed, wanted, strict=True)) > 0.1:
        faults.append(f"the PDF page measures {printed}")
    for box in (*page["note_boxes"], *page.get("free_boxes", [])):
        if set(box) != {"x", "y", "w", "h"} or not _on_page(box, page):
            faults.append(f"box {box}")
    return faults


def _on_page(box: dict[str, float], page: dict[str, Any]) -> bool:
    return (
        min(box["x"], box["y"]) >= 0
        and min(box["w"], box["h"]) > 0
        and box["x"] + box["w"] <= page["width_mm"]
        and box["y"] + box["h"] <= page["height_mm"]
    )


def _field_faults(page: dict[str, Any]) -> list[str]:
    faults = []
    names = [field["id"] for field in page["fields"]]
    targets = [target["id"] for field in page["fields"] for target in field["targets"]]
    if len(set(names)) < len(names) or len(set(targets)) < len(targets):
        faults.append("a field or a target twice")
    for field in page["fields"]:
        values = [target["value"] for target in field["targets"]]
        if field["type"] not in ("one_of", "tick") or len(set(values)) < len(values):
            faults.append(f"field {field['id']}")
        if field["type"] == "tick" and values != ["1"]:
            faults.append(f"tick {field['id']} has {values}")
        for target in field["targets"]:
            if target["kind"] not in ("circle", "box") or not all(
                isinstance(target[name], int | float) for name in LENGTHS
            ):
                faults.append(f"target {target['id']}")
            edges = {
                "x": target["cx"] - target["w"] / 2,
                "y": target["cy"] - target["h"] / 2,
                "w": target["w"],
                "h": target["h"],
            }
            if not _on_page(edges, page):
                faults.append(f"target {target['id']} is not on the page")
    return faults


@pytest.fixture
def plans(tmp_path: Path) -> Path:
    table = tmp_path / "plans.csv"
    words = ["--trainees", "3", "--nights", "7", "--seed", "2", "--bands", "younger,older"]
    assert run(["plan", "--out", str(table), *words]) == DONE
    return table


def print_kit(plans: Path, *words: str) -> tuple[Path, Path]:
    out, kit = plans.parent / "out", plans.parent / "kit"
    command = ["booklet", str(plans), "--out", str(out), "--kit", str(kit), *words]
    assert run(command) == DONE
    return out, kit


@pytest.mark.parametrize(
    "words", [(), ("--paper", "letter", "--language", "ar-XB"), ("--edition", "large")]
)
def test_a_kit_obeys_the_contract(plans: Path, words: tuple[str, ...]) -> None:
    _, kit = print_kit(plans, *words)
    assert sorted(file.name for file in kit.iterdir()) == ["layout.json", "pages.pdf"]
    assert contract_faults(kit) == []
    layout = json.loads((kit / "layout.json").read_text(encoding="utf-8"))
    fields = {field["id"] for page in layout["pages"] for field in page["fields"]}
    assert {"p1.rating", "p5.rating", "p1.went_down", "felt_best", "skipped"} <= fields
    nights = [page["page_id"] for page in layout["pages"] if "night" in page]
    per_night = 2 if "large" in words else 1
    assert len(nights) == 3 * 7 * per_night
    assert len(layout["pages"]) == 3 * 8 * per_night


def test_the_checker_finds_what_the_contract_forbids(plans: Path) -> None:
    _, kit = print_kit(plans)
    layout = json.loads((kit / "layout.json").read_text(encoding="utf-8"))
    first, second = layout["pages"][:2]
    second["page_id"] = first["page_id"]
    first["width_mm"] = 215.9
    first["fields"][0]["targets"][0]["value"] = "yes"
    first["fields"][1]["targets"][0]["cx"] = -3.0
    layout["contract"] = 2
    (kit / "layout.json").write_text(json.dumps(layout), encoding="utf-8")
    faults = " ".join(contract_faults(kit))
    for words in ("contract", "page_id twice", "measures", "tick", "not on the page"):
        assert words in faults, faults


def test_booklet_and_kit_carry_the_same_markers_and_no_two_pages_share_theirs(
    plans: Path,
) -> None:
    out, kit = print_kit(plans)
    layout = json.loads((kit / "layout.json").read_text(encoding="utf-8"))
    words = {frozenset(marker["id"] for marker in page["markers"]) for page in layout["pages"]}
    assert len(words) == len(layout["pages"])
    page = next(page for page in layout["pages"] if page["page_id"] == "T-0002-03")
    wanted = sorted(marker["id"] for marker in page["markers"])
    front = 9 + 1  # pages before the example, and the example
    for file, number in ((kit / "pages.pdf", page["pdf_page"]), (out / "T-0002.pdf", front + 2)):
        with pypdfium2.PdfDocument(file) as pdf:
            picture = np.asarray(pdf[number].render(scale=150 / 72).to_pil().convert("L"))
        _, ids, _ = cv2.aruco.ArucoDetector(FAMILY).detectMarkers(picture)
        assert sorted(int(number) for number in np.ravel(ids)) == wanted


def test_markers_of_a_booklet_stay_when_trainees_join_the_table(plans: Path) -> None:
    whole = plans.read_text(encoding="utf-8")
    earlier = [row for row in whole.splitlines() if "T-0003" not in row]
    plans.write_text("\n".join(earlier) + "\n", encoding="utf-8")
    _, kit = print_kit(plans)
    before = json.loads((kit / "layout.json").read_text(encoding="utf-8"))["pages"]
    plans.write_text(whole, encoding="utf-8")
    _, kit = print_kit(plans)
    after = json.loads((kit / "layout.json").read_text(encoding="utf-8"))["pages"]
    known = {page["page_id"]: page["markers"] for page in after}
    assert len(after) == len(before) + 8
    assert all(known[page["page_id"]] == page["markers"] for page in before)
