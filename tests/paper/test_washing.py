import io
import struct
import subprocess
import sys
import zlib

import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps, PngImagePlugin

from sidelong.paper import washing
from sidelong.paper.washing import DAMAGED, LONG_SIDE_PX, MAX_PIXELS, REFUSED, wash
from sidelong.problems import Refused

pillow_heif.register_heif_opener()
PLANTED = b"Planted Owner"


def scene(width: int = 800, height: int = 1000) -> Image.Image:
    """Draw corners of different colours, so that every turn shows."""
    small = Image.new("RGB", (2, 2))
    small.putdata([(250, 250, 250), (200, 20, 20), (20, 160, 20), (20, 20, 200)])
    return small.resize((width, height), Image.Resampling.NEAREST)


def encoded(image: Image.Image, kind: str, **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def planted_exif(turn: int = 1) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = turn
    exif[0x010F] = exif[0x013B] = PLANTED.decode()
    exif[0x8825] = {1: "N", 2: (1.0, 2.0, 3.0)}
    return exif


def opened(content: bytes) -> Image.Image:
    return Image.open(io.BytesIO(content))


@pytest.mark.parametrize("turn", range(1, 9))
def test_every_way_of_holding_the_phone_comes_out_upright(turn):
    content = encoded(scene(), "JPEG", exif=planted_exif(turn), quality=95)
    # Pillow's own reading of the Exif orientation tag is the reference.
    expected = np.asarray(ImageOps.exif_transpose(opened(content)).convert("RGB")).astype(int)
    found = np.asarray(opened(wash(content))).astype(int)
    assert found.shape == expected.shape
    assert np.abs(found - expected).mean() < 3


def png_with_words() -> bytes:
    words = PngImagePlugin.PngInfo()
    words.add_text("Author", PLANTED.decode())
    words.add_itxt("XML:com.adobe.xmp", PLANTED.decode())
    return encoded(scene(), "PNG", pnginfo=words)


@pytest.mark.parametrize(
    "content",
    [
        encoded(scene(), "JPEG", exif=planted_exif(), comment=PLANTED, icc_profile=PLANTED * 9),
        encoded(scene(), "JPEG", xmp=PLANTED),
        png_with_words(),
    ],
    ids=["exif, comment and profile", "xmp", "png words"],
)
def test_nothing_that_the_phone_wrote_about_itself_goes_on(content):
    assert PLANTED in content
    washed = wash(content)
    assert PLANTED not in washed
    assert not opened(washed).getexif()
    assert set(opened(washed).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}


def test_a_preview_with_another_picture_does_not_go_on():
    content = encoded(scene(), "HEIF", exif=planted_exif().tobytes(), quality=80)
    assert PLANTED in content
    assert PLANTED not in wash(content)


def test_the_resolution_of_a_scan_is_kept_since_it_tells_the_print_scale():
    assert opened(wash(encoded(scene(), "PNG", dpi=(300, 300)))).info["dpi"] == pytest.approx(
        (300, 300), abs=1
    )
    assert "dpi" not in opened(wash(encoded(scene(), "JPEG", dpi=(72, 72)))).info


def test_a_large_photograph_is_brought_to_a_size_that_is_read_well():
    washed = opened(wash(encoded(Image.new("RGB", (8100, 6100)), "JPEG", quality=40)))
    assert max(washed.size) <= LONG_SIDE_PX
    assert min(washed.size) > 2000


def bomb(width: int, height: int) -> bytes:
    """A PNG whose header promises far more than its few bytes hold."""
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(bytes(width + 1) * min(height, 200), 9)
    chunks = [(b"IHDR", header), (b"IDAT", rows), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in chunks
    )


@pytest.mark.parametrize("size", [(60_000, 60_000), (16_001, 1_000), (2**31 - 1, 1)])
def test_a_header_that_promises_too_much_is_refused_before_any_pixel(size):
    with pytest.raises(Refused, match=r"million pixels|no photograph|under 600"):
        wash(bomb(*size))


@pytest.mark.parametrize(
    "content",
    [b"", b"hello" * 500, b"%PDF-1.7", encoded(scene(), "GIF"), encoded(scene(100, 100), "JPEG")],
    ids=["nothing", "words", "pdf", "another kind", "a preview"],
)
def test_what_is_no_photograph_of_a_sheet_is_refused_with_what_to_do(content):
    with pytest.raises(Refused) as refused:
        wash(content)
    assert "Send a photograph" in refused.value.problems[0].remedy


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_damaged_bytes_are_refused_and_never_bring_the_program_down(data):
    whole = data.draw(st.sampled_from(WHOLE))
    cut = data.draw(st.integers(1, len(whole)))
    damaged = bytearray(whole[:cut])
    for place in data.draw(st.lists(st.integers(0, cut - 1), max_size=6)):
        damaged[place] ^= data.draw(st.integers(1, 255))
    assert ran_apart_in_this_process(bytes(damaged)) in {0, REFUSED, DAMAGED}


WHOLE = [
    encoded(scene(640, 700), "JPEG", exif=planted_exif(6)),
    encoded(scene(640, 700), "PNG"),
    encoded(scene(640, 700), "HEIF"),
]


def ran_apart_in_this_process(content: bytes) -> int:
    try:
        wash(content)
    except Refused:
        return REFUSED
    except (Exception, MemoryError):  # as main() takes it
        return DAMAGED
    return 0


def apart(content: bytes) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "sidelong.paper.washing"]
    return subprocess.run(command, input=content, capture_output=True, timeout=60, check=False)


def test_as_a_program_it_washes_refuses_and_survives_damage():
    whole = encoded(scene(), "JPEG")
    done = apart(whole)
    assert done.returncode == 0
    assert opened(done.stdout).size == (800, 1000)
    assert apart(b"no picture").returncode == REFUSED
    assert apart(whole[: len(whole) // 3]).returncode == DAMAGED


def test_a_warning_of_the_decoder_is_not_said_to_whoever_sent_the_file():
    small = encoded(scene(300, 400), "JPEG")
    odd = b"\xff\xe2" + struct.pack(">H", 10) + b"MPF\0odd!"  # pictures in one, and damaged
    done = apart(small[:2] + odd + small[2:])
    assert done.returncode == REFUSED
    assert done.stderr.decode() == "its shorter side has under 600 pixels"


@pytest.mark.skipif(sys.platform == "win32", reason="memory is bounded by the system's limits")
def test_the_largest_that_is_let_in_stays_within_200_megabytes():
    side = int(MAX_PIXELS["PNG"] ** 0.5)
    noise = np.random.default_rng(1).integers(0, 255, (side // 8, side // 8, 3), dtype=np.uint8)
    image = Image.fromarray(noise).resize((side, side))
    measured = (
        "import resource,subprocess,sys;"
        "subprocess.run([sys.executable,'-m','sidelong.paper.washing'],stdin=sys.stdin,"
        "stdout=subprocess.DEVNULL,check=True);"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    content = encoded(image, "JPEG", quality=80)
    png = encoded(Image.new("RGB", (side, side), "white"), "PNG")
    for each in (content, png):
        assert len(each) <= washing.MAX_BYTES
        done = subprocess.run(
            [sys.executable, "-c", measured], input=each, capture_output=True, check=True
        )
        assert int(done.stdout) < 200_000  # kilobytes
