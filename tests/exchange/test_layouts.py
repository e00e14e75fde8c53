import json
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.layouts import read_layout, write_layout
from sidelong.problems import Refused
from sidelong.training.entry import Scale
from sidelong.training.layout import (
    Box,
    Field,
    FieldType,
    Layout,
    Marker,
    SheetPage,
    Target,
    TargetKind,
)
from sidelong.training.position import Position

in_one_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)

# The example of contract 1: a page with one question of two answers, one tick and a note box.
CONTRACT = {
    "contract": 1,
    "pdf": "pages.pdf",
    "pages": [
        {
            "page_id": "K7Q2M-04",
            "pdf_page": 3,
            "width_mm": 210,
            "height_mm": 297,
            "fields": [
                {
                    "id": "p1.rating",
                    "type": "one_of",
                    "targets": [
                        {"id": f"p1.rating.{value}", "value": value, "kind": "circle"}
                        | {"cx": x, "cy": 80.0, "w": 7.0, "h": 7.0}
                        for value, x in (("1", 60.0), ("2", 75.5))
                    ],
                },
                {
                    "id": "skipped",
                    "type": "tick",
                    "targets": [
                        {"id": "skipped.1", "value": "1", "kind": "box"}
                        | {"cx": 30, "cy": 200, "w": 5, "h": 5}
                    ],
                },
            ],
            "note_boxes": [{"x": 20, "y": 250, "w": 170, "h": 25}],
            "fiducials": "another key is allowed",
        }
    ],
}
thousandths = st.integers(10_000, 100_000).map(lambda number: number / 1000)


@st.composite
def some_layouts(draw: st.DrawFn) -> Layout:
    def make_field(slot: int, values: list[str]) -> Field:
        name = f"p{slot}.rating"
        size = {"w": draw(thousandths) / 10, "h": 7.125}
        targets = tuple(
            Target(f"{name}.{each}", each, TargetKind.CIRCLE, draw(thousandths), 80.0, **size)
            for each in values
        )
        return Field(name, FieldType.ONE_OF, targets)

    values = draw(st.lists(st.sampled_from("12345"), min_size=1, unique=True))
    pages = tuple(
        SheetPage(
            page_id=f"K7Q2M-{number:02d}",
            pdf_page=number,
            width_mm=215.9,
            height_mm=279.4,
            fields=(make_field(1, values), make_field(2, values)),
            free_boxes=(Box(draw(thousandths), 10.0, 50.0, 8.5),),
            trainee=draw(st.sampled_from(["", "HL-0007"])),
            night=draw(st.none() | st.integers(1, 14)),
        )
        for number in range(draw(st.integers(1, 3)))
    )
    return Layout("pages.pdf", pages)


@in_one_folder
@given(some_layouts())
def test_layout_comes_back_to_a_thousandth_of_a_millimetre(tmp_path: Path, layout: Layout) -> None:
    path = tmp_path / "layout.json"
    write_layout(path, layout)
    back = read_layout(path)
    write_layout(tmp_path / "again.json", back)
    assert path.read_bytes() == (tmp_path / "again.json").read_bytes()
    for page, same in zip(layout.pages, back.pages, strict=True):
        assert (page.page_id, page.night, page.trainee) == (same.page_id, same.night, same.trainee)
        for field, other in zip(page.fields, same.fields, strict=True):
            for one, two in zip(field.targets, other.targets, strict=True):
                assert (one.id, one.value, one.kind) == (two.id, two.value, two.kind)
                assert abs(one.cx - two.cx) < 0.000501
                assert abs(one.w - two.w) < 0.000501


def save(folder: Path, document: object) -> Path:
    path = folder / "layout.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_example_of_the_contract_is_read(tmp_path: Path) -> None:
    layout = read_layout(save(tmp_path, CONTRACT))
    [page] = layout.pages
    assert (layout.pdf, page.page_id, page.pdf_page) == ("pages.pdf", "K7Q2M-04", 3)
    assert [field.type for field in page.fields] == [FieldType.ONE_OF, FieldType.TICK]
    assert page.fields[0].targets[1].cx == 75.5
    assert page.note_boxes == (Box(20.0, 250.0, 170.0, 25.0),)
    assert page.free_boxes == ()


def test_written_layout_has_the_keys_of_the_contract(tmp_path: Path) -> None:
    layout = read_layout(save(tmp_path, CONTRACT))
    write_layout(tmp_path / "layout.json", layout)
    written = json.loads((tmp_path / "layout.json").read_text(encoding="utf-8"))
    wanted = json.loads(json.dumps(CONTRACT))
    del wanted["pages"][0]["fiducials"]
    wanted["pages"][0]["free_boxes"] = []
    assert written == wanted


