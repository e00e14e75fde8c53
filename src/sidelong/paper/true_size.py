"""The page whose lengths can be laid against the real thing: pieces, capsules, gullet.

Capsule sizes are the closed length and the outer diameter of the cap that are printed in several
suppliers' charts; they are an industry convention, no standard, and differ between makers by some
tenths of a millimetre. The gullet values are measured widths of a gullet filled for an X-ray (a
child's, mean values from 1 to 17 years) and the narrowest place that a surgical textbook gives
for adults. Both carry their status; nothing remembered is printed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sidelong.paper.language import Language
from sidelong.training.piece import Piece
from sidelong.training.plan import Plan

CHECK_MM = 100.0


@dataclass(frozen=True)
class CapsuleSize:
    """A two-piece hard capsule, closed: name, length and outer diameter of the cap, mm."""

    name: str
    length_mm: float
    diameter_mm: float


# read (secondary): a supplier's chart and four independent capsule-size pages.
CAPSULE_SIZES = (
    CapsuleSize("000", 25.9, 9.96),
    CapsuleSize("00", 23.5, 8.55),
    CapsuleSize("0", 21.4, 7.66),
    CapsuleSize("1", 19.3, 6.93),
    CapsuleSize("2", 17.8, 6.37),
    CapsuleSize("3", 15.8, 5.85),
    CapsuleSize("4", 14.4, 5.33),
    CapsuleSize("5", 11.4, 4.91),
)
# read: "Establishing normal values for pediatric esophageal diameter on fluoroscopy", n = 160,
# 1 to 17 years, group means: 8-17 mm from the side, 11-21 mm from the front.
CHILD_GULLET_MM = (8.0, 17.0)
CHILD_GULLET_FRONT_MM = (11.0, 21.0)
# read (secondary): textbook of surgery, narrowest place of the adult gullet.
ADULT_GULLET_MM = 15.0


def piece_outline(piece: Piece | None, size_mm: float) -> tuple[float, float, str]:
    """Say how a piece is drawn at true size, seen from above.

    Parameters
    ----------
    piece : Piece or None
        The piece; None where only its largest dimension is known.
    size_mm : float
        Largest dimension, mm.

    Returns
    -------
    tuple of float, float, str
        Length, mm; width, mm; ``oval`` or ``capsule``.
    """
    if piece is None:
        return size_mm, size_mm, "oval"
    return piece.length_mm, piece.width_mm, "capsule" if piece.shape == "capsule" else "oval"


def pieces_of(plan: Plan, pieces: Sequence[Piece]) -> list[tuple[float, Piece | None]]:
    """List the pieces of a plan, each once, small to large.

    Parameters
    ----------
    plan : Plan
        The plan.
    pieces : sequence of Piece
        The site's pieces; those that the plan names by code are found here.

    Returns
    -------
    list of (float, Piece or None)
        Largest dimension, mm, and the piece where it is known.
    """
    by_code = {piece.code: piece for piece in pieces}
    found = {
        (night.piece_mm, night.piece): by_code.get(night.piece)
        for night in sorted(plan.nights, key=lambda night: night.piece_mm)
    }
    return [(size, piece) for (size, _), piece in found.items()]


def set_true_size(plan: Plan, *, pieces: Sequence[Piece], language: Language) -> dict[str, Any]:
    """Say what the true-size page shows.

    Parameters
    ----------
    plan : Plan
        Whose pieces are shown.
    pieces : sequence of Piece
        The site's pieces.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words and lengths in mm, as ``booklet.typ`` expects them.
    """
    say = language.say
    length = language.number(f"{CHECK_MM:g} mm")
    return {
        "heading": say("True size"),
        "check_mm": CHECK_MM,
        "check": [
            say("Lay a ruler along this line. It must measure {length}.").format(length=length),
            say(
                "If it does not, print again at 100 %, without fitting to the page. "
                "Until then use this page for nothing, and tell the clinic."
            ),
        ],
        "check_alt": say("A line of {length} with a mark every centimetre.").format(length=length),
        "pieces_heading": say("Your practice pieces"),
        "pieces": [_piece(size, piece, language) for size, piece in pieces_of(plan, pieces)],
        "piece_alt": say("Practice piece at true size."),
        "largest_b": max(piece_outline(piece, size)[1] for size, piece in pieces_of(plan, pieces)),
        **_capsules(language),
        **_gullet(language),
        "sources": say(
            "Sources. Capsules: suppliers' charts, read at second hand. Child: X-ray study of "
            "160 children with a filled gullet, read in its summary. Shown are mean widths from "
            "the side, youngest and oldest group; from the front they are {low} to {high}. "
            "Adult: surgical textbook, read at second hand."
        ).format(
            low=language.number(f"{CHILD_GULLET_FRONT_MM[0]:g}"),
            high=language.number(f"{CHILD_GULLET_FRONT_MM[1]:g} mm"),
        ),
    }


def _capsules(language: Language) -> dict[str, Any]:
    """Say the standard capsule sizes, largest first."""
    say = language.say
    return {
        "capsules_heading": say("Capsules"),
        "capsules": [
            {
                "name": size.name,
                "l": size.length_mm,
                "b": size.diameter_mm,
                "words": language.number(f"{size.length_mm:g} × {size.diameter_mm:.1f} mm"),
            }
            for size in CAPSULE_SIZES
        ],
        "capsules_note": say(
            "Closed capsules by their size number. The larger the number, the smaller the "
            "capsule. Sizes differ a little between makers."
        ),
        "capsules_alt": say("Capsule outlines at true size, from size 000 to size 5."),
    }


def _gullet(language: Language) -> dict[str, Any]:
    """Say how wide a gullet opens, child and adult."""
    say, number = language.say, language.number
    low, high = CHILD_GULLET_MM
    child = say("Child, 1 to 17 years: {low} to {high}").format(
        low=number(f"{low:g}"), high=number(f"{high:g} mm")
    )
    adult = say("Adult, narrowest place: {size}").format(size=number(f"{ADULT_GULLET_MM:g} mm"))
    return {
        "gullet_heading": say("How wide a gullet opens"),
        "gullet": [
            {"widths": [low, high], "words": child},
            {"widths": [ADULT_GULLET_MM], "words": adult},
        ],
        "gullet_note": say(
            "The dot in each circle is as wide as your largest piece. The gullet is the tube from "
            "the throat to the stomach. This is for comparing only. "
            "It does not say that a piece is safe for one person. Ask the clinic."
        ),
        "gullet_alt": say("Circles as wide as a gullet opens, at true size."),
    }


def piece_words(size_mm: float, piece: Piece | None, *, language: Language) -> str:
    """Name a piece by its size, and by its code where it has one.

    Parameters
    ----------
    size_mm : float
        Largest dimension, mm.
    piece : Piece or None
        The piece; None where only its size is known.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    str
        For example ``S4: 4 mm``.
    """
    length, width, _ = piece_outline(piece, size_mm)
    sizes = (length,) if length == width else (length, width)
    words = language.number(" × ".join(f"{each:g}" for each in sizes) + " mm")
    return words if piece is None else f"{piece.code}: {words}"


def _piece(size_mm: float, piece: Piece | None, language: Language) -> dict[str, Any]:
    length, width, outline = piece_outline(piece, size_mm)
    words = piece_words(size_mm, piece, language=language)
    return {"l": length, "b": width, "outline": outline, "words": words}
