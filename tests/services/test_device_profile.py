"""Does the profile hold the authority's certificate, and nothing that changes by itself?"""

from __future__ import annotations

import plistlib
from datetime import datetime
from pathlib import Path

from cryptography import x509

from batches.services.device_profile import device_profile
from batches.services.local_authority import authority_for_serving


def test_the_profile_holds_the_certificate_as_a_root(tmp_path: Path, now: datetime) -> None:
    """Keys and types: a tablet maker's published description of profiles, from memory."""
    authority = authority_for_serving(data=tmp_path, now=now, limited=True)
    found = plistlib.loads(device_profile(authority=authority))
    (content,) = found["PayloadContent"]
    assert content["PayloadType"] == "com.apple.security.root"
    held = x509.load_der_x509_certificate(content["PayloadContent"])
    assert held == authority.certificate
    for part in (found, content):
        for key in ("PayloadIdentifier", "PayloadUUID", "PayloadVersion", "PayloadDisplayName"):
            assert part[key]
    assert found["PayloadUUID"] != content["PayloadUUID"]
    assert found["PayloadDisplayName"].startswith("Frondbook authority ")


def test_the_same_authority_gives_the_same_profile_and_another_another(
    tmp_path: Path, now: datetime
) -> None:
    one = authority_for_serving(data=tmp_path, now=now, limited=True)
    other = authority_for_serving(data=tmp_path / "other", now=now, limited=True)
    assert device_profile(authority=one) == device_profile(authority=one)
    ids = {plistlib.loads(device_profile(authority=each))["PayloadUUID"] for each in (one, other)}
    assert len(ids) == 2
