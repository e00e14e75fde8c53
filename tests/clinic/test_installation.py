"""A clinic's folder."""

from datetime import date
from pathlib import Path

import pytest

from sidelong.clinic.installation import (
    Installation,
    installation_here,
    is_loopback,
    make_installation,
    read_installation,
)
from sidelong.problems import Refused

TODAY = date(2026, 11, 25)


def test_a_new_installation_is_read_as_it_was_made(tmp_path: Path) -> None:
    made = make_installation(
        tmp_path / "clinic", today=TODAY, name='Harbour "Lane"', prefix="HL", demo=True
    )
    assert read_installation(tmp_path / "clinic", surroundings={}) == made
    assert made.exists


def test_no_two_installations_share_an_id_a_secret_or_a_key(tmp_path: Path) -> None:
    one, two = (make_installation(tmp_path / name, today=TODAY) for name in "ab")
    assert one.id != two.id
    assert one.page_secret != two.page_secret
    assert {key.secret for key in one.key_ring().keys}.isdisjoint(
        key.secret for key in two.key_ring().keys
    )


def test_keys_can_lie_in_another_folder(tmp_path: Path) -> None:
    make_installation(tmp_path / "clinic", today=TODAY, keys=tmp_path / "stick")
    surroundings = {"SIDELONG_KEYS": str(tmp_path / "stick")}
    found = read_installation(tmp_path / "clinic", surroundings=surroundings)
    assert found.key_ring().keys
    assert not (tmp_path / "clinic" / "keys").exists()


def test_an_installation_is_never_made_over_another(tmp_path: Path) -> None:
    make_installation(tmp_path, today=TODAY)
    with pytest.raises(Refused, match="holds an installation"):
        make_installation(tmp_path, today=TODAY)


def test_a_folder_that_is_none_is_refused_with_a_remedy(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="no such file"):
        read_installation(tmp_path, surroundings={})


def test_an_unknown_setting_is_named(tmp_path: Path) -> None:
    make_installation(tmp_path, today=TODAY)
    path = tmp_path / "installation.toml"
    path.write_text(path.read_text(encoding="utf-8") + "debug = true\n", encoding="utf-8")
    with pytest.raises(Refused, match="debug"):
        read_installation(tmp_path, surroundings={})


def test_without_a_folder_nothing_exists_and_no_secret_stays() -> None:
    one, two = installation_here({}), installation_here({})
    assert not one.exists
    assert one.page_secret != two.page_secret


@pytest.mark.parametrize(
    ("settings", "named"),
    [
        ({"prefix": "harbour"}, "prefix"),
        ({"time_zone": "Europe/Nowhere"}, "time_zone"),
        ({"hosts": ("*",)}, "hosts"),
        ({"hosts": ()}, "hosts"),
        ({"demo": True, "hosts": ("clinic.example",)}, "demo"),
        ({"idle_minutes": 600}, "idle_minutes"),
        ({"photograph_days": 0}, "photograph_days"),
    ],
)
def test_settings_that_cannot_be_used_are_refused(
    settings: dict[str, object], named: str, tmp_path: Path
) -> None:
    with pytest.raises(Refused, match=f"installation.toml, {named}"):
        Installation(tmp_path, tmp_path, id="x", **settings)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("host", "expected"),
    [
        ("localhost", True),
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("[::1]", True),
        ("0.0.0.0", False),
        ("192.168.1.4", False),
        ("clinic.example", False),
        ("localhost.example", False),
    ],
)
def test_only_this_computer_is_loopback(host: str, expected: bool) -> None:
    assert is_loopback(host) is expected
