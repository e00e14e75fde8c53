"""The hash chain, without a database."""

import hashlib
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.clinic.audit.chain import (
    Head,
    Link,
    canonical_bytes,
    canonical_detail,
    digest_of,
    genesis,
    verify_chain,
)

START = genesis("an installation")


def chain(n_links: int, start: str = START) -> list[Link]:
    links: list[Link] = []
    for number in range(1, n_links + 1):
        previous = links[-1].digest if links else start
        link = Link(
            number=number,
            at=f"2026-11-25T10:00:{number:02d}.000000+00:00",
            actor="staff:1",
            verb="course opened",
            subject="trainee:HL-7K3PX",
            detail=canonical_detail({"course": number}),
            previous=previous,
            digest="",
        )
        links.append(replace(link, digest=digest_of(link)))
    return links


def head_of(links: list[Link]) -> Head:
    return Head(links[-1].number, links[-1].digest)


def test_an_untouched_chain_holds() -> None:
    links = chain(20)
    report = verify_chain(links, start=START, head=head_of(links), outside=[head_of(links[:7])])
    assert report.holds
    assert report.head == head_of(links)


def test_an_empty_chain_holds_and_begins_with_its_installation() -> None:
    assert verify_chain([], start=START, head=None).head == Head(0, START)


def test_the_bytes_of_a_row_are_those_of_the_description() -> None:
    """Written anew from the description: length in eight bytes, then the text, field by field."""
    link = chain(1)[0]
    texts = ["sidelong audit row", "1", "1", link.at, link.actor, link.verb, link.subject]
    texts += [link.detail, START]
    expected = b"".join(len(t).to_bytes(8, "big") + t.encode("ascii") for t in texts)
    assert canonical_bytes(link) == expected
    assert link.digest == hashlib.sha256(expected).hexdigest()


def test_known_digests_stay_for_ever() -> None:
    """A change here would break every chain in the field.

    Computed once from the description, by other lines than the program's.
    """
    assert START == "192d518c8f74175e0861a7315d3c2a73577a6673438a882d18ed752b7027277f"
    assert chain(3)[-1].digest == "1ab4f12b0c62697ab47509a7c0a264cd625153a93a140790e0d879318df402d1"


def test_chains_of_two_installations_do_not_fit() -> None:
    links = chain(3, genesis("another installation"))
    assert not verify_chain(links, start=START, head=head_of(links)).holds


values = st.one_of(
    st.text(max_size=8), st.integers(), st.booleans(), st.none(), st.lists(st.text(max_size=4))
)


@given(st.dictionaries(st.text(max_size=5), values, max_size=6), st.randoms())
def test_two_ways_to_write_one_row_give_one_hash(detail: dict, random: object) -> None:
    keys = list(detail)
    random.shuffle(keys)  # type: ignore[attr-defined]
    shuffled = {key: detail[key] for key in keys}
    assert canonical_detail(shuffled) == canonical_detail(detail)
    assert json.loads(canonical_detail(detail)) == detail


@given(
    st.tuples(st.text(max_size=6), st.text(max_size=6)),
    st.tuples(st.text(max_size=6), st.text(max_size=6)),
)
def test_text_moved_from_one_field_to_the_next_changes_the_hash(
    one: tuple[str, str], two: tuple[str, str]
) -> None:
    link = chain(1)[0]
    first = digest_of(replace(link, verb=one[0], subject=one[1]))
    second = digest_of(replace(link, verb=two[0], subject=two[1]))
    assert (first == second) == (one == two)


@pytest.mark.parametrize("value", [1.5, {"a": 1}, [1], object()])
def test_a_detail_without_one_form_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        canonical_detail({"value": value})  # type: ignore[dict-item]


def test_an_unknown_version_is_not_taken_on_trust() -> None:
    links = chain(2)
    links[1] = replace(links[1], version=2)
    report = verify_chain(links, start=START, head=head_of(links))
    assert "version 2" in str(report.problems[0])


def rewritten(links: list[Link]) -> list[Link]:
    """What somebody with all rights can do: change a row, and hash everything after it anew."""
    forged: list[Link] = []
    for link in links:
        previous = forged[-1].digest if forged else START
        changed = replace(link, actor="staff:2", previous=previous)
        forged.append(replace(changed, digest=digest_of(changed)))
    return forged


def inserted(links: list[Link]) -> list[Link]:
    fake = replace(links[4], number=6, verb="never happened", previous=links[4].digest)
    fake = replace(fake, digest=digest_of(fake))
    return [*links[:5], fake, *(replace(link, number=link.number + 1) for link in links[5:])]


TAMPERINGS = {
    "edit": lambda links: [*links[:4], replace(links[4], actor="staff:2"), *links[5:]],
    "delete": lambda links: [*links[:4], *links[5:]],
    "insert": inserted,
    "swap": lambda links: [
        *links[:4],
        replace(links[5], number=5),
        replace(links[4], number=6),
        *links[6:],
    ],
    "cut tail": lambda links: links[:-3],
}


@pytest.mark.parametrize("kind", TAMPERINGS)
def test_tampering_is_found_by_the_chain_and_its_head(kind: str) -> None:
    links = chain(10)
    report = verify_chain(TAMPERINGS[kind](links), start=START, head=head_of(links))
    assert not report.holds


def test_a_chain_rewritten_with_its_head_is_found_by_a_head_kept_elsewhere_only() -> None:
    links = chain(10)
    forged = rewritten(links)
    alone = verify_chain(forged, start=START, head=head_of(forged))
    with_copy = verify_chain(
        forged, start=START, head=head_of(forged), outside=[head_of(links[:6])]
    )
    assert alone.holds
    assert [problem.where for problem in with_copy.problems] == ["audit row 6"]


def test_a_cut_below_a_head_kept_elsewhere_is_found_although_the_head_was_moved_too() -> None:
    links = chain(10)
    cut = links[:5]
    report = verify_chain(cut, start=START, head=head_of(cut), outside=[head_of(links)])
    assert "is not there" in str(report.problems[0])


@given(st.integers(0, 9), st.sampled_from(["at", "actor", "verb", "subject", "detail", "previous"]))
def test_any_change_of_any_field_is_found(place: int, name: str) -> None:
    links = chain(10)
    changed = replace(links[place], **{name: getattr(links[place], name) + "x"})
    report = verify_chain(
        [*links[:place], changed, *links[place + 1 :]], start=START, head=head_of(links)
    )
    assert f"audit row {place + 1}" in {problem.where for problem in report.problems}