def changed(path: list, value: object) -> dict:
    document = json.loads(json.dumps(CONTRACT))
    inner = document
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    return document


RATING = ["pages", 0, "fields", 0]


@pytest.mark.parametrize(
    ("document", "says"),
    [
        ([], "it is not a layout of contract 1"),
        (changed(["contract"], 2), "it is not a layout of contract 1"),
        (changed(["pages"], 3), "layout.json.pages: it is not a list"),
        (changed(["pages", 0], "x"), r"pages\[0\]: it is not an object"),
        (changed(["pages", 0, "pdf_page"], True), "pdf_page: it is not a whole number"),
        (changed(["pages", 0, "width_mm"], "210"), "width_mm: it is not a length"),
        (changed(["pages", 0, "width_mm"], 10**400), "width_mm: it is not a length"),
        (changed(["pages", 0, "width_mm"], 50), "not on the page"),
        (changed([*RATING, "type"], "many"), r"fields\[0\]: 'many' is not a valid FieldType"),
        (changed([*RATING, "targets", 1, "value"], "1"), "value 1 twice"),
        (changed([*RATING, "targets", 0], {}), r"targets\[0\].id: the key is missing"),
        (changed(["pages", 0, "note_boxes"], [{"x": 1}]), r"note_boxes\[0\].y: the key is missing"),
    ],
)
def test_layout_with_a_fault_is_refused_with_its_place(
    tmp_path: Path, document: object, says: str
) -> None:
    with pytest.raises(Refused, match=says):
        read_layout(save(tmp_path, document))


def test_faults_of_all_pages_come_at_once(tmp_path: Path) -> None:
    document = changed(["pages", 0, "width_mm"], "x")
    document["pages"].append(changed(["pages", 0, "page_id"], 7)["pages"][0])
    with pytest.raises(Refused) as caught:
        read_layout(save(tmp_path, document))
    assert [problem.where for problem in caught.value.problems] == [
        "layout.json, pages[0].width_mm",
        "layout.json, pages[1].page_id",
    ]


@in_one_folder
@given(st.binary(max_size=80))
def test_whatever_the_file_only_a_refusal_escapes(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "layout.json"
    path.write_bytes(content)
    with suppress(Refused):
        assert read_layout(path)


FOR_A_CAMERA = {
    "markers": [{"id": 62, "x": 12.7, "y": 21.5, "w": 14.0, "h": 14.0}],
    "codes": [{"x": 163.8, "y": 21.5, "w": 16.0, "h": 16.0}],
    "check_line": {"x1": 49.3, "y1": 273.4, "x2": 99.3, "y2": 273.4},
    "order": ["left", "down"],
    "scale": 4,
    "language": "en",
    "part": 2,
}


def test_what_helps_a_camera_comes_back_as_it_was_written(tmp_path: Path) -> None:
    document = json.loads(json.dumps(CONTRACT))
    document["pages"][0] |= FOR_A_CAMERA
    layout = read_layout(save(tmp_path, document))
    [page] = layout.pages
    assert page.markers == (Marker(62, Box(12.7, 21.5, 14.0, 14.0)),)
    assert page.check_line is not None
    assert page.check_line.length_mm == pytest.approx(50.0)
    assert (page.order, page.scale) == ((Position.LEFT, Position.DOWN), Scale.FOUR)
    write_layout(tmp_path / "layout.json", layout)
    written = json.loads((tmp_path / "layout.json").read_text(encoding="utf-8"))
    assert {name: written["pages"][0][name] for name in FOR_A_CAMERA} == FOR_A_CAMERA


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("markers", [{"id": 62}], r"markers\[0\].x: the key is missing"),
        ("markers", FOR_A_CAMERA["markers"] * 2, "marker 62 twice"),
        ("codes", [{"x": 205.0, "y": 20.0, "w": 16.0, "h": 16.0}], "not on the page"),
        ("check_line", {"x1": 1, "y1": 1, "x2": 1, "y2": 1}, "needs a length"),
        ("order", ["left", "left"], "has position left twice"),
        ("order", ["sideways"], "'sideways' is not a valid Position"),
        ("part", 3, "part 3 is not 0, 1 or 2"),
        ("scale", 6, "6 is not a valid Scale"),
    ],
)
def test_a_fault_in_what_helps_a_camera_is_refused_with_its_place(
    tmp_path: Path, name: str, value: object, says: str
) -> None:
    with pytest.raises(Refused, match=says):
        read_layout(save(tmp_path, changed(["pages", 0, name], value)))
