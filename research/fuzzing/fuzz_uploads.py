"""Guided by coverage, hunt for bytes that break what opens uploads.

Run in an environment with sidelong and atheris (PyPI; wheels for Linux, Python 3.11 to 3.13). It
is in no lock: nothing of the product or its tests needs it. See README.md beside this file for what
was run and found.

    python research/fuzzing/fuzz_uploads.py images --seconds 300 --seed 1 --folder found

Targets, and what each may raise; anything else, a minute on one input or two gigabytes is a find:

- images: ``open_photographs`` and the pixels of every page, as by command; ``Refused``
- washing: ``wash``, as it runs in a process of its own; ``Refused``, or what the process turns into
  "damaged": every exception that a decoder throws, but no crash and no endless loop
- packed: ``unpack`` of a photograph with its pages; ``ValueError``. What it takes must come out of
  ``pack`` as it went in
- codes: ``read_payload`` of a QR code's text; ``ValueError``. What it takes must come out of
  ``write_payload`` as it went in
"""

import argparse
import contextlib
import io
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["PIL", "sidelong"]):
    import numpy as np
    import pillow_heif
    import pypdfium2
    from PIL import Image

    from sidelong.clinic.sheets.packing import pack, unpack
    from sidelong.paper.images import open_photographs
    from sidelong.paper.washing import wash
    from sidelong.problems import Refused
    from sidelong.training.entry import Scale
    from sidelong.training.position import Position
    from sidelong.training.sheet_code import SheetCode, read_payload, write_payload

_SIDE_PX = 640  # just above what is refused as too small
_LARGEST_BYTES = 60_000


def open_all(content: bytes) -> None:
    """Open every page and decode it in two sizes."""
    with contextlib.suppress(Refused):
        for photograph in open_photographs(content, name="upload"):
            if photograph.size[0] * photograph.size[1] > 2_000_000:
                continue  # slow, and no other way through the program
            photograph.level(2)
            photograph.level(1)


def wash_one(content: bytes) -> None:
    """Wash an upload; what a decoder throws ends the process there as damaged."""
    with contextlib.suppress(Exception):
        wash(content)


def unpack_one(content: bytes) -> None:
    """Part a packed photograph; what comes out must pack to the same bytes."""
    with contextlib.suppress(ValueError):
        photograph, pages = unpack(content)
        if pack(photograph, pages) != content:
            raise RuntimeError("it was taken apart otherwise than it was put together")


def read_one(content: bytes) -> None:
    """Read the text of a code; what is taken must be written the same."""
    text = content.decode("latin-1")
    try:
        code = read_payload(text)
    except ValueError:
        return
    if write_payload(code) != text:
        raise RuntimeError("it was read otherwise than it was written")


TARGETS: dict[str, Callable[[bytes], None]] = {
    "images": open_all,
    "washing": wash_one,
    "packed": unpack_one,
    "codes": read_one,
}


def seeds(target: str) -> Iterator[bytes]:
    """Give whole examples of every kind that a target takes."""
    if target == "packed":
        yield pack(b"photograph", [b"one", b""])
        yield pack(b"", [])
    elif target == "codes":
        for trainee, part in (("HL-0007", 0), ("a_b.c", 2)):
            code = SheetCode(trainee, 1, 2, 14, tuple(Position), "en-GB", Scale.FIVE, part)
            yield write_payload(code).encode()
    else:
        yield from pictures()


def pictures() -> Iterator[bytes]:
    """Give a small picture in every format that may be sent."""
    rng = np.random.default_rng(1)
    coarse = rng.integers(0, 255, (8, 8, 3), dtype=np.uint8)
    image = Image.fromarray(coarse).resize((_SIDE_PX, _SIDE_PX))
    exif = Image.Exif()
    exif[0x0112] = 6
    wishes: list[tuple[Image.Image, str, dict[str, object]]] = [
        (image, "JPEG", {"quality": 30, "exif": exif, "dpi": (300, 300)}),
        (image.convert("L"), "JPEG", {"quality": 20, "progressive": True}),
        (image.convert("CMYK"), "JPEG", {"quality": 20}),
        (image.convert("P"), "PNG", {"transparency": 3}),
        (image.convert("LA"), "PNG", {}),
        (Image.fromarray(np.full((_SIDE_PX, _SIDE_PX), 999, np.uint16)), "PNG", {}),
        (image.convert("1"), "TIFF", {"compression": "group4"}),
        (image.convert("L"), "TIFF", {"compression": "tiff_lzw", "dpi": (200, 200)}),
    ]
    for picture, kind, options in wishes:
        out = io.BytesIO()
        picture.save(out, kind, **options)
        yield out.getvalue()
    out = io.BytesIO()
    pillow_heif.from_pillow(image).save(out, quality=20)
    yield out.getvalue()
    document, out = pypdfium2.PdfDocument.new(), io.BytesIO()
    document.new_page(300, 400)
    document.save(out)
    yield out.getvalue()


def main() -> None:
    """Fuzz one target for some seconds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("--seconds", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "found")
    chosen = parser.parse_args()
    corpus = chosen.folder / chosen.target
    corpus.mkdir(parents=True, exist_ok=True)
    for number, content in enumerate(seeds(chosen.target)):
        (corpus / f"seed-{number}").write_bytes(content)
    pillow_heif.register_heif_opener(thumbnails=False)
    options = [
        f"-max_total_time={chosen.seconds}",
        f"-seed={chosen.seed}",
        f"-max_len={_LARGEST_BYTES}",
        "-timeout=60",
        "-rss_limit_mb=2048",
        f"-artifact_prefix={chosen.folder}/find-{chosen.target}-",
        "-print_final_stats=1",
    ]
    atheris.Setup([sys.argv[0], *options, str(corpus)], TARGETS[chosen.target])
    atheris.Fuzz()


if __name__ == "__main__":
    main()
