"""What a printed sheet says about itself to a camera: a short text, and the numbers of six markers.

The text stands in two QR codes. It carries the trainee's code, never a name, and everything that
the sheet's geometry follows from, so that a page is read without asking any table. A check finds
every single wrong character, and any fault within two neighbouring ones (CRC-16, polynomial 1021
hexadecimal, start value FFFF, as in the catalogue of parametrised CRC algorithms:
"CRC-16/IBM-3740").

The six markers are fiducial tags with numbers 0 to 586. Number = place + 6 x symbol, so that a
marker tells its place on the page by itself. The six symbols are a Reed-Solomon code word over
the field of 97 elements: the values, at 1 to 6, of the polynomial whose coefficients are the
night and two symbols drawn from the booklet. Any three markers tell the page; every further one
is a check. What that guarantees stands at :func:`recognise_markers`.
"""

from binascii import crc_hqx
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256

from sidelong.training.entry import Scale
from sidelong.training.position import Position

PREFIX = "S1"  # ours, with the version of this text
FIELD = 97
N_PLACES = 6
N_TELLING = 3  # markers that tell a page
N_KEYS = FIELD**2
EXAMPLE_NIGHT = 0  # the filled example: never an entry
SPARE_NIGHT = FIELD - 1  # the spare sheet: a person says which night it stands for
LAST_NIGHT = FIELD - 2

_LETTERS = {position: position.value[0].upper() for position in Position}
_POSITIONS = {letter: position for position, letter in _LETTERS.items()}
_SHIFT = "*"  # before what the alphabet of a QR code lacks: small letters and the underscore


@dataclass(frozen=True)
class SheetCode:
    """What a sheet says about itself.

    Parameters
    ----------
    trainee : str
        The trainee's code: letters, digits, dots, hyphens and underscores.
    course, version : int
        Course and plan version, from 1.
    night : int
        Sheet number, 1 to 95; 0 for the example, 96 for the spare sheet.
    order : tuple of Position
        Positions from slot 1 on.
    language : str
        BCP 47 tag that the sheet is written in.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record.
    part : int
        0 where the night stands on one page; 1 or 2 for a page of the large print.
    booklet : int
        Which one of those printed for the course, from 1.
    """

    trainee: str
    course: int
    version: int
    night: int
    order: tuple[Position, ...]
    language: str
    scale: Scale | None = Scale.FIVE
    part: int = 0
    booklet: int = 1

    def __post_init__(self) -> None:
        """Refuse what no sheet can be."""
        if not self.trainee or not all(map(_is_sayable, self.trainee)):
            raise ValueError("a sheet's trainee code has letters, digits, dots and hyphens alone")
        if self.course < 1 or self.version < 1 or self.booklet < 1:
            raise ValueError("course, version and booklet count from 1")
        if self.part not in (0, 1, 2):
            raise ValueError(f"part {self.part} is not 0, 1 or 2")
        if not EXAMPLE_NIGHT <= self.night <= SPARE_NIGHT:
            raise ValueError(f"night {self.night} is not 0 to {SPARE_NIGHT}")
        if not self.order or len(set(self.order)) != len(self.order):
            raise ValueError("a sheet shows one to five positions, each once")
        parts = self.language.split("-")
        if not all(part.isascii() and part.isalnum() for part in parts):
            raise ValueError("a language tag has letters, digits and hyphens alone")


def write_payload(code: SheetCode) -> str:
    """Write the text of the QR codes.

    Parameters
    ----------
    code : SheetCode
        What the sheet says.

    Returns
    -------
    str
        Characters of a QR code's alphanumeric mode (ISO/IEC 18004) alone, for example
        ``S1:HL-0007:1:1:4:5DLCRU:EN:`` and four more for the check. A later booklet is told after
        the plan version: ``S1:HL-0007:1:1.2:4:5DLCRU:EN:``.
    """
    form = 0 if code.scale is None else int(code.scale)
    order = "".join(_LETTERS[position] for position in code.order)
    fields = [
        PREFIX,
        _shift(code.trainee),
        str(code.course),
        f"{code.version}" + (f".{code.booklet}" if code.booklet > 1 else ""),
        str(code.night),
        f"{form}{order}" + (f".{code.part}" if code.part else ""),
        code.language.upper(),
    ]
    text = ":".join(fields) + ":"
    return text + _check(text)


def read_payload(text: str) -> SheetCode:
    """Read the text of a QR code.

    Parameters
    ----------
    text : str
        As :func:`write_payload` wrote it.

    Returns
    -------
    SheetCode
        What the sheet says. The language has its tag in the usual case.

    Raises
    ------
    ValueError
        If the text is not ours, was written by a later version, or its check is wrong.
    """
    body, check = text[:-4], text[-4:]
    fields = body.split(":")
    if fields[0] != PREFIX or len(fields) != 8:
        raise ValueError("this is no sheet's code, or one of another version")
    if check != _check(body):
        raise ValueError("the check does not fit the code")
    _, trainee, course, version, night, asked, language, _ = fields
    asked, _, part = asked.partition(".")
    version, _, booklet = version.partition(".")
    scale = None if asked[:1] == "0" else Scale(int(asked[:1]))
    code = SheetCode(
        trainee=_unshift(trainee),
        course=int(course),
        version=int(version),
        night=int(night),
        order=tuple(_position(letter) for letter in asked[1:]),
        language=_usual_case(language),
        scale=scale,
        part=int(part or "0"),
        booklet=int(booklet or "1"),
    )
    if write_payload(code) != text:
        raise ValueError("the code is not written as we write it")
    return code


