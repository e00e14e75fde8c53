"""From readings to entries: what a person confirmed, what still waits, and what contradicts.

The rule: a night enters whole, or not at all. While one of its fields waits for a person, or two
photographs of it disagree, the whole night is left out and everything that it waits for is listed.
A field stands where the reader accepted it, or a person said what it is. A person's word goes
before every reading; of two persons' words about the same field the later one counts.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sidelong.pathway.sheet_entries import SheetNight, as_entry, contradictions
from sidelong.problems import Problem
from sidelong.training.correction import NIGHT, NO_SHEET, PAGE, TYPED, Correction
from sidelong.training.entry import Entry, Scale
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.reading import FieldReading, ImageReading, PageReading, PageStatus

SheetKey = tuple[str, str]  # image and the page as it was read


@dataclass(frozen=True)
class KnownPage:
    """One page that may have been photographed.

    Parameters
    ----------
    plan : Plan
        Whose it is.
    night : int or None
        Which night; None for a spare sheet.
    scale : Scale or None
        Form of its rating; None where the supporter's observation is the record.
    part : int
        1 or 2 where a night takes two pages, as in large print; else 0.
    order : tuple of Position
        Positions in the order that is printed on it; empty: as the plan has them for its night.
    """

    plan: Plan
    night: int | None
    scale: Scale | None = Scale.FIVE
    part: int = 0
    order: tuple[Position, ...] = ()

    @property
    def is_of_plan(self) -> bool:
        """Whether the plan has the printed order; on a spare sheet it may be any night's."""
        nights = self.plan.nights
        own = nights if self.night is None else nights[self.night - 1 : self.night]
        return not self.order or self.order in {night.order for night in own}

    def printed(self, night: int) -> tuple[Position, ...]:
        """Give the order that is printed on it, where it stands for this night."""
        return self.order or self.plan.nights[night - 1].order


@dataclass(frozen=True)
class Confirmation:
    """One field of one photographed sheet, and what became of it.

    Parameters
    ----------
    image, page_id, field : str
        Where it stands; the page as a person named it, where one did.
    read : FieldReading or None
        What was read; None for what only a person reads.
    correction : Correction or None
        What a person said.
    outcome : str
        ``entered``, ``kept`` or ``left_out``.
    """

    image: str
    page_id: str
    field: str
    read: FieldReading | None
    correction: Correction | None
    outcome: str

    @property
    def value(self) -> str:
        """What counts: a person's word, else the reading."""
        if self.correction is not None:
            return self.correction.value
        return self.read.value if self.read is not None else ""


@dataclass(frozen=True)
class Confirmed:
    """What comes of readings and corrections.

    Parameters
    ----------
    entries : tuple of Entry
        Nights that are whole, by plan and night.
    confirmations : tuple of Confirmation
        Every field of every sheet, and every correction.
    waiting : tuple of Problem
        All that a person must still look at; nothing of it is among the entries.
    """

    entries: tuple[Entry, ...]
    confirmations: tuple[Confirmation, ...]
    waiting: tuple[Problem, ...]


@dataclass(frozen=True)
class _Sheet:
    """One photographed sheet with what persons said about it."""

    image: str
    page: PageReading
    named: str  # the page that it is, as far as is known
    is_certain: bool
    said: Mapping[str, Correction]

    def standing(self, name: str) -> str | None:
        """Give a field's value where it stands, else None."""
        if name in self.said:
            return self.said[name].value
        reading = self.page.fields.get(name)
        return reading.value if reading is not None and reading.accepted else None


