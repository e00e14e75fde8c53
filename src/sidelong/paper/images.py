"""Photographs and scans as arrays: opened with care, turned upright, refused when too large.

JPEG, PNG, TIFF, HEIC and PDF. The header alone is read first; pixels are decoded when somebody asks
for them, a JPEG at half size where that is enough. Nothing of a file's metadata leaves this module
but its orientation and, for scans, its resolution.
"""

import io
import warnings
from collections.abc import Callable, Iterator
from functools import partial
from typing import TypeVar

import cv2
import numpy as np
import pillow_heif
import pypdfium2 as pdfium
from numpy.typing import NDArray
from PIL import Image, ImageOps

from sidelong.problems import Problem, Refused

Pixels = NDArray[np.uint8]
T = TypeVar("T")
Number = TypeVar("Number", bound=np.generic)

MAX_BYTES = 10_000_000
MAX_DOCUMENT_BYTES = 200_000_000
MAX_PIXELS = 50_000_000
MAX_PAGES = 400
MIN_SIDE_PX = 200
_USUAL_SIDE_PX = 1500  # longer side at which a page that fills the picture is read well
SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".pdf")

_FORMATS = ("JPEG", "PNG", "TIFF", "HEIF")
_PDF_DPI = 200.0
_PDF_PIXELS = 12_000_000  # a PDF of large pages is rendered coarser
_TIFF_BEGINS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_SMALLER = "Send it in the phone's usual size, or scan at 150 to 300 dpi."
_RETAKE = "Photograph or scan the sheet again, and send the new file."

Image.init()  # formats are looked up by name below, and Pillow loads some of them late
pillow_heif.register_heif_opener()


class Photograph:
    """One image that may show sheets.

    Parameters
    ----------
    name : str
        Name for tables and messages.
    size : tuple of int
        Width and height, px, upright.
    dpi : float or None
        Resolution that the file claims, the same in both directions; None where it claims none.
    load : callable
        Gives RGB pixels, reduced by a factor of 1, 2 or 4.
    """

    def __init__(
        self,
        name: str,
        *,
        size: tuple[int, int],
        dpi: float | None,
        load: Callable[[int], Pixels],
    ) -> None:
        self.name = name
        self.size = size
        self.dpi = dpi
        self._load = load
        self._levels: dict[int, Pixels] = {}

    def level(self, reduced_by: int) -> Pixels:
        """Give the pixels, reduced by averaging.

        Parameters
        ----------
        reduced_by : int
            1, 2, 4 or 8. Pixel centre ``i`` lies at ``(i + 0.5) * reduced_by - 0.5`` of the whole.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            RGB.
        """
        if reduced_by not in self._levels:
            finer = [each for each in self._levels if each <= min(reduced_by, self._usual_level)]
            if not finer:
                # Decoded once at the level that most steps work in; coarser ones come from it.
                finer = [min(reduced_by, self._usual_level)]
                self._levels[finer[0]] = self._load(finer[0])
            nearest = max(each for each in self._levels if each <= reduced_by)
            if nearest < reduced_by:
                self._levels[reduced_by] = shrink(self._levels[nearest], reduced_by // nearest)
        return self._levels[reduced_by]

    @property
    def _usual_level(self) -> int:
        level = 1
        while level < 4 and max(self.size) / (2 * level) >= _USUAL_SIDE_PX:
            level *= 2
        return level


def shrink(pixels: Pixels, factor: int) -> Pixels:
    """Reduce by averaging whole blocks; a rest at the edge is left out."""
    rows, columns = pixels.shape[0] // factor, pixels.shape[1] // factor
    whole = pixels[: rows * factor, : columns * factor]
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), np.uint8)


def darkest_channel(pixels: NDArray[Number]) -> NDArray[Number]:
    """Give the least of the three channels of every pixel.

    Parameters
    ----------
    pixels : ndarray, shape (..., 3)
        Any kind of number.

    Returns
    -------
    ndarray, shape (...)
        Of the same kind.
    """
    # Several times as fast as the minimum along an axis of three.
    least = np.minimum(pixels[..., 0], pixels[..., 1])
    return np.asarray(np.minimum(least, pixels[..., 2], out=least))


