"""Setting up a reader for one layout."""

from pathlib import Path

import cv2

from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import open_printed_pages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.training.layout import Layout


def open_reader(layout: Layout, *, folder: Path) -> Reader:
    """Set up a reader with the classifier that ships with the program.

    Parameters
    ----------
    layout : Layout
        Pages that may be met.
    folder : Path
        Where the layout lies; its PDF beside it makes curled sheets easier to lay flat.

    Returns
    -------
    Reader
        Ready for photographs.
    """
    # Pictures are small: threads of OpenCV would wait for each other more than they work.
    cv2.setNumThreads(1)
    printed = open_printed_pages(folder / layout.pdf)
    return Reader(PageIndex(layout.pages), printed=printed)
