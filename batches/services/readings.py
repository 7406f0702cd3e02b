"""How cold and how warm was it in the houses, typed in or pasted from a logger's file?"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from batches.core.errors import NotPossibleNow, NotUnderstood, NurseryError
from batches.models import House, HouseReading
from batches.services.days import day_words
from batches.services.tray_life import require_day

#: no thermometer in a glasshouse shows less or more, °C
LOWEST_C, HIGHEST_C = -60.0, 70.0
MOST_LINES = 5_000
#: words of a header row, in the order of the columns
HEADER = ("house", "on", "lowest_c", "highest_c")
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})\Z")
_DAY_FIRST = re.compile(r"(\d{1,2})[./](\d{1,2})[./](\d{4})\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The lowest and highest temperature of one day in a house, in °C; one of them may be None."""

    house: House
    on: date
    lowest_c: float | None
    highest_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsStored:
    """How many readings are new, were put in another's place, or were stored before."""

    new: int
    replaced: int
    known: int

    @property
    def message(self) -> str:
        """One sentence of what was stored."""
        words = f"{self.new} reading{'s' if self.new != 1 else ''} stored"
        if self.replaced:
            words += f", {self.replaced} put in the place of another"
        if self.known:
            words += f", {self.known} known already"
        return f"{words}."


