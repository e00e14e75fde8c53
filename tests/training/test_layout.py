import pytest

from sidelong.training.layout import Box, Field, FieldType, Layout, SheetPage, Target, TargetKind


def target(value: str = "1", **changes: object) -> Target:
    plain = {"id": f"p1.rating.{value}", "kind": TargetKind.CIRCLE, "cx": 60.0, "cy": 80.0}
    return Target(**plain | {"value": value, "w": 7.0, "h": 7.0} | changes)


def page(*fields: Field, **changes: object) -> SheetPage:
    plain = {"page_id": "K7-01", "pdf_page": 0, "width_mm": 210.0, "height_mm": 297.0}
    return SheetPage(**plain | {"fields": fields} | changes)


RATING = Field("p1.rating", FieldType.ONE_OF, (target("1"), target("2", cx=70.0)))


def test_box_of_a_target_surrounds_its_centre() -> None:
    assert target(w=8.0, h=6.0).box == Box(56.0, 77.0, 8.0, 6.0)


def test_area_at_the_very_edge_is_on_the_page() -> None:
    assert Box(0.0, 0.0, 210.0, 297.0).lies_within(210.0, 297.0)
    assert not Box(0.0, 0.0, 210.1, 297.0).lies_within(210.0, 297.0)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: target(w=0.0), "no area"),
        (lambda: target(cx=float("nan")), "not a number"),
        (lambda: target(value=""), "needs an id and a value"),
        (lambda: Box(0.0, 0.0, 1.0, -1.0), "no area"),
        (lambda: Field("f", FieldType.ONE_OF, ()), "at least one target"),
        (lambda: Field("f", FieldType.ONE_OF, (target(), target())), "value 1 twice"),
        (lambda: Field("f", FieldType.TICK, (target("2"),)), "one target with the value 1"),
        (lambda: page(RATING, RATING), "field p1.rating twice"),
        (lambda: page(RATING, width_mm=70.0), "not on the page"),
        (lambda: page(RATING, note_boxes=(Box(200.0, 0.0, 20.0, 5.0),)), "not on the page"),
        (lambda: page(RATING, pdf_page=-1), "place in the PDF from 0"),
        (lambda: page(RATING, night=0), "count from 1"),
        (lambda: Layout("pages.pdf", ()), "at least one page"),
        (lambda: Layout("a/pages.pdf", (page(RATING),)), "without a folder"),
        (lambda: Layout("p.pdf", (page(RATING), page(RATING, pdf_page=1))), "page K7-01 twice"),
        (lambda: Layout("p.pdf", (page(RATING), page(RATING, page_id="x"))), "PDF page 0 twice"),
    ],
)
def test_layout_that_cannot_be_read_by_is_refused(make, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()
