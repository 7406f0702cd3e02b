"""Which names and addresses belong to a private network, and which text is one at all?"""

from __future__ import annotations

import re
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network

#: names that no public server answers to: RFC 6762 (local), RFC 8375 (home.arpa), ICANN board
#: resolution 2024.07.29.06 (internal, from memory), RFC 6761 (localhost); lan is what many
#: routers hand out, common practice, no source
PRIVATE_DOMAINS = ("local", "home.arpa", "internal", "lan", "localhost")
#: RFC 1918, RFC 3927, RFC 1122 3.2.1.3 g, RFC 4193, RFC 4291
PRIVATE_NETWORKS: tuple[IPv4Network | IPv6Network, ...] = tuple(
    ip_network(network)
    for network in (
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "169.254.0.0/16",
        "127.0.0.0/8",
        "fc00::/7",
        "fe80::/10",
        "::1/128",
    )
)
# One part of a name: letters, digits and hyphens, none at its ends (RFC 1123, 2.1).
_PART = r"[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
_NAME = re.compile(rf"{_PART}(?:\.{_PART})*")


def address_in(text: str) -> IPv4Address | IPv6Address | None:
    """Return the numeric address that a text is, in brackets or not; None where it is none."""
    try:
        return ip_address(text.strip().removeprefix("[").removesuffix("]"))
    except ValueError:
        return None


def is_name(text: str) -> bool:
    """Say whether a text is a host's name, like fernery.home.arpa (RFC 1123); no address is one."""
    lower = text.lower()
    numeric = lower.rpartition(".")[2].isdigit()
    return len(lower) <= 253 and not numeric and _NAME.fullmatch(lower) is not None


def is_private(text: str) -> bool:
    """Say whether a name or a numeric address belongs to private networks alone."""
    address = address_in(text)
    if address is not None:
        return any(address in network for network in PRIVATE_NETWORKS)
    lower = text.lower()
    return is_name(lower) and any(
        lower == domain or lower.endswith(f".{domain}") for domain in PRIVATE_DOMAINS
    )