class BadLines(NurseryError):
    """Pasted lines that cannot be read; ``lines`` names each with what would be right."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = tuple(lines)
        shown = " ".join(self.lines[:12])
        more = f" And {len(lines) - 12} more." if len(lines) > 12 else ""
        super().__init__(f"Nothing was stored. {shown}{more}", field="pasted")


def store_readings(
    *, readings: Sequence[Reading], now: datetime, replace: bool = False
) -> ReadingsStored:
    """Store readings, all or none; one that is there already changes nothing.

    Parameters
    ----------
    replace : bool
        Whether a reading that differs from the stored one of its house and day takes its place.

    Raises
    ------
    NotUnderstood, OutOfTime
        When a reading holds no number, an impossible one, or lies in the future.
    NotPossibleNow
        When one differs from a stored one and is not to replace it.
    """
    for reading in readings:
        _require_sense(reading, now=now)
    new, replaced, known = [], 0, 0
    with transaction.atomic():
        stored = _stored(readings)
        for reading in readings:
            key = (reading.house.pk, reading.on)
            row = stored.get(key)
            if row is None:
                stored[key] = row = HouseReading(
                    house=reading.house,
                    on=reading.on,
                    lowest_c=reading.lowest_c,
                    highest_c=reading.highest_c,
                    recorded_at=now,
                )
                new.append(row)
            elif (row.lowest_c, row.highest_c) == (reading.lowest_c, reading.highest_c):
                known += 1
            else:
                _require_replacing(row, reading, replace=replace)
                row.lowest_c, row.highest_c = reading.lowest_c, reading.highest_c
                row.recorded_at = now
                if row not in new:
                    row.save(update_fields=["lowest_c", "highest_c", "recorded_at"])
                    replaced += 1
        HouseReading.objects.bulk_create(new, batch_size=500)
    return ReadingsStored(new=len(new), replaced=replaced, known=known)


def read_lines(text: str, *, day_first: bool = False) -> tuple[Reading, ...]:
    """Return the readings of pasted lines: house, day, lowest, highest.

    The separator is a tab, a semicolon or a comma; a header row may stand first. Decimal commas
    are understood where the separator is another sign.

    Raises
    ------
    BadLines
        When a line cannot be read; every such line is named.
    NotUnderstood
        When there is none, or there are too many.
    """
    lines = [line for line in text.replace("\ufeff", "").splitlines() if line.strip()]
    if not lines:
        raise NotUnderstood("Paste at least one line.", field="pasted")
    if len(lines) > MOST_LINES:
        raise NotUnderstood(f"At most {MOST_LINES:,} lines at once.", field="pasted")
    separator = next((sign for sign in "\t;" if sign in lines[0]), ",")
    houses = {house.code.casefold(): house for house in House.objects.all()}
    found: list[Reading] = []
    wrong: list[str] = []
    for number, cells in enumerate(csv.reader(lines, delimiter=separator), start=1):
        tidy = [cell.strip() for cell in cells]
        if number == 1 and tidy and tidy[0].casefold() == HEADER[0]:
            continue
        try:
            found.append(_reading(tidy, houses, day_first=day_first))
        except NotUnderstood as error:
            wrong.append(f"Line {number}: {error.message}")
    if wrong:
        raise BadLines(wrong)
    return tuple(found)


def _reading(cells: Sequence[str], houses: dict[str, House], *, day_first: bool) -> Reading:
    if not 3 <= len(cells) <= 4:
        raise NotUnderstood("house, day, lowest and highest are wanted, a sign between them.")
    house = houses.get(cells[0].casefold())
    if house is None:
        raise NotUnderstood(f"no house carries the code “{cells[0][:40]}”.")
    return Reading(
        house=house,
        on=_day(cells[1], day_first=day_first),
        lowest_c=_degrees(cells[2]),
        highest_c=_degrees(cells[3]) if len(cells) > 3 else None,
    )


def _day(text: str, *, day_first: bool) -> date:
    iso, other = _ISO.match(text), _DAY_FIRST.match(text)
    try:
        if iso is not None:
            return date(*(int(part) for part in iso.groups()))
        if other is not None and day_first:
            day, month, year = (int(part) for part in other.groups())
            return date(year, month, day)
    except ValueError:
        pass
    if other is not None and not day_first:
        raise NotUnderstood(f"“{text}” may be read two ways; tick “day first” or write 2026-11-24.")
    raise NotUnderstood(f"“{text[:40]}” is no day; write it like 2026-11-24.")


def _degrees(text: str) -> float | None:
    plain = text.replace("−", "-").replace("°C", "").replace(",", ".").strip()
    if not plain:
        return None
    try:
        return float(plain)
    except ValueError:
        raise NotUnderstood(f"“{text[:40]}” is no temperature.") from None


def _require_sense(reading: Reading, *, now: datetime) -> None:
    require_day(reading.on, now=now)
    low, high = reading.lowest_c, reading.highest_c
    if low is None and high is None:
        raise NotUnderstood("Give the lowest or the highest temperature.", field="lowest_c")
    for field, degrees in (("lowest_c", low), ("highest_c", high)):
        if degrees is not None and not LOWEST_C <= degrees <= HIGHEST_C:
            raise NotUnderstood(
                f"{degrees:g} °C in {reading.house} on {day_words(reading.on)} cannot be. Nothing "
                "was stored; read the thermometer again.",
                field=field,
            )
    if low is not None and high is not None and low > high:
        raise NotUnderstood(
            f"In {reading.house} on {day_words(reading.on)} the lowest ({low:g} °C) lies above the "
            f"highest ({high:g} °C). Nothing was stored; perhaps they are swapped.",
            field="lowest_c",
        )


def _stored(readings: Sequence[Reading]) -> dict[tuple[int, date], HouseReading]:
    if not readings:
        return {}
    days = [reading.on for reading in readings]
    rows = HouseReading.objects.filter(
        on__range=(min(days), max(days)), house__in={reading.house.pk for reading in readings}
    ).select_related("house")
    return {(row.house_id, row.on): row for row in rows}


def _require_replacing(row: HouseReading, reading: Reading, *, replace: bool) -> None:
    if not replace:
        raise NotPossibleNow(
            f"{reading.house} on {day_words(reading.on)} is stored as {span(row)}, not "
            f"{span(reading)}. Nothing was stored; tick “put the new ones in their place”, or "
            "look again.",
            field="replace",
        )


def span(reading: Reading | HouseReading) -> str:
    """Return a reading as “−2 to 14 °C”; a dash for what is not known."""
    low = "–" if reading.lowest_c is None else f"{reading.lowest_c:g}".replace("-", "−")
    high = "–" if reading.highest_c is None else f"{reading.highest_c:g}".replace("-", "−")
    return f"{low} to {high} °C"