def from_pixels(pixels: Pixels, *, name: str, dpi: float | None = None) -> Photograph:
    """Take pixels that are in memory already.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        RGB.
    name : str
        Name for tables and messages.
    dpi : float or None
        Resolution, where it is known.

    Returns
    -------
    Photograph
        Of these pixels.
    """

    def load(reduced_by: int) -> Pixels:
        return pixels if reduced_by == 1 else shrink(pixels, reduced_by)

    return Photograph(name, size=(pixels.shape[1], pixels.shape[0]), dpi=dpi, load=load)


def open_photographs(content: bytes, *, name: str) -> Iterator[Photograph]:
    """Open a file that a phone, a camera or a scanner wrote.

    Parameters
    ----------
    content : bytes
        All of it.
    name : str
        Its name; pages after the first of a document get ``#2`` and so on.

    Yields
    ------
    Photograph
        One, or one for each page of a PDF or TIFF. A page of several that is damaged is refused
        when its pixels are asked for, and keeps nobody from the others.

    Raises
    ------
    Refused
        If it is no such file, is damaged, or is larger than can be handled safely.
    """
    if content[:1024].lstrip().startswith(b"%PDF-"):
        yield from _open_pdf(content, name)
        return
    # A scanner writes all pages of a batch into one TIFF, often as they are.
    most = MAX_DOCUMENT_BYTES if content.startswith(_TIFF_BEGINS) else MAX_BYTES
    if len(content) > most:
        what = f"it has {len(content) / 1e6:.0f} MB, over {most // 10**6}"
        raise Refused([_fault(name, what, _SMALLER)])
    image = _guarded(name, partial(_open_image, content))
    n_pages = _guarded(name, lambda: _count_pages(image))
    if n_pages > MAX_PAGES:
        what = f"it has {n_pages} pages, more than {MAX_PAGES}"
        raise Refused([_fault(name, what, "Send it in parts.")])
    yield from _each_page(name, n_pages, partial(_open_frame, content))


def _each_page(
    name: str, n_pages: int, open_page: Callable[[str, int], Photograph]
) -> Iterator[Photograph]:
    """Open page by page; one of several that cannot be opened refuses when it is looked at."""
    for page in range(n_pages):
        named = name if not page else f"{name}#{page + 1}"
        try:
            photograph = _guarded(named, partial(open_page, named, page))
        except Refused as refusal:
            if n_pages == 1:
                raise
            smallest = (MIN_SIDE_PX, MIN_SIDE_PX)
            load = partial(_refuse_again, refusal)
            photograph = Photograph(named, size=smallest, dpi=None, load=load)
        yield photograph


def _refuse_again(refusal: Refused, _reduced_by: int) -> Pixels:
    raise refusal


def _open_image(content: bytes) -> Image.Image:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # our own limit is lower than the library's
        return Image.open(io.BytesIO(content), formats=_FORMATS)


def _count_pages(image: Image.Image) -> int:
    """Count pages: further pictures of a JPEG or HEIC are previews and depth, no pages."""
    return int(getattr(image, "n_frames", 1)) if image.format == "TIFF" else 1


def _open_frame(content: bytes, named: str, page: int) -> Photograph:
    image = _open_image(content)
    if page:
        image.seek(page)
    _check_size(named, image.size)
    turned = image.getexif().get(0x0112, 1) in {5, 6, 7, 8}
    size = (image.size[1], image.size[0]) if turned else image.size

    def load(reduced_by: int) -> Pixels:
        return _guarded(named, lambda: _decode(content, page, reduced_by))

    return Photograph(named, size=size, dpi=_claimed_dpi(image), load=load)


