"""The commands that print, read and confirm, on a kit of two trainees."""

import csv
import json
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
from PIL import Image

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.layouts import read_layout
from sidelong.exchange.readings import read_readings
from sidelong.training.reading import PageStatus


@pytest.fixture(scope="module")
def kit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("kit")
    plans = place / "plans.csv"
    plan = ["plan", "--trainees", "2", "--nights", "7", "--seed", "5", "--piece-mm", "5"]
    assert run([*plan, "--out", str(plans)]) == DONE
    kit = ["--out", str(place / "booklets"), "--kit", str(place / "kit")]
    assert run(["booklet", str(plans), *kit]) == DONE
    return place / "kit"


def scan(kit: Path, page: int, dpi: int = 150) -> Image.Image:
    document = pdfium.PdfDocument(kit / "pages.pdf")
    return document[page].render(scale=dpi / 72).to_pil().convert("RGB")


def read(kit: Path, photographs: Path, out: Path, *more: str) -> int:
    layout = str(kit / "layout.json")
    return run(["read", str(photographs), "--layout", layout, "--out", str(out), *more])


def test_a_folder_is_read_whole_though_some_of_it_is_no_sheet(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    scan(kit, 0).save(folder / "a.jpg", dpi=(150, 150))
    scan(kit, 3).save(folder / "b.pdf", resolution=150)
    Image.fromarray(np.full((600, 800, 3), 90, np.uint8)).save(folder / "c.png")
    (folder / "d.jpg").write_bytes(b"no picture")
    assert read(kit, folder, tmp_path / "r.csv") == DONE
    said = capsys.readouterr().err
    assert "c.png: no sheet of this layout was found" in said
    assert "d.jpg: it is damaged" in said
    a, b, c, d = read_readings(tmp_path / "r.csv")
    assert [page.status for page in (*a.pages, *b.pages)] == [PageStatus.OK] * 2
    assert (c.pages, d.pages) == ((), ())
    assert a.pages[0].is_true_size
    with (tmp_path / "r.crops" / "crops.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["image"] for row in rows} == {"a.jpg", "b.pdf"}
    assert all((tmp_path / "r.crops" / row["file"]).is_file() for row in rows)


def test_a_page_of_a_document_that_cannot_be_opened_stays_alone_with_it(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pages = [scan(kit, 0), Image.new("RGB", (90, 90)), scan(kit, 1)]
    pages[0].save(tmp_path / "a.tif", save_all=True, append_images=pages[1:])
    assert read(kit, tmp_path / "a.tif", tmp_path / "r.csv", "--no-crops") == DONE
    assert "a.tif#2: it has only 90 x 90 pixels" in capsys.readouterr().err
    read_ones = read_readings(tmp_path / "r.csv")
    assert [(each.image, len(each.pages)) for each in read_ones] == [
        ("a.tif", 1),
        ("a.tif#2", 0),
        ("a.tif#3", 1),
    ]


def test_what_is_shown_instead_of_a_sheet_is_named_where_its_code_says_it(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    booklet = pdfium.PdfDocument(kit.parent / "booklets" / "T-0001.pdf")
    booklet[9].render(scale=150 / 72).to_pil().convert("RGB").save(folder / "a.jpg")
    booklet[10].render(scale=150 / 72).to_pil().convert("RGB").save(folder / "b.jpg")
    layout = json.loads((kit / "layout.json").read_text(encoding="utf-8"))
    layout["pages"] = [page for page in layout["pages"] if page["trainee"] == "T-0002"]
    (tmp_path / "layout.json").write_text(json.dumps(layout), encoding="utf-8")
    assert read(tmp_path, folder, tmp_path / "r.csv", "--no-crops") == DONE
    said = capsys.readouterr().err
    assert "a.jpg: it shows the filled example, which is no night. Leave it out." in said
    assert "b.jpg: it shows page T-0001-01, which could not be read with this layout." in said
    assert run(["read", str(folder), "--out", str(tmp_path / "r.csv"), "--no-crops"]) == DONE
    assert "a.jpg: it shows the filled example" in capsys.readouterr().err


def test_two_copies_of_a_spare_sheet_in_one_picture_are_read_and_named(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spare = scan(kit, len(read_layout(kit / "layout.json").pages) - 1)
    both = Image.new("RGB", (2 * spare.width, spare.height), "white")
    both.paste(spare, (0, 0))
    both.paste(spare, (spare.width, 0))
    both.save(tmp_path / "a.png")
    assert read(kit, tmp_path / "a.png", tmp_path / "r.csv") == DONE
    first, second = read_readings(tmp_path / "r.csv")
    assert (first.image, second.image) == ("a.png", "a.png~2")
    assert [page.page_id for page in first.pages] == [page.page_id for page in second.pages]
    assert set(first.pages[0].fields) == set(second.pages[0].fields)
    said = capsys.readouterr()
    assert "T-0002-SPARE lies there more than once; this print is read as a.png~2" in said.err
    assert "1 image, 2 sheets found" in said.out
    with (tmp_path / "r.crops" / "crops.csv").open(encoding="utf-8", newline="") as file:
        assert {row["image"] for row in csv.DictReader(file)} == {"a.png", "a.png~2"}


def test_the_same_images_give_the_same_readings(kit: Path, tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    scan(kit, 1).save(folder / "a.jpg")
    readings = []
    for name in ("1.csv", "2.csv"):
        assert read(kit, folder, tmp_path / name, "--no-crops") == DONE
        readings.append([image.pages for image in read_readings(tmp_path / name)])
    assert readings[0] == readings[1]
    assert not (tmp_path / "1.crops").exists()


def test_a_print_at_94_percent_is_told(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = scan(kit, 0)
    small = whole.resize(
        tuple(round(side * 0.941) for side in whole.size), Image.Resampling.LANCZOS
    )
    glass = Image.new("RGB", whole.size, "white")
    glass.paste(small, (30, 40))
    glass.save(tmp_path / "a.png", dpi=(150, 150))
    assert read(kit, tmp_path / "a.png", tmp_path / "r.csv") == DONE
    [image] = read_readings(tmp_path / "r.csv")
    scale = image.pages[0].print_scale
    assert scale == pytest.approx(0.941, abs=0.001)
    assert f"printed at {scale:.1%} of".replace("%", " %") in capsys.readouterr().err


def test_an_empty_folder_is_refused_with_what_to_put_there(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "in").mkdir()
    assert read(kit, tmp_path / "in", tmp_path / "r.csv") == REFUSED
    assert "jpg" in capsys.readouterr().err


def test_a_folder_that_is_no_folder_of_crops_is_left_alone(kit: Path, tmp_path: Path) -> None:
    scan(kit, 0).save(tmp_path / "a.png")
    (tmp_path / "r.crops").mkdir()
    (tmp_path / "r.crops" / "letter.txt").write_text("mine")
    assert read(kit, tmp_path / "a.png", tmp_path / "r.csv") == REFUSED
    assert (tmp_path / "r.crops" / "letter.txt").read_text() == "mine"


def test_a_folder_without_sheets_sends_nobody_to_crops(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    Image.fromarray(np.full((600, 800, 3), 90, np.uint8)).save(folder / "a.png")
    assert read(kit, folder, tmp_path / "r.csv") == DONE
    said = capsys.readouterr().out
    assert "0 sheets found" in said
    assert "Next" not in said


def test_sheets_are_read_without_their_kit_and_their_pages_kept_for_confirming(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    scan(kit, 0, dpi=200).save(folder / "a.jpg", dpi=(200, 200))
    Image.fromarray(np.full((600, 800, 3), 90, np.uint8)).save(folder / "b.png")
    assert run(["read", str(folder), "--out", str(tmp_path / "r.csv"), "--no-crops"]) == DONE
    said = capsys.readouterr().err
    assert "b.png: no sheet's QR code could be read. Give the --layout of its kit" in said
    assert "a.jpg" not in said
    a, b = read_readings(tmp_path / "r.csv")
    printed = read_layout(kit / "layout.json").pages[0]
    assert [(page.page_id, page.status) for page in a.pages] == [(printed.page_id, PageStatus.OK)]
    assert set(a.pages[0].fields) == {field.id for field in printed.fields}
    assert a.pages[0].is_true_size is not False
    assert b.pages == ()
    [rebuilt] = read_layout(tmp_path / "r.layout.json").pages
    assert (rebuilt.page_id, rebuilt.scale) == (printed.page_id, printed.scale)


def test_the_layout_of_what_was_found_is_not_written_over_the_kits(
    kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    layout = tmp_path / "r.layout.json"
    layout.write_bytes((kit / "layout.json").read_bytes())
    scan(kit, 0).save(tmp_path / "a.jpg")
    words = ["--layout", str(layout), "--out", str(tmp_path / "r.csv"), "--no-crops"]
    assert run(["read", str(tmp_path / "a.jpg"), *words]) == REFUSED
    assert "the layout beside it" in capsys.readouterr().err
    assert layout.read_bytes() == (kit / "layout.json").read_bytes()
