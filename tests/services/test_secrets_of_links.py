"""Are the secrets of links long, typeable and never kept?"""

from __future__ import annotations

import hashlib
import math

from batches.services import secrets_of_links


def test_a_typed_secret_is_understood_however_it_is_typed() -> None:
    secret = secrets_of_links.new_typed_secret()
    for text in (secret, secret.lower(), secret.replace("-", ""), f" {secret.replace('-', ' ')} "):
        assert secrets_of_links.typed(text) == secret


def test_secrets_are_long_enough_to_be_kept_as_a_plain_hash() -> None:
    # A typed one lives ten minutes; ASVS 5.0 asks 20 bits of such a code, 112 of a lasting one.
    bits = math.log2(len(secrets_of_links.SYMBOLS)) * 16
    assert bits > 75
    assert len(secrets_of_links.new_secret()) * 6 >= 192
    assert len({secrets_of_links.new_secret() for _ in range(100)}) == 100


def test_the_hash_is_sha_256_of_the_secret() -> None:
    assert secrets_of_links.hash_of("moss") == hashlib.sha256(b"moss").hexdigest()
