"""How does a lot of spores come in, dry, get clean and go into the drawer?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import F

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.core.lot_age import DRYING_DAYS, sow_by
from batches.models import Batch, Source, SporeLot
from batches.services.codes import give_kind_code, take_own_code
from batches.services.days import day_words
from batches.services.protection import protection_of
from batches.services.stored_forms import made_before, note_made
from batches.services.suspicion import lots_under_suspicion
from batches.services.tray_life import require_day

#: drying between these days is nothing to warn of; published spans run from one night to a
#: fortnight (several leaflets and handbooks), common practice 4 to 5 days
DRYING_WITHIN = (1, 14)


@dataclass(frozen=True, slots=True, kw_only=True)
class LotStored:
    """What a deed did to a lot; ``warning`` is empty or a sentence to read before going on."""

    lot: SporeLot
    message: str
    warning: str = ""


def collect_lot(
    *,
    source: Source,
    collected_on: date,
    by: str,
    now: datetime,
    method: str = "",
    ripeness: str = "",
    laid_out_to_dry: bool = True,
    notes: str = "",
    own_code: str = "",
    record_id: UUID | None = None,
) -> LotStored:
    """Store a collection of spores from one origin; its code is given out unless one is brought.

    Parameters
    ----------
    record_id : UUID, optional
        Made where the form was filled in; sent again with it, nothing is stored twice.

    Raises
    ------
    OutOfTime
        When the day lies in the future.
    AlreadyTaken, BadCode
        When the nursery's own code cannot be taken.
    """
    require_day(collected_on, now=now, field="collected_on")
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="lot")
        if again:
            return _collected(SporeLot.objects.select_related("taxon", "source").get(code=again))
        code = (
            take_own_code(code=own_code, kind="lot")
            if own_code.strip()
            else give_kind_code(kind="lot", year=collected_on.year)
        )
        lot = SporeLot.objects.create(
            code=code,
            taxon=source.taxon,
            source=source,
            collected_on=collected_on,
            collected_by=by.strip(),
            method=method,
            ripeness=ripeness.strip(),
            drying_since=collected_on if laid_out_to_dry else None,
            sow_by=sow_by(
                spore_kind=source.taxon.spore_kind,
                collected_on=collected_on,
                own_days=source.taxon.sow_by_days,
            ),
            notes=notes.strip(),
        )
        note_made(record_id=record_id, kind="lot", code=lot.code, now=now)
    return _collected(lot)


def clean_lot(
    *,
    lot: SporeLot,
    cleaned_on: date,
    now: datetime,
    mass_mg: float | None = None,
    storage: str = "",
) -> LotStored:
    """Note that the lot was cleaned, what it weighs and how it is kept.

    Raises
    ------
    NotPossibleNow
        When it was cleaned before, or ended.
    OutOfTime, NotUnderstood
        When the day lies before the collection or in the future, or the mass is negative.
    """
    require_day(cleaned_on, now=now, field="cleaned_on")
    _require_kept(lot)
    if cleaned_on < lot.collected_on:
        raise OutOfTime(
            f"Lot {lot.code} was collected on {day_words(lot.collected_on)}; it cannot have been "
            "cleaned before. Nothing was stored.",
            field="cleaned_on",
        )
    _require_mass(mass_mg)
    rows = SporeLot.objects.filter(pk=lot.pk, cleaned_on__isnull=True)
    if not rows.update(
        cleaned_on=cleaned_on, mass_mg=mass_mg, remaining_mg=mass_mg, storage=storage.strip()
    ):
        raise NotPossibleNow(f"Lot {lot.code} was cleaned already. Nothing was changed.")
    lot.refresh_from_db()
    return LotStored(
        lot=lot, message=f"Lot {lot.code} is clean and stored.", warning=_dried_words(lot)
    )


def use_from_lot(*, lot: SporeLot, mg: float) -> None:
    """Take spores out of a lot whose mass is known; more than it holds is refused."""
    _require_mass(mg, field="sown_mg")
    if lot.remaining_mg is None:
        return
    rows = SporeLot.objects.filter(pk=lot.pk, remaining_mg__gte=mg)
    if not rows.update(remaining_mg=F("remaining_mg") - mg):
        raise NotPossibleNow(
            f"Lot {lot.code} holds {lot.remaining_mg:g} mg; {mg:g} mg cannot be taken. Nothing "
            "was stored; weigh it again or take less.",
            field="sown_mg",
        )


def end_lot(*, lot: SporeLot, on: date, now: datetime, why: str) -> LotStored:
    """Note that the lot is used up or thrown away; its history and its batches stay."""
    require_day(on, now=now)
    rows = SporeLot.objects.filter(pk=lot.pk, ended_on__isnull=True)
    note = f"{day_words(on)}: ended, {why.strip() or 'no reason given'}."
    notes = f"{lot.notes}\n{note}".strip()
    if not rows.update(ended_on=on, notes=notes):
        raise NotPossibleNow(f"Lot {lot.code} has ended already. Nothing was changed.")
    lot.refresh_from_db()
    return LotStored(lot=lot, message=f"Lot {lot.code} has ended; its batches go on.")


def mend_lot(
    *,
    lot: SporeLot,
    remaining_mg: float | None,
    sow_by_day: date | None,
    storage: str,
    collected_by: str,
    ripeness: str,
    notes: str,
) -> LotStored:
    """Note anew what is left of a lot, how it is kept and by when to sow it.

    Raises
    ------
    NotUnderstood
        When the mass is out of range.
    OutOfTime
        When the sow-by lies before the collection.
    """
    _require_mass(remaining_mg, field="remaining_mg")
    if sow_by_day is not None and sow_by_day < lot.collected_on:
        raise OutOfTime(
            f"Lot {lot.code} was collected on {day_words(lot.collected_on)}; its sow-by cannot lie "
            "before. Nothing was changed.",
            field="sow_by",
        )
    SporeLot.objects.filter(pk=lot.pk).update(
        remaining_mg=remaining_mg,
        sow_by=sow_by_day,
        storage=storage.strip(),
        collected_by=collected_by.strip(),
        ripeness=ripeness.strip(),
        notes=notes.strip(),
    )
    lot.refresh_from_db()
    return LotStored(lot=lot, message=f"Lot {lot.code} is noted anew.")


def batches_of(*, lot: SporeLot) -> list[Batch]:
    """Return the batches sown from the lot, the oldest first."""
    return list(lot.batches.select_related("taxon").order_by("started_on", "code"))


def sow_by_of(lot: SporeLot) -> date:
    """Return the day by which to sow a lot: as it was set, else after its fern's days."""
    return lot.sow_by or sow_by(
        spore_kind=lot.taxon.spore_kind,
        collected_on=lot.collected_on,
        own_days=lot.taxon.sow_by_days,
    )


