"""Names of the streams of trainees that are kept even."""

import unicodedata
from collections.abc import Sequence


def stream_label(*, site: str, band: str, positions: Sequence[str], n_nights: int) -> str:
    """Name the stream of trainees who share one balanced sequence.

    Every part is written with its length in characters before it, so that no two different
    streams can have one label, whatever signs their names hold. Text is brought to one Unicode
    form (NFC) first: the same name typed on two machines is the same stream.

    Parameters
    ----------
    site, band : str
        May be empty where the programme has only one.
    positions : sequence of str
        Allowed positions in the house's listed order; index `p` of a plan is `positions[p]`.
    n_nights : int
        Nights of the plan.

    Returns
    -------
    str
        Such as `"1:a,7:younger,4:left,6:centre;14"`.

    Raises
    ------
    ValueError
        If no position is given or one is given twice.

    Examples
    --------
    >>> stream_label(site="a", band="younger", positions=("left", "centre"), n_nights=14)
    '1:a,7:younger,4:left,6:centre;14'
    """
    if not positions or len(set(positions)) != len(positions):
        raise ValueError(f"a stream needs positions, each once: {', '.join(positions)}")
    parts = [unicodedata.normalize("NFC", part) for part in (site, band, *positions)]
    return ",".join(f"{len(part)}:{part}" for part in parts) + f";{n_nights}"
