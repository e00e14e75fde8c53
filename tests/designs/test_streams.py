"""Labels of streams: one for each stream, whatever its names hold."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.designs import stream_label

texts = st.text(max_size=6)
position_tuples = st.lists(st.text(min_size=1, max_size=6), min_size=1, max_size=5, unique=True)


@given(texts, texts, position_tuples, texts, texts, position_tuples)
def test_different_streams_never_share_a_label(
    site: str, band: str, positions: list[str], site_b: str, band_b: str, positions_b: list[str]
) -> None:
    def form(*parts: str) -> tuple[str, ...]:
        return tuple(unicodedata.normalize("NFC", part) for part in parts)

    first = stream_label(site=site, band=band, positions=positions, n_nights=14)
    second = stream_label(site=site_b, band=band_b, positions=positions_b, n_nights=14)

    assert (first == second) == (form(site, band, *positions) == form(site_b, band_b, *positions_b))


def test_label_tells_nights_apart_and_unites_two_spellings_of_one_sign() -> None:
    def label(site: str, nights: int) -> str:
        return stream_label(site=site, band="", positions=("left", "up"), n_nights=nights)

    assert label("a", 7) != label("a", 14)
    assert label("Z\u00fcrich", 7) == label("Zu\u0308rich", 7)


@pytest.mark.parametrize("positions", [(), ("left", "left")])
def test_label_refuses_no_position_or_a_double_one(positions: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="each once"):
        stream_label(site="a", band="b", positions=positions, n_nights=14)
