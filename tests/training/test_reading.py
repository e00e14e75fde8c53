import pytest

from sidelong.training.reading import (
    FieldReading,
    ImageReading,
    PageReading,
    PageStatus,
    ReadingStatus,
)

ACCEPTED = FieldReading("4", 0.999, accepted=True)


def test_an_unsure_page_cannot_carry_an_accepted_field() -> None:
    with pytest.raises(ValueError, match="unsure"):
        PageReading("HL-0007-04", PageStatus.UNSURE_ID, 0.6, {"p1.rating": ACCEPTED})


@pytest.mark.parametrize(("scale", "is_true"), [(1.0, True), (0.984, False), (None, None)])
def test_a_print_is_true_size_within_one_and_a_half_percent(
    scale: float | None, is_true: bool | None
) -> None:
    page = PageReading("HL-0007-04", PageStatus.OK, 1.0, {}, print_scale=scale)
    assert page.is_true_size is is_true


def test_an_image_lists_no_page_twice() -> None:
    page = PageReading("HL-0007-04", PageStatus.OK, 1.0)
    with pytest.raises(ValueError, match="twice"):
        ImageReading("IMG_1.jpg", (page, page))


@pytest.mark.parametrize("confidence", [-0.1, 1.1, float("nan")])
def test_a_confidence_is_a_chance(confidence: float) -> None:
    with pytest.raises(ValueError, match="chance"):
        FieldReading("4", confidence, accepted=False)


def test_a_field_says_its_status_in_the_words_of_the_table() -> None:
    assert ACCEPTED.status is ReadingStatus.ACCEPTED
    assert FieldReading("", 0.5, accepted=False).status is ReadingStatus.REVIEW
