"""How does a test browse a nursery served over https, under a name, by its own authority?

The name is mapped to loopback inside the browser, which trusts the nursery's authority as a device
does that was set up, and nothing is ignored. localhost would hide every failure of a real network.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from batches.services.local_authority import Authority, folder_of, in_pem, keep_secret_file
from tests.running_nursery import RunningNursery

NAME = "fernery.home.arpa"
#: a public name, for which the nursery's authority may not vouch
PUBLIC_NAME = "ferns.example.com"
MAPPED = f"--host-resolver-rules=MAP {NAME} 127.0.0.1,MAP {PUBLIC_NAME} 127.0.0.1"


def trust_in(home: Path, authority: Path) -> None:
    """Let a browser whose home this is trust an authority, as its settings page would."""
    certutil = shutil.which("certutil")
    if certutil is None:
        pytest.skip("no certutil (libnss3-tools), with which a browser is told whom to trust")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    base = [certutil, "-d", f"sql:{store}"]
    asked = [
        [*base, "-N", "--empty-password"],
        [*base, "-A", "-n", "nursery", "-t", "C,,", "-i", str(authority)],
    ]
    for words in asked:
        subprocess.run(words, check=True, capture_output=True, timeout=30)


def serve_by_name(data: Path, *more: str) -> RunningNursery:
    """Start a nursery as one on a network, under the mapped name, on loopback alone."""
    nursery = RunningNursery(data, more_environment={"NURSERY_HOSTS": NAME})
    nursery.start("--lan", "--host", "127.0.0.1", *more)
    assert urlsplit(nursery.url).hostname == NAME
    return nursery


def serve_over_https(data: Path, authority: Authority) -> RunningNursery:
    """Start a nursery whose authority the test's browser trusts already."""
    keep_secret_file(
        folder_of(data) / "authority.pem", in_pem(authority.certificate, authority.key)
    )
    return serve_by_name(data)