def sowing_warning(*, lot: SporeLot, on: date) -> str:
    """Return what to know before sowing from the lot on a day; empty when there is nothing.

    It ended, it is past its sow-by, it is not clean, another fern came up in it, its fern is
    protected, no permit is noted.
    """
    words = []
    last = sow_by_of(lot)
    if lot.ended_on is not None:
        words.append(f"Lot {lot.code} was ended on {day_words(lot.ended_on)}.")
    if on > last:
        kind = "green spores" if lot.taxon.spore_kind == "green" else "spores"
        words.append(
            f"These {kind} are past their sow-by of {day_words(last)}: sow thickly, or test first."
        )
    if lot.cleaned_on is None:
        words.append("It is not noted as cleaned: chaff among the spores brings mould.")
    if lots_under_suspicion().filter(pk=lot.pk).exists():
        words.append("A rogue fern came up in what was sown from it: it may hold another fern.")
    return " ".join([*words, _protected(lot)]).strip()


def _collected(lot: SporeLot) -> LotStored:
    return LotStored(
        lot=lot,
        message=f"Lot {lot.code} stored. Write the code on its packet now.",
        warning=_protected(lot),
    )


def _protected(lot: SporeLot) -> str:
    words = []
    if protected := protection_of(lot.taxon):
        words.append(f"Protection: {protected}")
    if lot.source.kind == "wild" and not lot.source.permit:
        words.append("Wild material without a permit noted: ask the owner and the authority.")
    return " ".join(words)


def _dried_words(lot: SporeLot) -> str:
    if lot.drying_since is None or lot.cleaned_on is None:
        return ""
    days = (lot.cleaned_on - lot.drying_since).days
    shortest = DRYING_DAYS[lot.taxon.spore_kind]
    if days < shortest:
        return f"It dried for {days} days only; {shortest} are usual. Damp spores mould."
    if days > DRYING_WITHIN[1]:
        return f"It lay drying for {days} days; more than {DRYING_WITHIN[1]} is long."
    return ""


def _require_kept(lot: SporeLot) -> None:
    if lot.ended_on is not None:
        raise NotPossibleNow(
            f"Lot {lot.code} ended on {day_words(lot.ended_on)}. Nothing was changed."
        )


def _require_mass(mass_mg: float | None, *, field: str = "mass_mg") -> None:
    if mass_mg is not None and not 0 <= mass_mg <= 1_000_000:
        raise NotUnderstood(
            "A mass is 0 to 1,000,000 mg. Nothing was stored; weigh it again.", field=field
        )