def confirm(
    readings: Sequence[ImageReading],
    corrections: Sequence[Correction],
    *,
    pages: Mapping[str, KnownPage],
) -> Confirmed:
    """Turn readings and corrections into entries.

    Parameters
    ----------
    readings : sequence of ImageReading
        What was read.
    corrections : sequence of Correction
        What persons said, in any order.
    pages : mapping of str to KnownPage
        Pages that may have been photographed, by their code.

    Returns
    -------
    Confirmed
        Entries, everything that was read and said, and all that still waits.
    """
    sheets = [*_sheets(readings, corrections)]
    waiting = [*_say_no_sheet(readings), *_say_unsure(sheets)]
    by_night: dict[tuple[int, int], list[_Sheet]] = defaultdict(list)
    places = {id(page.plan): place for place, page in enumerate(pages.values())}
    for sheet in sheets:
        if not sheet.is_certain or sheet.named == NO_SHEET:
            continue
        page = pages.get(sheet.named)
        night = None if page is None else _night_of(sheet, page)
        if page is None:
            waiting.append(_wait(sheet, "", f"page {sheet.named} is in no plan", _WRONG_PLANS))
        elif night is None:
            what = "a spare sheet does not say which night it stands for"
            waiting.append(_wait(sheet, NIGHT, what, "Say it with a correction of `night`."))
        elif not 1 <= night <= len(page.plan.nights):
            what = f"night {night} is beyond the {len(page.plan.nights)} nights of the plan"
            waiting.append(_wait(sheet, NIGHT, what, "Correct the night."))
        elif not page.is_of_plan:
            what = "the order printed on it is not that of the plan"
            waiting.append(_wait(sheet, "", what, _WRONG_PLANS))
        else:
            by_night[places[id(page.plan)], night].append(sheet)
    entries, entered = [], set()
    for (_, night), photographed in sorted(by_night.items()):
        page = pages[photographed[0].named]
        values, doubts = _settle(photographed)
        doubts += _say_half(photographed, pages)
        doubts += _say_orders(photographed, pages, night)
        told = SheetNight(page.plan, night, page.scale, values, page.printed(night))
        if not doubts:
            doubts = [
                _wait(photographed[0], name, what, "Look at the sheet, and correct what is wrong.")
                for name, what in contradictions(told)
            ]
        waiting += doubts
        if not doubts:
            entered |= {(sheet.image, sheet.page.page_id) for sheet in photographed}
            entry = as_entry(told)
            entries += [entry] if entry is not None else []
    return Confirmed(tuple(entries), tuple(_confirmations(sheets, entered)), tuple(waiting))


def find_misplaced(
    readings: Sequence[ImageReading], corrections: Sequence[Correction]
) -> Iterator[tuple[Correction, str]]:
    """Find corrections of what was never read, with what is wrong.

    Parameters
    ----------
    readings : sequence of ImageReading
        What was read.
    corrections : sequence of Correction
        What persons said.

    Yields
    ------
    correction : Correction
        One that belongs nowhere.
    what : str
        Why.
    """
    pages = {(each.image, page.page_id): page for each in readings for page in each.pages}
    images = {each.image for each in readings}
    for each in corrections:
        page = pages.get((each.image, each.page_id))
        if each.image not in images:
            yield each, "the readings have no such image"
        elif page is None:
            yield each, "the readings have no such page in this image"
        elif each.field != PAGE and each.field not in (*page.fields, *TYPED):
            yield each, f"page {each.page_id} has no field {each.field}"


def _sheets(
    readings: Iterable[ImageReading], corrections: Iterable[Correction]
) -> Iterator[_Sheet]:
    said: dict[SheetKey, dict[str, Correction]] = defaultdict(dict)
    for each in sorted(corrections, key=lambda correction: correction.when):
        said[each.image, each.page_id][each.field] = each
    for reading in readings:
        for page in reading.pages:
            words = said[reading.image, page.page_id]
            is_certain = page.status is PageStatus.OK or PAGE in words
            named = words[PAGE].value if PAGE in words else page.page_id
            yield _Sheet(reading.image, page, named or NO_SHEET, is_certain, words)


