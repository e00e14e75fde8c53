"""Pieces in words: what somebody looks for in the drawer, and the code on the box."""

from sidelong.training.piece import Piece, Shape

_SHAPES = {
    Shape.SPHERE: "ball",
    Shape.DISC: "disc",
    Shape.OVAL: "oval",
    Shape.CAPSULE: "capsule",
}


def say_piece(piece: Piece) -> str:
    """Say shape and largest dimension of a piece, and its code.

    Parameters
    ----------
    piece : Piece
        One of a site's ladder.

    Returns
    -------
    str
        For example ``ball, 5 mm (bead-5)``, with a space that does not break.
    """
    return f"{_SHAPES[piece.shape]}, {piece.largest_mm:g}\u00a0mm ({piece.code})"
