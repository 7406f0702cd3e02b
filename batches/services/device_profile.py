"""How is an authority handed to devices that take it only inside a profile?"""

from __future__ import annotations

import plistlib
import uuid

from cryptography.hazmat.primitives.serialization import Encoding

from batches.services.local_authority import Authority

CONTENT_TYPE = "application/x-apple-aspen-config"
_SPACE = uuid.UUID("8f0c9f0e-2c0a-4b57-9a55-0f6d4a2f7c11")


def device_profile(*, authority: Authority) -> bytes:
    """Return the profile (a property list) that holds nothing but the authority's certificate.

    Its ids come from the certificate, so that the same authority, installed twice, is one entry.
    Keys: the published property list for certificate payloads (`com.apple.security.root`),
    from memory.
    """
    name = str(authority.certificate.subject.rfc4514_string()).removeprefix("CN=")
    one = str(uuid.uuid5(_SPACE, f"certificate {authority.fingerprint}"))
    whole = str(uuid.uuid5(_SPACE, f"profile {authority.fingerprint}"))
    return plistlib.dumps(
        {
            "PayloadType": "Configuration",
            "PayloadVersion": 1,
            "PayloadIdentifier": f"frondbook.authority.{whole}",
            "PayloadUUID": whole.upper(),
            "PayloadDisplayName": name,
            "PayloadDescription": "Lets this device open the nursery's own pages over https.",
            "PayloadContent": [
                {
                    "PayloadType": "com.apple.security.root",
                    "PayloadVersion": 1,
                    "PayloadIdentifier": f"frondbook.authority.{one}",
                    "PayloadUUID": one.upper(),
                    "PayloadDisplayName": name,
                    "PayloadCertificateFileName": "frondbook-authority.cer",
                    "PayloadContent": authority.certificate.public_bytes(Encoding.DER),
                }
            ],
        }
    )
