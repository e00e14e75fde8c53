"""The third generator of the benchmarks: equal seeds give equal images, and its truth is true."""

import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from photographed import printed_kit

from sidelong.exchange.layouts import write_layout

READING = Path(__file__).resolve().parents[3] / "benchmarks" / "reading"
MUST_REVIEW = {"two_equal", "half_erased", "between", "hidden"}
BESIDE = {"word", "word_tick", "word_underlined", "head"}


@pytest.fixture(scope="module")
def sheets() -> ModuleType:
    sys.path.insert(0, str(READING))
    try:
        from third import sheets
    finally:
        sys.path.remove(str(READING))
    return sheets


@pytest.fixture(scope="module")
def kit(sheets: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("kit")
    printed = printed_kit()
    (folder / printed.layout.pdf).write_bytes(printed.pdf)
    write_layout(folder / "layout.json", printed.layout)
    return sheets.Kit.read(folder)


def make(sheets: ModuleType, kit: Any, severity: str, seed: int) -> tuple[NDArray[np.uint8], Any]:
    rng = np.random.default_rng(seed)
    return sheets.make_image(kit, kit.layout.pages[seed], severity=severity, rng=rng)


def fill_in(sheets: ModuleType, kit: Any, seed: int, *, words_share: float) -> tuple[Any, Any]:
    """Give what is written on a sheet, without the sheet's own print, and the answers."""
    rng = np.random.default_rng(seed)
    page = kit.layout.pages[seed % len(kit.layout.pages)]
    size = (round(at * sheets.PX_PER_MM) for at in (page.height_mm, page.width_mm))
    paper = sheets.Paper(np.full((*size, 3), 255, np.uint8), rng)
    family = sheets.Family(paper, page, "good_phone", False, words_share, rng)
    return paper, family.fill_in()[0]


@pytest.mark.parametrize("severity", ["clean_scan", "terrible"])
def test_equal_seeds_give_equal_images(sheets: ModuleType, kit: Any, severity: str) -> None:
    image, truth = make(sheets, kit, severity, 1)
    again, told_again = make(sheets, kit, severity, 1)
    assert np.array_equal(image, again)
    assert truth == told_again
    assert (image.dtype, image.shape[2]) == (np.uint8, 3)


def test_other_seeds_give_other_answers(sheets: ModuleType, kit: Any) -> None:
    page = kit.layout.pages[0]
    told = [
        sheets.make_image(kit, page, severity="terrible", rng=np.random.default_rng(seed))[1]
        for seed in (1, 2)
    ]
    assert told[0]["pages"][0]["fields"] != told[1]["pages"][0]["fields"]


@pytest.mark.parametrize("severity", ["clean_scan", "terrible"])
def test_truth_names_the_page_and_all_its_fields(
    sheets: ModuleType, kit: Any, severity: str
) -> None:
    for seed in (2, 3):
        _, truth = make(sheets, kit, severity, seed)
        page = kit.layout.pages[seed]
        (told,) = truth["pages"]
        assert truth["severity"] == severity
        assert told["page_id"] == page.page_id
        assert set(told["fields"]) == {field.id for field in page.fields}
        for field in page.fields:
            answer = told["fields"][field.id]
            assert answer["truth"] in {"", *(target.value for target in field.targets)}
            expected = [] if answer["style"] in MUST_REVIEW else [answer["truth"]]
            assert answer["acceptable"] == expected


def test_what_only_the_family_can_tell_must_be_reviewed(sheets: ModuleType, kit: Any) -> None:
    seen = set()
    for seed in range(30):
        _, answers = fill_in(sheets, kit, seed, words_share=0.0)
        for answer in answers.values():
            seen.add(answer.style)
            expected = () if answer.style in MUST_REVIEW else (answer.truth,)
            assert answer.acceptable == expected
    assert {"two_equal", "half_erased", "between"} <= seen
    assert not seen & BESIDE


def test_a_marked_word_leaves_its_outline_empty_and_is_never_blank(
    sheets: ModuleType, kit: Any
) -> None:
    paper, answers = fill_in(sheets, kit, 4, words_share=1.0)
    page = kit.layout.pages[4]
    beside = {name: each for name, each in answers.items() if each.style in BESIDE}
    assert len(beside) >= 6
    for field in page.fields:
        answer = beside.get(field.id)
        if answer is None:
            continue
        assert answer.acceptable == (answer.truth,) != ("",)
        if answer.style == "word_tick":  # the long arm of a tick may reach into the outline
            continue
        (target,) = (each for each in field.targets if each.value == answer.truth)
        x, y = (round(at * sheets.PX_PER_MM) for at in (target.cx, target.cy))
        inside = (slice(y - 20, y + 21), slice(x - 20, x + 21))
        assert np.array_equal(paper.pixels[inside], paper.printed[inside])


def test_an_outline_under_a_thumb_is_hidden(sheets: ModuleType) -> None:
    picture = np.full((80, 60, 3), 200, np.uint8)
    thumb = np.zeros((80, 60), np.uint8)
    thumb[:30] = 255
    hidden = sheets.Hidden(thumb, np.zeros((1, 1), np.float32))
    assert hidden.hides(picture, 20, 10)
    assert not hidden.hides(picture, 20, 50)


def test_white_paper_in_glare_is_hidden_and_grey_is_not(sheets: ModuleType) -> None:
    picture = np.full((80, 60, 3), 255, np.uint8)
    picture[40:] = 180
    hidden = sheets.Hidden(np.zeros((80, 60), np.uint8), np.full((10, 8), 120, np.float32))
    assert hidden.hides(picture, 20, 10)
    assert not hidden.hides(picture, 20, 60)
