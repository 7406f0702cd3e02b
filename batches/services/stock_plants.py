"""Where does material come from, and were the sori of a stock plant looked at?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import Batch, Bench, Source, SporeLot, Taxon
from batches.models.source import PROVENANCES, SOURCE_KINDS
from batches.services.codes import find_tray, give_kind_code, take_own_code
from batches.services.days import day_words, local_day
from batches.services.ferns import require_weeks
from batches.services.overdue_elsewhere import sori_lines
from batches.services.stored_forms import made_before, note_made
from batches.services.tray_life import require_day

#: origins that stand on a bench of ours
STANDING_KINDS = frozenset({"stock_plant", "pooled"})


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginFacts:
    """What is set down of an origin; weeks are ISO weeks in which its sori ripen, or None.

    ``mothers`` names the plants pooled, or holds the code of the tray that a form was selected in.
    """

    kind: str
    provenance: str
    mothers: str = ""
    bench: Bench | None = None
    locality: str = ""
    permit: str = ""
    supplier: str = ""
    passport: str = ""
    ripe_from_week: int | None = None
    ripe_to_week: int | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginStored:
    """A stored origin; ``warning`` is empty or what to know before collecting from it."""

    source: Source
    message: str
    warning: str


def note_origin(
    *,
    taxon: Taxon,
    facts: OriginFacts,
    now: datetime,
    own_code: str = "",
    record_id: UUID | None = None,
) -> OriginStored:
    """Store an origin; its code is given out unless one is brought.

    Parameters
    ----------
    now : datetime
        A given-out code names the year of the nursery's day.
    record_id : UUID, optional
        Made where the form was filled in; sent again with it, nothing is stored twice.

    Raises
    ------
    NotUnderstood, NotPossibleNow, UnknownCode
        When a fact makes no sense or one that the kind needs is missing.
    AlreadyTaken, BadCode
        When the nursery's own code cannot be taken.
    """
    columns = _columns(taxon, facts)
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="source")
        if again:
            return _noted(Source.objects.select_related("taxon").get(code=again))
        code = (
            take_own_code(code=own_code, kind="source")
            if own_code.strip()
            else give_kind_code(kind="source", year=local_day(now).year)
        )
        source = Source.objects.create(code=code, taxon=taxon, **columns)
        note_made(record_id=record_id, kind="source", code=code, now=now)
    return _noted(source)


def _noted(source: Source) -> OriginStored:
    words = f"Origin {source.code} stored."
    if source.kind in STANDING_KINDS:
        words += " Put a label with the code on the plant now."
    return OriginStored(source=source, message=words, warning=origin_warning(source=source))


def change_origin(*, source: Source, facts: OriginFacts) -> OriginStored:
    """Store what is noted of an origin anew; its code and its fern stay. Errors as above."""
    columns = _columns(source.taxon, facts)
    Source.objects.filter(pk=source.pk).update(**columns)
    source.refresh_from_db()
    return OriginStored(
        source=source,
        message=f"Origin {source.code} is noted anew.",
        warning=origin_warning(source=source),
    )


def look_at_sori(*, source: Source, on: date, now: datetime) -> Source:
    """Note that somebody looked whether the sori are ripe; the latest day counts.

    Raises
    ------
    OutOfTime
        When the day lies in the future, or before the last look.
    NotPossibleNow
        When no ripening weeks are noted, so that nothing asks for the look.
    """
    require_day(on, now=now)
    if source.ripe_weeks is None:
        raise NotPossibleNow(
            f"No ripening weeks are noted for {source.code}. Note them first; then Today asks "
            "for the look each season."
        )
    rows = Source.objects.filter(pk=source.pk)
    before = source.sori_looked_on
    if before is not None and on < before:
        raise OutOfTime(
            f"The sori were looked at on {day_words(before)} already. Nothing was changed.",
            field="on",
        )
    rows.update(sori_looked_on=on)
    source.refresh_from_db()
    return source


def sori_due(*, source: Source, on: date) -> str:
    """Return why the sori are to be looked at on a day; empty when nothing asks for it."""
    return next((line.reason for line in sori_lines(on=on) if line.code == source.code), "")


def origin_warning(*, source: Source) -> str:
    """Return what to know before collecting or dividing; empty when there is nothing."""
    words = []
    if source.taxon.protection:
        words.append(f"Protection: {source.taxon.protection}.")
    if source.kind == "wild" and not source.permit:
        words.append("Wild material without a permit noted: ask the owner and the authority.")
    return " ".join(words)


def came_of(*, source: Source) -> tuple[list[SporeLot], list[Batch]]:
    """Return the lots collected and the batches started from an origin itself, newest first."""
    return list(source.spore_lots.all()), list(source.batches.all())


def _columns(taxon: Taxon, facts: OriginFacts) -> dict[str, object]:
    if facts.kind not in dict(SOURCE_KINDS):
        raise NotUnderstood("Say what kind of origin it is.", field="kind")
    if facts.provenance not in dict(PROVENANCES):
        raise NotUnderstood("Say how it stands to wild plants.", field="provenance")
    ripe = (facts.ripe_from_week, facts.ripe_to_week)
    require_weeks(*ripe, fields=("ripe_from_week", "ripe_to_week"))
    _require_what_the_kind_needs(facts)
    mothers = " ".join(facts.mothers.split())
    if facts.kind == "tray":
        mothers = _tray_of(taxon, mothers)
    return {
        "kind": facts.kind,
        "provenance": facts.provenance,
        "mothers": mothers,
        "bench": facts.bench,
        "locality": facts.locality.strip(),
        "permit": facts.permit.strip(),
        "supplier": facts.supplier.strip(),
        "passport": facts.passport.strip(),
        "ripe_from_week": facts.ripe_from_week,
        "ripe_to_week": facts.ripe_to_week,
        "notes": facts.notes.strip(),
    }


def _require_what_the_kind_needs(facts: OriginFacts) -> None:
    needs: Sequence[tuple[str, str, str, str]] = (
        ("purchase", "supplier", facts.supplier, "From whom was it bought?"),
        ("exchange", "supplier", facts.supplier, "From whom did it come?"),
        ("wild", "locality", facts.locality, "Say where it grows, as closely as you may."),
        ("pooled", "mothers", facts.mothers, "Name the plants whose spores were pooled."),
        ("tray", "mothers", facts.mothers, "Give the code of the tray it was selected in."),
    )
    for kind, field, text, words in needs:
        if facts.kind == kind and not text.strip():
            raise NotUnderstood(words, field=field)
    if facts.kind == "wild" and facts.provenance in {"G"}:
        raise NotUnderstood(
            "A wild place is of wild origin. Choose that, or another kind of origin.",
            field="provenance",
        )
    if facts.bench is not None and facts.kind not in STANDING_KINDS:
        raise NotPossibleNow("Only stock plants stand on a bench of yours.", field="bench")


def _tray_of(taxon: Taxon, text: str) -> str:
    tray = find_tray(text)
    if tray.batch.taxon_id != taxon.pk:
        raise NotPossibleNow(
            f"Tray {tray.code} holds {tray.batch.taxon.name.text}, not {taxon.name.text}.",
            field="mothers",
        )
    return tray.code
