"""The third generator with marks on what is printed beside the outlines.

Some families ring, tick or underline the word of an answer, or ring its drawing, and leave the
outline empty. No other generator draws that. A reader should see the answer or ask a person;
a blank that it accepts is a silent error.
"""

import numpy as np
from kit import Kit

from sidelong.training.layout import SheetPage
from third import sheets

NAME = "third_words"
VERSION = sheets.VERSION
WORDS_SHARE = 0.35  # of the answers that have a word or a drawing


def make_image(
    kit: Kit, page: SheetPage, *, severity: str, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, object]]:
    """Make one image, as :func:`third.sheets.make_image`, with marks on words and drawings."""
    return sheets.make_image(kit, page, severity=severity, rng=rng, words_share=WORDS_SHARE)
