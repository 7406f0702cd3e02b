"""Does the nursery's own choice of a name come first, and is nothing named twice?"""

from __future__ import annotations

import socket

import pytest

from batches.services import lan_names
from batches.services.own_settings import set_own

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with a name of its own and an address on its network."""
    monkeypatch.setattr(socket, "gethostname", lambda: "FernHost.example.org")
    monkeypatch.setattr(lan_names, "own_address", lambda: "192.168.1.20")


def test_without_a_choice_the_address_on_the_network_comes_first() -> None:
    assert lan_names.called_on_the_network() == (
        "192.168.1.20", "127.0.0.1", "localhost", "fernhost.local", "fernhost.example.org",
    )  # fmt: skip


def test_what_the_nursery_chose_comes_first() -> None:
    set_own(name="lan_name", value="fernery.home.arpa")
    set_own(name="lan_address", value="192.168.1.7")
    called = lan_names.called_on_the_network(more=("Other.lan", "fernery.home.arpa"))
    assert called[:4] == ("fernery.home.arpa", "other.lan", "192.168.1.7", "192.168.1.20")
    assert len(set(called)) == len(called)


def test_a_server_that_listens_to_one_address_is_not_called_by_another() -> None:
    called = lan_names.called_on_the_network(listens_at="10.0.0.3")
    assert called[0] == "10.0.0.3"
    assert "192.168.1.20" not in called


def test_a_machine_whose_name_is_no_hosts_name_is_called_by_address_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "fern_host")
    assert lan_names.own_names() == ()


def test_a_machine_without_a_network_has_no_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()

    def no_way(*_: object) -> None:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(socket.socket, "connect", no_way)
    assert lan_names.own_address() == ""
