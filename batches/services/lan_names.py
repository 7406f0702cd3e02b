"""By which names and addresses do tablets on the network call this computer, the best first?"""

from __future__ import annotations

import socket

from batches.core.local_names import is_name
from batches.services.own_settings import own_setting


def own_address() -> str:
    """Return the numeric address this computer has on its network; empty where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Connecting a datagram socket sends nothing; it only chooses the way out.
            probe.connect(("192.0.2.1", 9))
            found: str = probe.getsockname()[0]
        except OSError:
            return ""
    return found


def own_names() -> tuple[str, ...]:
    """Return the names the system itself gives this computer, the one it announces first."""
    name = socket.gethostname().lower()
    announced = f"{name.partition('.')[0]}.local"
    return tuple(one for one in (announced, name) if is_name(one))


def called_on_the_network(*, more: tuple[str, ...] = (), listens_at: str = "") -> tuple[str, ...]:
    """Return every name and address by which this computer may be called, the best first.

    First what the nursery chose (its settings, then ``more``: names set for this machine), then
    the address that is listened to (without one, that which the network gave), this machine alone,
    and the names its system gives it.
    """
    chosen = [own_setting("lan_name"), *more, own_setting("lan_address")]
    found = [*chosen, listens_at or own_address(), "127.0.0.1", "localhost", *own_names()]
    return tuple(dict.fromkeys(host.lower() for host in found if host))
