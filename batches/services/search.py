"""What does a scanned code or a typed name mean?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.db.models import Count

from batches.core.errors import NurseryError
from batches.models import Taxon, Tray
from batches.services.codes import Found, find_code

#: how many ferns a page of finds shows
MOST_FERNS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFern:
    """A fern whose name fits, with how many of its trays stand."""

    taxon: Taxon
    trays: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Finds:
    """What a text may mean: one thing by its code, else ferns by name and trays by part of a code.

    ``why_not`` says why a text that looks like a code found nothing.
    """

    thing: Found | None
    ferns: tuple[FoundFern, ...]
    trays: tuple[Tray, ...]
    why_not: str


def find(*, text: str) -> Finds:
    """Return what the text means: a code first, then any part of a fern's name; at most 4 queries.

    A text that is part of tray codes finds the active trays that carry it.
    """
    wanted = text.strip()
    if not wanted:
        return Finds(thing=None, ferns=(), trays=(), why_not="")
    why_not = ""
    try:
        return Finds(thing=find_code(wanted), ferns=(), trays=(), why_not="")
    except NurseryError as error:
        why_not = error.message
    ferns = list(Taxon.objects.named_like(wanted)[:MOST_FERNS])
    counted = (
        Tray.objects.active()
        .filter(batch__taxon__in=ferns)
        .values_list("batch__taxon")
        .annotate(trays=Count("pk"))
    )
    standing = Counter(dict(counted))
    trays = Tray.objects.active().filter(code__icontains=wanted).with_fern().order_by("code")
    return Finds(
        thing=None,
        ferns=tuple(FoundFern(taxon=fern, trays=standing[fern.pk]) for fern in ferns),
        trays=tuple(trays[:MOST_FERNS]) if len(wanted) >= 3 else (),
        why_not=why_not,
    )
