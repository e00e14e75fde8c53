"""Wash a photograph from outside: pixels and nothing else, upright, in a form that we wrote.

Run as a program of its own (``python -m sidelong.paper.washing``), with bytes in and a JPEG out,
so that a file made to exhaust memory or time takes only this process with it. The header is read
before any pixel; what is too large is refused unread. Nothing of the metadata goes on, be it
place, owner, comment or preview, but the resolution of a scan, which tells how large it was
printed.

Limits: ten million bytes; 50 million pixels for JPEG, which is decoded at half size, 16 million
for what can only be decoded whole. They keep the process under 200 MB and two seconds.
"""

import io
import sys
import warnings

from PIL import Image

from sidelong.problems import Problem, Refused

MAX_BYTES = 10_000_000
MAX_PIXELS = {"JPEG": 50_000_000, "MPO": 50_000_000, "PNG": 16_000_000, "HEIF": 16_000_000}
MIN_SIDE_PX = 600
LONG_SIDE_PX = 4096
ADDRESS_BYTES = 900_000_000  # of address space, most of it libraries; pixels are held down above
PROCESSOR_SECONDS = 4
QUALITY = 90

_ORIENTATION = 0x0112
_TURNS = {  # Exif 2.32, tag 274: how a picture that was kept so has to be turned to stand upright
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

REFUSED, DAMAGED = 3, 4
"""Exit status: refused for what it says it is; damaged, or more than the limits allow."""


def wash(content: bytes) -> bytes:
    """Decode a photograph and write it anew.

    Parameters
    ----------
    content : bytes
        JPEG, PNG or HEIC.

    Returns
    -------
    bytes
        JPEG, upright, longer side at most 4096 px, without metadata.

    Raises
    ------
    Refused
        If it is another kind of file, too large, or too small to be read.
    """
    _check(len(content) <= MAX_BYTES, f"it has over {MAX_BYTES // 10**6} MB")
    if b"ftyp" in content[4:12]:  # only then is the reader of HEIC worth its start
        import pillow_heif

        pillow_heif.register_heif_opener(thumbnails=False)
    image = _opened(content)
    width, height = image.size
    most = MAX_PIXELS[image.format or "PNG"]
    _check(width * height <= most, f"it has over {most // 10**6} million pixels")
    _check(min(width, height) >= MIN_SIDE_PX, f"its shorter side has under {MIN_SIDE_PX} pixels")
    dpi, turn = image.info.get("dpi"), image.getexif().get(_ORIENTATION, 1)
    if image.format in {"JPEG", "MPO"}:
        # The decoder halves as it goes: a large photograph never stands whole in memory.
        half = LONG_SIDE_PX // 2 + 1
        image.draft("RGB", (half, half))
    image.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX), Image.Resampling.BOX)
    kept = {"dpi": dpi} if _is_scan(dpi) and image.size == (width, height) else {}
    image = image if image.mode == "RGB" else image.convert("RGB")
    if turn in _TURNS:
        image = image.transpose(_TURNS[turn])
    image.info = {}  # comment and colour profile would be written again
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, **kept)
    return out.getvalue()


def _opened(content: bytes) -> Image.Image:
    Image.MAX_IMAGE_PIXELS = None  # our limits are lower than the library's, and come with words
    Image.preinit()
    try:
        return Image.open(io.BytesIO(content), formats=tuple({*MAX_PIXELS} & {*Image.OPEN}))
    except (OSError, ValueError, SyntaxError) as error:
        raise Refused([_fault("it is no photograph that can be opened")]) from error


def _is_scan(dpi: object) -> bool:
    return isinstance(dpi, tuple) and len(dpi) == 2 and dpi[0] == dpi[1] and 100 <= dpi[0] <= 1300


def _check(holds: bool, what: str) -> None:
    if not holds:
        raise Refused([_fault(what)])


def _fault(what: str) -> Problem:
    remedy = "Send a photograph as the phone takes it, or a scan at 150 to 300 dpi."
    return Problem("photograph", what, remedy, "photograph")


def _limit_this_process() -> None:
    """Bound memory and processor time, where the system offers that."""
    if sys.platform == "win32":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_BYTES, ADDRESS_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (PROCESSOR_SECONDS, PROCESSOR_SECONDS))


def main() -> int:
    """Wash what comes in; messages go to the caller by exit status and one line."""
    _limit_this_process()
    warnings.simplefilter("ignore")  # they would stand before what is said to whoever sent it
    try:
        washed = wash(sys.stdin.buffer.read(MAX_BYTES + 1))
    except Refused as refused:
        sys.stderr.write(refused.problems[0].what)
        return REFUSED
    except (Exception, MemoryError):  # whatever a decoder throws, the file is damaged to us
        return DAMAGED
    sys.stdout.buffer.write(washed)
    return 0


if __name__ == "__main__":
    sys.exit(main())
