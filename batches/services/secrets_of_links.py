"""How is a secret made that opens a door, and how is it kept?

Only its hash is stored. The secrets are random and long (79 bits and more), so a plain SHA-256 is
enough: there is nothing to guess from a copy of the database.
"""

from __future__ import annotations

import hashlib
import secrets

from batches.core.codes import CHECK_LETTERS

#: What a typed secret is made of: no I, O, Q, 0, 1.
SYMBOLS = CHECK_LETTERS + "23456789"
GROUPS, GROUP_LENGTH = 4, 4


def new_secret() -> str:
    """Give a secret for an address or a cookie: 192 bits."""
    return secrets.token_urlsafe(24)


def new_typed_secret() -> str:
    """Give a secret that can be typed from another screen: four groups of four, 79 bits."""
    groups = ["".join(secrets.choice(SYMBOLS) for _ in range(GROUP_LENGTH)) for _ in range(GROUPS)]
    return "-".join(groups)


def typed(text: str) -> str:
    """Give a typed secret the form in which it was made, whatever its case, spaces and hyphens."""
    letters = "".join(letter for letter in text.upper() if letter.isalnum())
    return "-".join(letters[at : at + GROUP_LENGTH] for at in range(0, len(letters), GROUP_LENGTH))


def hash_of(secret: str) -> str:
    """Give what is stored in the secret's place: 64 hexadecimal digits."""
    return hashlib.sha256(secret.encode()).hexdigest()
