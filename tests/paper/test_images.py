import contextlib
import io
import struct
import zlib
from collections.abc import Callable

import numpy as np
import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from sidelong.paper import images
from sidelong.paper.images import open_photographs
from sidelong.problems import Refused


def picture(width: int = 640, height: int = 480) -> Image.Image:
    """A picture whose four corners all differ."""
    y, x = np.mgrid[0:height, 0:width]
    pixels = np.stack([x * 255 // width, y * 255 // height, (x + y) % 256], axis=2)
    return Image.fromarray(pixels.astype(np.uint8))


def stored(image: Image.Image, kind: str, **more: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **more)
    return stream.getvalue()


def pdf_of(*pictures: Image.Image) -> bytes:
    stream = io.BytesIO()
    pictures[0].save(stream, "PDF", save_all=True, append_images=pictures[1:], resolution=72)
    return stream.getvalue()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_exif_orientation_is_turned_upright_as_pillow_does(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    content = stored(picture(), "PNG", exif=exif.tobytes())
    [photograph] = open_photographs(content, name="a.png")
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content)))
    assert photograph.size == upright.size
    assert np.array_equal(photograph.level(1), np.asarray(upright))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "HEIF"])
def test_every_kind_of_file_is_opened_as_it_was_stored(kind: str) -> None:
    [photograph] = open_photographs(stored(picture(), kind), name="a")
    difference = photograph.level(1).astype(int) - np.asarray(picture()).astype(int)
    assert np.abs(difference).mean() < 4
    assert photograph.level(2).shape == (240, 320, 3)


def test_a_tiff_and_a_pdf_of_two_pages_give_two() -> None:
    two = [picture(), ImageOps.flip(picture())]
    tiff = stored(two[0], "TIFF", save_all=True, append_images=two[1:])
    for content in (tiff, pdf_of(*two)):
        first, second = open_photographs(content, name="scan")
        assert (first.name, second.name) == ("scan", "scan#2")
        assert first.level(1)[10, 10, 1] < 40 < 200 < second.level(1)[10, 10, 1]


def test_a_pdf_tells_the_resolution_at_which_it_was_rendered() -> None:
    [photograph] = open_photographs(pdf_of(picture(595, 842)), name="scan.pdf")
    width, height = (side / photograph.dpi * 25.4 for side in photograph.size)
    assert (width, height) == pytest.approx((210, 297), abs=0.3)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Image.new("1", (300, 300), 1),
        lambda: Image.new("P", (300, 300), 0),
        lambda: Image.new("RGBA", (300, 300), (0, 0, 0, 0)),
        lambda: Image.new("I;16", (300, 300), 65535),
        lambda: Image.new("CMYK", (300, 300), (0, 0, 0, 0)),
    ],
)
def test_other_kinds_of_pixels_become_red_green_and_blue(make: Callable[[], Image.Image]) -> None:
    [photograph] = open_photographs(stored(make(), "TIFF"), name="a.tif")
    pixels = photograph.level(1)
    assert pixels.shape == (300, 300, 3)
    assert pixels.dtype == np.uint8


def open_all(content: bytes) -> list[np.ndarray]:
    return [photograph.level(1) for photograph in open_photographs(content, name="a.jpg")]


def refused(content: bytes) -> str:
    with pytest.raises(Refused) as caught:
        open_all(content)
    [problem] = caught.value.problems
    assert problem.kind == "photograph"
    assert problem.remedy
    return problem.what


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header claims any size (ISO/IEC 15948, chunk layout)."""

    def chunk(name: bytes, body: bytes) -> bytes:
        check = zlib.crc32(name + body)
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + body + chunk(b"IEND", b"")


def test_a_bomb_is_refused_by_its_header() -> None:
    assert "million" in refused(png_that_claims(60_000, 60_000))
    assert "million" in refused(png_that_claims(8000, 7000))


def test_too_many_bytes_and_too_few_pixels_are_refused() -> None:
    assert "MB" in refused(stored(picture(), "JPEG") + b"\0" * images.MAX_BYTES)
    assert "only" in refused(stored(picture(100, 100), "JPEG"))


def test_a_scanners_batch_in_one_tiff_may_be_larger_than_a_photograph(monkeypatch) -> None:
    monkeypatch.setattr(images, "MAX_BYTES", 200_000)
    pages = [picture(), picture()]
    batch = stored(pages[0], "TIFF", save_all=True, append_images=pages[1:])
    assert len(batch) > images.MAX_BYTES
    assert len(open_all(batch)) == 2
    monkeypatch.setattr(images, "MAX_PAGES", 1)
    assert "2 pages" in refused(batch)


@pytest.mark.parametrize("kind", ["TIFF", "PDF"])
def test_a_page_that_cannot_be_opened_keeps_nobody_from_the_others(kind: str) -> None:
    if kind == "TIFF":
        pages = [picture(), picture(100, 100), picture()]
        content = stored(pages[0], "TIFF", save_all=True, append_images=pages[1:])
    else:
        content = pdf_of(picture(), picture(20_000, 30), picture())
    first, second, third = open_photographs(content, name="a")
    assert [each.name for each in (first, second, third)] == ["a", "a#2", "a#3"]
    assert first.level(1).shape == third.level(1).shape
    with pytest.raises(Refused, match="a#2"):
        second.level(2)


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7\n", b"hello", b"\xff\xd8\xff", b"PK\x03\x04"])
def test_what_is_no_picture_is_refused(content: bytes) -> None:
    assert "damaged" in refused(content)


def test_a_photograph_that_was_cut_is_refused() -> None:
    content = stored(picture(), "JPEG")
    assert "damaged" in refused(content[: len(content) // 2])


GOOD = {kind: stored(picture(220, 210), kind) for kind in ("JPEG", "PNG", "TIFF", "HEIF")}
GOOD["PDF"] = pdf_of(picture(220, 210))


@settings(deadline=None, max_examples=150)
@given(
    kind=st.sampled_from(sorted(GOOD)),
    changes=st.lists(st.tuples(st.integers(0, 400), st.integers(0, 255)), max_size=6),
    cut=st.none() | st.integers(1, 2000),
)
def test_spoilt_headers_are_refused_or_read_and_never_raise(
    kind: str, changes: list[tuple[int, int]], cut: int | None
) -> None:
    content = bytearray(GOOD[kind][: cut or None])
    for place, value in changes:
        if place < len(content):
            content[place] = value
    with contextlib.suppress(Refused):
        assert all(pixels.dtype == np.uint8 for pixels in open_all(bytes(content)))


def test_levels_are_means_of_whole_blocks() -> None:
    [photograph] = open_photographs(stored(picture(), "PNG"), name="a.png")
    whole = photograph.level(1).astype(float)
    blocks = whole.reshape(120, 4, 160, 4, 3).mean(axis=(1, 3))
    assert np.abs(photograph.level(4) - blocks).max() <= 1.0


def test_a_pdf_is_what_pdfium_renders() -> None:
    content = pdf_of(picture())
    [photograph] = open_photographs(content, name="a.pdf")
    page = pdfium.PdfDocument(content)[0].render(scale=photograph.dpi / 72).to_pil()
    assert np.array_equal(photograph.level(1), np.asarray(page.convert("RGB")))
