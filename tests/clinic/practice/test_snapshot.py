"""Values as canonical JSON, and the digests over them."""

import hashlib
import json
from dataclasses import replace
from typing import Any

from sidelong.clinic.practice.answers import Answer, answer, fingerprint_of
from sidelong.clinic.practice.evidence import evidence_of
from sidelong.clinic.practice.snapshot import canonical, digest, to_plain
from sidelong.training.event import Event
from sidelong.training.safety import Tier


def test_an_answer_comes_back_from_its_text_to_the_last_digit(
    course: Any, plan: Any, keep: Any, cast: Any
) -> None:
    keep(cast.invent_nights(plan, is_patchy=True))
    said = answer(evidence_of(course))
    again = Answer.from_content(json.loads(said.content))
    assert again == said
    assert again.content == said.content


def test_one_value_has_one_text() -> None:
    assert canonical({"b": 1, "a": [0.1, None, "ü"]}) == '{"a":[0.1,null,"ü"],"b":1}'


def test_a_digest_is_sha_256_over_framed_parts() -> None:
    """FIPS 180-4, as the standard library has it; frames are eight bytes, big end first."""
    framed = b"".join(len(part).to_bytes(8, "big") + part for part in (b"kind", b"one", b"two"))
    assert digest("kind", "one", "two") == hashlib.sha256(framed).hexdigest()
    assert digest("kind", "onet", "wo") != digest("kind", "one", "two")


def test_the_fingerprint_changes_with_anything_that_figures_rest_on(
    course: Any, plan: Any, keep: Any, cast: Any
) -> None:
    keep(cast.invent_nights(plan)[:6])
    evidence = evidence_of(course)
    event = Event(cast.CODE, 2, Tier.STOP_TONIGHT)
    others = [
        replace(evidence, evenings=evidence.evenings[1:]),
        replace(evidence, events=(event,)),
        replace(evidence, plan=replace(plan, version=2)),
    ]
    known = {fingerprint_of(each) for each in (evidence, *others)}
    assert len(known) == 4
    assert fingerprint_of(evidence_of(course)) == fingerprint_of(evidence)


def test_dates_and_words_become_text(course: Any) -> None:
    plain = to_plain(evidence_of(course))
    assert json.loads(canonical(plain)) == plain
