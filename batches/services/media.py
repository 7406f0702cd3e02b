"""What was mixed, of which parts, and was it made clean?"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from batches.core.errors import NotUnderstood
from batches.models import MediumBatch
from batches.services.codes import give_kind_code, take_own_code
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
) -> MediumMade:
    """Store one mixing of a recipe with its heat treatment."""
    require_day(made_on, now=now, field="made_on")
    if litres is not None and litres <= 0:
        raise NotUnderstood("Litres are more than 0.", field="litres")
    if temperature_c is not None and not 0 <= temperature_c <= 200:
        raise NotUnderstood("The temperature is 0 to 200 °C.", field="temperature_c")
    if minutes is not None and minutes < 0:
        raise NotUnderstood("Minutes are 0 or more.", field="minutes")
    with transaction.atomic():
        code = (
            take_own_code(code=own_code, kind="medium")
            if own_code.strip()
            else give_kind_code(kind="medium", year=made_on.year)
        )
        medium = MediumBatch.objects.create(
            code=code,
            recipe=tidy_recipe(recipe),
            treatment=treatment.strip(),
            temperature_c=temperature_c,
            minutes=minutes,
            made_on=made_on,
            cooled_at=cooled_at,
            litres=litres,
            bag_number=bag_number.strip(),
            notes=notes.strip(),
        )
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
