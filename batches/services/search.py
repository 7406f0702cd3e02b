"""What does a scanned code or a typed name mean?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q

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
    ferns = (
        Taxon.objects.named_like(wanted)
        .annotate(standing=Count("batches__trays", filter=Q(batches__trays__ended_on__isnull=True)))
        .order_by("-standing", "genus", "species")[:MOST_FERNS]
    )
    trays = Tray.objects.active().filter(code__icontains=wanted).with_fern().order_by("code")
    return Finds(
        thing=None,
        ferns=tuple(FoundFern(taxon=fern, trays=fern.standing) for fern in ferns),
        trays=tuple(trays[:MOST_FERNS]) if len(wanted) >= 3 else (),
        why_not=why_not,
    )


def what_became_of(tray: Tray, *, today: date) -> str:
    """Return in one sentence what became of an ended tray; empty while it stands."""
    if tray.ended_on is None:
        return ""
    children = ", ".join(tray.children.order_by("code").values_list("code", flat=True)[:6])
    days = (today - tray.ended_on).days
    ago = "today" if days == 0 else f"{days} day{'s' if days != 1 else ''} ago"
    what = {
        "cleared": "was cleared: all its plants moved on",
        "dispatched": "was dispatched",
        "discarded": "was discarded",
    }[tray.end]
    cause = f" ({tray.end_cause.replace('_', ' ')})" if tray.end_cause else ""
    into = f" Its plants went into {children}." if children else ""
    return (
        f"Tray {tray.code} {what}{cause} on {tray.ended_on:%d %b %Y}, {ago}.{into} "
        "Take this label away."
    )
