"""Are names of private networks told from public ones, and from what is no name at all?"""

from __future__ import annotations

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.core.local_names import (
    PRIVATE_NETWORKS,
    address_in,
    is_name,
    is_private,
)


@pytest.mark.parametrize(
    "text",
    [
        "fernery.local",  # RFC 6762
        "nursery.home.arpa",  # RFC 8375
        "Fernery.Home.Arpa",
        "ferns.internal",
        "box.lan",  # common practice, no source
        "localhost",  # RFC 6761
        "10.0.0.7", "172.16.0.1", "172.31.255.254", "192.168.1.20",  # RFC 1918
        "169.254.3.4",  # RFC 3927
        "127.0.0.1", "::1", "[::1]",
        "fd12:3456::1",  # RFC 4193
        "fe80::1",
    ],
)  # fmt: skip
def test_a_private_name_or_address_is_known(text: str) -> None:
    assert is_private(text)


@pytest.mark.parametrize(
    "text",
    [
        "www.example.com", "example.org", "local.example.com", "notlocal", "fernhost",
        "172.32.0.1", "172.15.255.255", "192.169.0.1", "11.0.0.1", "8.8.8.8", "2001:db8::1",
        "", "a b.local", "-x.local", "x-.local", "under_score.local", "..local", "x" * 64 + ".lan",
    ],
)  # fmt: skip
def test_a_public_one_and_what_is_no_name_is_not_private(text: str) -> None:
    assert not is_private(text)


@pytest.mark.parametrize(
    ("text", "is_one"),
    # RFC 1123, 2.1: letters, digits, hyphens; 63 to a part, 253 in all (RFC 1035, 2.3.4)
    [
        ("fernery.home.arpa", True), ("a", True), ("3ferns.local", True), ("x" * 63, True),
        ("x" * 64, False), ("a." * 127 + "b", False), ("ferns:8000", False),
        ("https://ferns.local", False), ("ferns.local/x", False), ("192.168.1.20", False),
        ("1.2.3", False), ("ferns.", False),
    ],
)  # fmt: skip
def test_a_name_is_told_from_what_is_none(text: str, is_one: bool) -> None:
    assert is_name(text) is is_one


@given(st.ip_addresses())
def test_an_address_is_private_where_pythons_own_library_says_so(
    address: ipaddress.IPv4Address | ipaddress.IPv6Address,
) -> None:
    """What is private here is so to the standard library, which knows further reserved ones."""
    if is_private(str(address)):
        assert address.is_private or address.is_link_local or address.is_loopback
    assert address_in(str(address)) == address


def test_the_networks_are_those_of_the_standards_to_their_ends() -> None:
    for network in PRIVATE_NETWORKS:
        assert is_private(str(network[0]))
        assert is_private(str(network[-1]))
        if network.network_address != ipaddress.ip_address("::1"):
            assert not is_private(str(network[0] - 1))
            assert not is_private(str(network[-1] + 1))
