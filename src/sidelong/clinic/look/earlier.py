"""What would have been said on the way: the chance of being the best after night 3, 7 and 10."""

from dataclasses import dataclass

from sidelong.clinic.look.marks import draw_share
from sidelong.paper.language import Language
from sidelong.pathway.report_words import percent, position_name, verdict_word
from sidelong.training.estimate import Estimate, Verdict
from sidelong.training.position import Position


@dataclass(frozen=True)
class EarlierMoment:
    """One column: a moment on the way, and what would have been said then."""

    when: str
    verdict: str


@dataclass(frozen=True)
class EarlierShare:
    """One position at one moment.

    Parameters
    ----------
    svg : str
        A bar without a name.
    words : str
        The chance in per cent.
    is_ahead : bool
        Whether it was ahead of all that may be suggested.
    """

    svg: str
    words: str
    is_ahead: bool


@dataclass(frozen=True)
class EarlierPicture:
    """All that ``parts/earlier.html`` shows; the table is the drawing, and holds every figure.

    Parameters
    ----------
    caption : str
        What the figures are.
    moments : tuple of EarlierMoment
        Columns, in order of time, the last one being now.
    rows : tuple of (Position, str, tuple of EarlierShare)
        A row for each position, with its name.
    """

    caption: str
    position: str
    said: str
    moments: tuple[EarlierMoment, ...]
    rows: tuple[tuple[Position, str, tuple[EarlierShare, ...]], ...]


def picture_earlier(estimate: Estimate, *, language: Language) -> EarlierPicture:
    """Draw the answers on the way and the answer of now.

    Parameters
    ----------
    estimate : Estimate
        Its ``earlier`` answers in order, then its own figures.
    language : Language
        Says the words.

    Returns
    -------
    EarlierPicture
        For ``parts/earlier.html``; without moments where no night was used.
    """
    columns = [
        (after_night(each.night, language), each.verdict, each.p_best) for each in estimate.earlier
    ]
    if estimate.nights_used:
        now = language.say("Night {night}, now").format(night=estimate.nights_planned)
        best = tuple(each.p_best for each in estimate.positions)
        columns.append((now, estimate.verdict, best))
    shares = [_shares(p_best, estimate, language) for _, _, p_best in columns]
    rows = tuple(
        (
            each.position,
            position_name(each.position, language),
            tuple(column[index] for column in shares),
        )
        for index, each in enumerate(estimate.positions)
    )
    return EarlierPicture(
        caption=language.say("Chance of being the easiest position, as it would have been said"),
        position=language.say("Position"),
        said=language.say("It would have said"),
        moments=tuple(_moment(when, verdict, language) for when, verdict, _ in columns),
        rows=rows,
    )


def after_night(night: int, language: Language) -> str:
    """Name a moment on the way."""
    return language.say("After night {night}").format(night=night)


def _moment(when: str, verdict: Verdict, language: Language) -> EarlierMoment:
    return EarlierMoment(when, verdict_word(verdict, language))


def _shares(
    p_best: tuple[float, ...], estimate: Estimate, language: Language
) -> tuple[EarlierShare, ...]:
    open_to = [
        chance
        for chance, each in zip(p_best, estimate.positions, strict=True)
        if each.may_recommend
    ]
    most = max(open_to, default=None)
    shares = []
    for chance, each in zip(p_best, estimate.positions, strict=True):
        is_ahead = each.may_recommend and chance == most and len(p_best) > 1
        bar = draw_share(min(1.0, max(0.0, chance)), is_ahead=is_ahead)
        shares.append(EarlierShare(bar, percent(chance, language), is_ahead))
    return tuple(shares)
