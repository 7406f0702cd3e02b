"""Which thing does a code on the command line name?"""

from __future__ import annotations

from batches.core.errors import UnknownCode
from batches.models import Taxon
from batches.services.codes import find_code


def fern_named(code: str) -> Taxon:
    """Return the fern of a code; raise `UnknownCode` when it is another thing's."""
    found = find_code(code)
    if not isinstance(found.obj, Taxon):
        raise UnknownCode(f"“{found.code}” is no fern's code.")
    return found.obj
