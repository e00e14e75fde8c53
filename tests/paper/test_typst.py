"""How Typst is run."""

from io import BytesIO

import pikepdf
import pytest
from printed import print_booklet

from sidelong.paper.typst import typeset
from sidelong.problems import Refused


def test_a_document_that_cannot_be_set_is_refused_with_the_reason() -> None:
    with pytest.raises(Refused, match=r"booklet\.typ: the page could not be set"):
        typeset("booklet.typ", page={"paper": "a4"})


def test_the_same_booklet_has_the_same_words_whenever_it_is_set() -> None:
    first = print_booklet(2, n_nights=7)
    print_booklet.cache_clear()
    again = print_booklet(2, n_nights=7)
    assert first.layout == again.layout
    with pikepdf.open(BytesIO(first.pdf)) as one, pikepdf.open(BytesIO(again.pdf)) as two:
        contents = [[page.Contents.read_bytes() for page in pdf.pages] for pdf in (one, two)]
    assert contents[0] == contents[1]