def _night_of(sheet: _Sheet, page: KnownPage) -> int | None:
    """Give the night: the sheet's own, or for a spare sheet the one that a person named."""
    if page.night is not None:
        return page.night
    typed = sheet.standing(NIGHT) or ""
    return int(typed) if typed.isdigit() else None


def _settle(photographed: Sequence[_Sheet]) -> tuple[dict[str, str], list[Problem]]:
    """Compare all photographs of one night: a value for every field, or what it waits for."""
    names = dict.fromkeys(name for sheet in photographed for name in sheet.page.fields)
    values: dict[str, str] = {}
    doubts: list[Problem] = []
    for name in names:
        persons = {sheet.said[name].value for sheet in photographed if name in sheet.said}
        read = {
            sheet.page.fields[name].value
            for sheet in photographed
            if name in sheet.page.fields and sheet.page.fields[name].accepted
        }
        standing = persons or read
        if len(standing) == 1:
            values[name] = standing.pop()
        elif standing:
            images = " and ".join(sheet.image for sheet in photographed)
            what = f"{images} show different answers"
            doubts.append(_wait(photographed[0], name, what, "Look at both, and correct one."))
        else:
            doubts.append(_wait(photographed[0], name, "it is for review", _LOOK))
    return values, doubts


def _say_half(photographed: Sequence[_Sheet], pages: Mapping[str, KnownPage]) -> list[Problem]:
    """Tell of a night of two pages that has one: what is on the other is not blank."""
    parts = {pages[sheet.named].part for sheet in photographed}
    missing = {1, 2} - parts if 0 not in parts else set()
    remedy = "Photograph both pages of the night, and read them together."
    what = "the night has two pages, and this is one of them"
    return [_wait(photographed[0], "", what, remedy)] if missing else []


def _say_orders(
    photographed: Sequence[_Sheet], pages: Mapping[str, KnownPage], night: int
) -> list[Problem]:
    """Tell of a night on two sheets with two orders: the same slot is another position."""
    first, *others = (pages[sheet.named].printed(night) for sheet in photographed)
    if all(order == first for order in others):
        return []
    images = " and ".join(sheet.image for sheet in photographed)
    what = f"{images} stand for night {night} with its positions in two orders"
    remedy = "Look at both, and say with a correction of @page, none, which one does not count."
    return [_wait(photographed[0], "", what, remedy)]


def _say_no_sheet(readings: Iterable[ImageReading]) -> Iterator[Problem]:
    for reading in readings:
        if not reading.pages:
            remedy = "Photograph the sheet again, or type the night by hand."
            yield Problem(reading.image, "no sheet was found in it", remedy, "waiting")


def _say_unsure(sheets: Iterable[_Sheet]) -> Iterator[Problem]:
    for sheet in sheets:
        if not sheet.is_certain:
            remedy = "Look at the picture, and say with a correction of @page which page it is."
            yield _wait(sheet, PAGE, "it is not sure which page this is", remedy)


def _confirmations(sheets: Iterable[_Sheet], entered: set[SheetKey]) -> Iterator[Confirmation]:
    for sheet in sheets:
        whole = (sheet.image, sheet.page.page_id) in entered
        for name in dict.fromkeys((*sheet.page.fields, *sheet.said)):
            outcome = "left_out"
            if whole:
                outcome = "kept" if name in (*TYPED, PAGE) else "entered"
            yield Confirmation(
                sheet.image,
                sheet.named if sheet.named != NO_SHEET else sheet.page.page_id,
                name,
                sheet.page.fields.get(name),
                sheet.said.get(name),
                outcome,
            )


_LOOK = "Look at its crop, and write a correction, also where the reading is right."
_WRONG_PLANS = "Give the plans that it was printed from."


def _wait(sheet: _Sheet, field: str, what: str, remedy: str) -> Problem:
    where = ", ".join(part for part in (sheet.image, sheet.page.page_id, field) if part)
    return Problem(where, what, remedy, "waiting")
