"""What was mixed, of which parts, and was it made clean?"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Count

from batches.core.errors import AlreadyTaken, NotUnderstood, OutOfTime
from batches.models import Batch, Medium, MediumBatch, Tray
from batches.services.codes import give_kind_code, take_own_code
from batches.services.days import local_day
from batches.services.stored_forms import made_before, note_made
from batches.services.tray_life import require_day

#: every part of the mass at this heat for so long (University of California Manual 23, from memory)
PASTEURISED_C = 60.0
PASTEURISED_MINUTES = 30.0
_PART = re.compile(r"([A-Za-z][A-Za-z_-]*):(\d+(?:\.\d+)?)\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class MediumMade:
    """A stored mixing; ``warning`` is empty or says what its treatment leaves open."""

    medium: MediumBatch
    message: str
    warning: str


def tidy_recipe(text: str) -> str:
    """Return a recipe as the records write it: ``peat:2 perlite:1``, parts by volume.

    Raises
    ------
    NotUnderstood
        When a part is no ``name:number``, a number is 0, or a name comes twice.
    """
    words = re.sub(r"\s*:\s*", ":", text.replace(",", " ")).split()
    names: list[str] = []
    for word in words:
        match = _PART.match(word)
        if match is None or float(match.group(2)) <= 0:
            raise NotUnderstood(
                f"“{word[:40]}” is no part of a recipe. Write parts by volume like "
                "peat:2 perlite:1.",
                field="recipe",
            )
        names.append(match.group(1).lower())
    if not names:
        raise NotUnderstood("A recipe needs at least one part.", field="recipe")
    if len(set(names)) < len(names):
        raise NotUnderstood("A part is named twice in this recipe.", field="recipe")
    return " ".join(word.lower() for word in words)


def mix_medium(
    *,
    recipe: str,
    made_on: date,
    now: datetime,
    litres: float | None = None,
    treatment: str = "",
    temperature_c: float | None = None,
    minutes: float | None = None,
    cooled_at: datetime | None = None,
    bag_number: str = "",
    notes: str = "",
    own_code: str = "",
    keep_as: str = "",
    record_id: UUID | None = None,
) -> MediumMade:
    """Store one mixing of a recipe with its heat treatment.

    Parameters
    ----------
    keep_as : str
        A name under which the recipe is kept to be mixed again; empty to keep none.
    record_id : UUID, optional
        Made where the form was filled in; sent again with it, nothing is stored twice.

    Raises
    ------
    NotUnderstood
        When the recipe or an amount cannot be read.
    OutOfTime
        When the day lies in the future, or it cooled before it was made.
    AlreadyTaken, BadCode
        When the nursery's own code, or the name of the recipe, cannot be taken.
    """
    require_day(made_on, now=now, field="made_on")
    if litres is not None and litres <= 0:
        raise NotUnderstood("Litres are more than 0.", field="litres")
    if temperature_c is not None and not 0 <= temperature_c <= 200:
        raise NotUnderstood("The temperature is 0 to 200 °C.", field="temperature_c")
    if minutes is not None and minutes < 0:
        raise NotUnderstood("Minutes are 0 or more.", field="minutes")
    if cooled_at is not None and (cooled_at > now or local_day(cooled_at) < made_on):
        raise OutOfTime(
            "It cooled after it was made, and not in the future. Nothing was stored; look at the "
            "time again.",
            field="cooled_at",
        )
    parts = tidy_recipe(recipe)
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="medium")
        if again:
            return _made(MediumBatch.objects.get(code=again))
        if keep_as.strip():
            keep_recipe(name=keep_as, recipe=parts)
        code = (
            take_own_code(code=own_code, kind="medium")
            if own_code.strip()
            else give_kind_code(kind="medium", year=made_on.year)
        )
        medium = MediumBatch.objects.create(
            code=code,
            recipe=parts,
            treatment=treatment.strip(),
            temperature_c=temperature_c,
            minutes=minutes,
            made_on=made_on,
            cooled_at=cooled_at,
            litres=litres,
            bag_number=bag_number.strip(),
            notes=notes.strip(),
        )
        note_made(record_id=record_id, kind="medium", code=medium.code, now=now)
    return _made(medium)


def keep_recipe(*, name: str, recipe: str) -> Medium:
    """Keep a recipe under a name, to be mixed again.

    Raises
    ------
    AlreadyTaken
        When another recipe carries the name.
    """
    wanted, parts = " ".join(name.split()), tidy_recipe(recipe)
    kept = Medium.objects.filter(name__iexact=wanted).first()
    if kept is not None and kept.recipe != parts:
        raise AlreadyTaken(
            f"The recipe “{kept.name}” is {kept.recipe} already. Nothing was stored; choose "
            "another name.",
            field="keep_as",
        )
    return kept or Medium.objects.create(name=wanted, recipe=parts)


def recipes() -> list[Medium]:
    """Return the recipes that were kept, by name."""
    return list(Medium.objects.all())


def _made(medium: MediumBatch) -> MediumMade:
    return MediumMade(
        medium=medium,
        message=f"Medium batch {medium.code} stored. Cool it covered and sow the same day.",
        warning=heat_words(medium),
    )


def heat_words(medium: MediumBatch) -> str:
    """Return what the logged heat leaves open against 60 °C for 30 minutes; empty when it held."""
    if medium.temperature_c is None or medium.minutes is None:
        return "" if not medium.treatment else "No temperature and time are logged."
    if medium.temperature_c < PASTEURISED_C or medium.minutes < PASTEURISED_MINUTES:
        return (
            f"{medium.temperature_c:g} °C for {medium.minutes:g} min is less than "
            f"{PASTEURISED_C:g} °C for {PASTEURISED_MINUTES:g} min: spores of moulds and weeds may "
            "live on."
        )
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MediumRow:
    """A mixing with how many batches and trays stand on it, and what its heat leaves open."""

    medium: MediumBatch
    batches: int
    trays: int
    warning: str


def medium_rows(*, media: Sequence[MediumBatch]) -> list[MediumRow]:
    """Return the rows of a page's mixings; trays filled with another one than their batch's too."""
    batches = Batch.objects.filter(medium_batch__in=media).values_list("medium_batch")
    own = Tray.objects.filter(medium_batch__in=media).values_list("medium_batch")
    batch_counts = Counter(dict(batches.annotate(many=Count("pk")).order_by()))
    tray_counts = Counter(dict(own.annotate(many=Count("pk")).order_by()))
    return [
        MediumRow(
            medium=medium,
            batches=batch_counts[medium.pk],
            trays=tray_counts[medium.pk],
            warning=heat_words(medium),
        )
        for medium in media
    ]
