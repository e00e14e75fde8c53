"""How Typst is run: find our fonts, keep one compiler warm, turn values into a PDF.

Templates are the ``.typ`` files beside this module. They take one JSON document as their input
(``json(bytes(sys.inputs.at("page")))``) and hold no words of their own.
"""

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import fontpkg_ibm_plex_sans_arabic
import typst

from sidelong.problems import Problem, Refused

FONT_FAMILY = "IBM Plex Sans Arabic"


def typeset(
    template: str, *, page: Mapping[str, Any], standard: Literal["ua-1", "a-2a"] = "ua-1"
) -> bytes:
    """Set one document.

    Parameters
    ----------
    template : str
        File name of a template in this room, for example ``"booklet.typ"``.
    page : mapping
        What the template shows; must go through :func:`json.dumps`.
    standard : str
        PDF standard that the result declares.

    Returns
    -------
    bytes
        The PDF.

    Raises
    ------
    Refused
        If Typst refuses the document, with its message.
    """
    try:
        made = _compiler(template).compile(
            format="pdf",
            sys_inputs={"page": json.dumps(page, ensure_ascii=False)},
            pdf_standards=[standard],
        )
    except typst.TypstError as error:
        what = f"the page could not be set ({error.message})"
        remedy = "Report this as a fault of the program, with the command that was run."
        raise Refused([Problem(template, what, remedy, "typesetting")]) from error
    assert isinstance(made, bytes)  # noqa: S101 - Typst gives one document for one PDF
    return made


@cache
def _compiler(template: str) -> typst.Compiler:
    """Keep one compiler per template: reading fonts is most of the cost of a first page."""
    room = Path(str(files("sidelong.paper")))
    return typst.Compiler(
        input=str(room / template),
        root=str(room),
        font_paths=[_font_folder()],
        ignore_system_fonts=True,
    )


def _font_folder() -> str:
    """Find the folder of our TrueType files."""
    package = Path(str(files(fontpkg_ibm_plex_sans_arabic)))
    return str(next(package.rglob("*.ttf")).parent)