def booklet_key(trainee: str, course: int, version: int, *, attempt: int = 0) -> int:
    """Draw a booklet's number among the markers' 9409 from who it is for.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course, version : int
        Course and plan version.
    attempt : int
        0 first; higher where a booklet printed before has the number already.

    Returns
    -------
    int
        0 to 9408; the same for the same booklet on every machine.
    """
    text = "\n".join([trainee, str(course), str(version), str(attempt)])
    return int.from_bytes(sha256(text.encode()).digest()[:8], "big") % N_KEYS


def booklet_keys(booklets: Sequence[tuple[str, int, int]]) -> tuple[int, ...]:
    """Give each of several booklets a number of its own.

    Booklets added at the end leave the numbers before them as they are.

    Parameters
    ----------
    booklets : sequence of (str, int, int)
        Trainee's code, course and version, in the order of the table of plans.

    Returns
    -------
    tuple of int
        One each, 0 to 9408; all different as long as there are no more booklets than numbers.
    """
    keys: dict[tuple[str, int, int], int] = {}
    taken: set[int] = set()
    for booklet in booklets:
        if booklet in keys:
            continue
        key = booklet_key(*booklet)
        attempt = 0
        while key in taken and len(taken) < N_KEYS:
            attempt += 1
            key = booklet_key(*booklet, attempt=attempt)
        keys[booklet] = key
        taken.add(key)
    return tuple(keys[booklet] for booklet in booklets)


def marker_ids(night: int, key: int) -> tuple[int, int, int, int, int, int]:
    """Say which six markers stand on a sheet.

    Two nights of one booklet share no marker, and the same night of two booklets at most one.

    Parameters
    ----------
    night : int
        Sheet number, 0 to 96.
    key : int
        The booklet's number, 0 to 9408.

    Returns
    -------
    tuple of int
        Numbers of the tags at places 0 to 5.

    Raises
    ------
    ValueError
        If night or key are outside their range.
    """
    if not (0 <= night < FIELD and 0 <= key < N_KEYS):
        raise ValueError(f"night {night} or booklet number {key} is out of range")
    a, b = divmod(key, FIELD)
    first, second, third, fourth, fifth, sixth = (
        place + N_PLACES * ((night + a * x + b * x * x) % FIELD)
        for place, x in enumerate(range(1, N_PLACES + 1))
    )
    return first, second, third, fourth, fifth, sixth


def recognise_markers(ids: Iterable[int]) -> tuple[int, int] | None:
    """Tell the page from the markers that were seen on it, or say that they do not agree.

    Two different pages share at most two markers. So of the markers of one page, v seen and e of
    them wrong: with e = 0 and v >= 3 the page is told; with 1 <= e <= v - 3 the answer is None.
    Nothing is ever corrected. Three markers alone hold no check; of four or more with too many
    wrong ones, at most one case in 97 still looks like a page. So let another witness (a fourth
    marker, the QR code, the list of printed pages) speak too. Three markers of one page with any
    of a second one never look like a third.

    Parameters
    ----------
    ids : iterable of int
        Numbers of the tags, in any order.

    Returns
    -------
    tuple of int and int, or None
        Night and booklet number; None where fewer than three places are seen, one place shows
        two markers, one is none of ours, or they are not all of one page.
    """
    symbols: dict[int, int] = {}
    for marker in set(ids):
        symbol, place = divmod(marker, N_PLACES)
        if place in symbols or not 0 <= symbol < FIELD:
            return None
        symbols[place] = symbol
    if len(symbols) < N_TELLING:
        return None
    points = [(place + 1, symbol) for place, symbol in sorted(symbols.items())]
    night, a, b = _through(points[:N_TELLING])
    if any((night + a * x + b * x * x - symbol) % FIELD for x, symbol in points):
        return None
    return night, a * FIELD + b


def _through(points: Sequence[tuple[int, int]]) -> tuple[int, int, int]:
    """Find the parabola through three points over the field, by Newton's divided differences."""
    (x0, y0), (x1, y1), (x2, y2) = points
    slope = (y1 - y0) * pow(x1 - x0, -1, FIELD)
    bend = ((y2 - y1) * pow(x2 - x1, -1, FIELD) - slope) * pow(x2 - x0, -1, FIELD)
    a = slope - bend * (x0 + x1)
    return (y0 - slope * x0 + bend * x0 * x1) % FIELD, a % FIELD, bend % FIELD


def _check(text: str) -> str:
    return f"{crc_hqx(text.encode('ascii', 'replace'), 0xFFFF):04X}"


def _is_sayable(char: str) -> bool:
    return char.isascii() and (char.isalnum() or char in "._-")


def _shift(code: str) -> str:
    signs = {"_": f"{_SHIFT}-"}
    return "".join(signs.get(c, f"{_SHIFT}{c.upper()}" if c.islower() else c) for c in code)


def _unshift(text: str) -> str:
    head, *shifted = text.split(_SHIFT)
    if not all(shifted):
        raise ValueError("the code is not written as we write it")
    return head + "".join(("_" if s[0] == "-" else s[0].lower()) + s[1:] for s in shifted)


def _position(letter: str) -> Position:
    if letter not in _POSITIONS:
        raise ValueError("the code names no position of ours")
    return _POSITIONS[letter]


def _usual_case(tag: str) -> str:
    """Give a language tag the case that BCP 47 recommends: language small, region large."""
    first, *others = tag.split("-")
    return "-".join([first.lower(), *(_part_case(part) for part in others)])


def _part_case(part: str) -> str:
    if len(part) == 4 and part.isalpha():
        return part.title()
    return part.upper() if len(part) == 2 else part.lower()
