"""Which ferns among these need papers where plants or spores leave?"""

from __future__ import annotations

from collections.abc import Sequence

from batches.core.protection import protection_words
from batches.models import LaidOutTray, SporeLot, Taxon, Tray

_CHUNK = 400


def protection_of(taxon: Taxon) -> str:
    """Return the reminder for a fern: what is noted of it, or of its genus; empty without any."""
    return protection_words(genus=taxon.genus, species=taxon.species, noted=taxon.protection)


def protected_among(*, codes: Sequence[str]) -> dict[str, str]:
    """Return, by the fern's name, the reminders for trays, codes laid out and lots."""
    found: dict[str, str] = {}
    for start in range(0, len(codes), _CHUNK):
        some = codes[start : start + _CHUNK]
        ferns = Taxon.objects.none()
        for model, path in ((Tray, "batch__taxon"), (LaidOutTray, "batch__taxon"),
                            (SporeLot, "taxon")):  # fmt: skip
            ids = model._default_manager.filter(code__in=some).values(path)
            ferns = ferns | Taxon.objects.filter(pk__in=ids)
        for fern in ferns.distinct().order_by("code"):
            words = protection_of(fern)
            if words:
                found[fern.name.text] = words
    return found