def _decode(content: bytes, page: int, reduced_by: int) -> Pixels:
    image = _open_image(content)
    if page:
        image.seek(page)
    width, height = image.size
    if reduced_by > 1 and image.format in {"JPEG", "MPO"}:
        image.draft("RGB", (width // reduced_by, height // reduced_by))
    done = max(1, round(width / image.size[0]))
    ImageOps.exif_transpose(image, in_place=True)
    pixels = np.asarray(_as_rgb(image))
    return pixels if done >= reduced_by else shrink(pixels, reduced_by // done)


def _as_rgb(image: Image.Image) -> Image.Image:
    """Bring any kind of pixels to eight bits of red, green and blue; what is clear is paper."""
    if image.mode.startswith(("I", "F")):
        deep = np.asarray(image, dtype=np.float64)
        top = 65535.0 if deep.max(initial=0.0) > 255 else 255.0
        return Image.fromarray((np.clip(deep / top, 0, 1) * 255).astype(np.uint8)).convert("RGB")
    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        clear = image.convert("RGBA")
        paper = Image.new("RGBA", clear.size, "white")
        return Image.alpha_composite(paper, clear).convert("RGB")
    return image if image.mode == "RGB" else image.convert("RGB")


def _claimed_dpi(image: Image.Image) -> float | None:
    claimed = image.info.get("dpi")
    try:
        across, down = (float(each) for each in claimed or ())
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    is_one = across > 0 and abs(across - down) <= 0.005 * across
    return across if is_one and 50 <= across <= 1300 else None


def _open_pdf(content: bytes, name: str) -> Iterator[Photograph]:
    if len(content) > MAX_DOCUMENT_BYTES:
        remedy = "Send it in parts."
        what = f"it has {len(content) / 1e6:.0f} MB, over {MAX_DOCUMENT_BYTES // 10**6}"
        raise Refused([_fault(name, what, remedy)])
    document = _guarded(name, lambda: pdfium.PdfDocument(content))
    try:
        n_pages = len(document)
        if not 1 <= n_pages <= MAX_PAGES:
            what = f"it has {n_pages} pages, more than {MAX_PAGES}" if n_pages else "it has no page"
            raise Refused([_fault(name, what, "Send a PDF with one page for each sheet.")])
        yield from _each_page(name, n_pages, partial(_open_pdf_page, document))
    finally:
        document.close()


def _open_pdf_page(document: pdfium.PdfDocument, name: str, page: int) -> Photograph:
    opened = document[page]
    width, height = (side / 72 for side in opened.get_size())  # inches
    if not (0.5 < width < 200 and 0.5 < height < 200):
        raise Refused([_fault(name, "its page has a size that no sheet has", _RETAKE)])
    dpi = min(_PDF_DPI, (_PDF_PIXELS / (width * height)) ** 0.5)
    # Rendered at once: the document is closed before anybody asks for pixels.
    pixels = np.array(opened.render(scale=dpi / 72, rev_byteorder=True).to_pil().convert("RGB"))
    return from_pixels(pixels, name=name, dpi=dpi)


def _check_size(name: str, size: tuple[int, int]) -> None:
    width, height = size
    if width * height > MAX_PIXELS:
        what = f"it has {width} x {height} pixels, more than {MAX_PIXELS // 10**6} million"
        raise Refused([_fault(name, what, _SMALLER)])
    if min(width, height) < MIN_SIDE_PX:
        remedy = "Send the photograph itself, not its preview."
        raise Refused([_fault(name, f"it has only {width} x {height} pixels", remedy)])


def _guarded(name: str, work: Callable[[], T]) -> T:
    """Do one step on bytes from outside: whatever a decoder throws is a damaged file to us."""
    try:
        return work()
    except Refused:
        raise
    except Image.DecompressionBombError as error:
        what = f"it has more than {MAX_PIXELS // 10**6} million pixels"
        raise Refused([_fault(name, what, _SMALLER)]) from error
    except MemoryError as error:
        raise Refused([_fault(name, "it needs too much memory", _RETAKE)]) from error
    except Exception as error:  # decoders raise a dozen kinds, and none of them is ours to list
        what = "it is damaged, or is no picture that can be opened"
        raise Refused([_fault(name, what, _RETAKE)]) from error


def _fault(name: str, what: str, remedy: str) -> Problem:
    return Problem(name, what, remedy, "photograph")
