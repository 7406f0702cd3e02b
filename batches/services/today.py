"""What does the manager need to know this morning, before the lines?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Generic, TypeVar

from django.db.models import Sum

from batches.core.signs import CAUSE_WORDS, SIGN_WORDS, TROUBLES, Sign
from batches.models import HouseReading, PlantMovement, ToSettle, TrayCheck
from batches.services.days import day_bounds
from batches.services.holds import Alarm, alarms
from batches.services.label_log import count_unlabelled
from batches.services.overdue import InBrief
from batches.services.own_settings import own_setting
from batches.services.shut_places import ShutPlace, shut_places
from batches.services.strays import StraySpores, stray_spores
from batches.services.suspicion import all_trays_under_suspicion
from batches.services.tablet_watch import TabletState, silent_tablets
from batches.services.winter import TenderInTheCold, tender_in_the_cold

Line = TypeVar("Line", bound=InBrief)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnusualNight:
    """A house that was unusually cold or hot since yesterday."""

    house: str
    on: date
    lowest_c: float | None
    highest_c: float | None
    frost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WentWrong:
    """One sentence of what went wrong yesterday, with the tray it was seen on."""

    tray: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MorningNote:
    """The note over Today's lines."""

    today: date
    looks: int
    late: int
    decisions: int
    others: int
    went_wrong: tuple[WentWrong, ...]
    lost_yesterday: int
    nights: tuple[UnusualNight, ...]
    shut: tuple[ShutPlace, ...]
    alarms: tuple[Alarm, ...]
    unlabelled: int
    to_settle: int
    silent: tuple[TabletState, ...]
    strays: tuple[StraySpores, ...]
    suspected: int
    tender: tuple[TenderInTheCold, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchOfLines(Generic[Line]):
    """The lines of one bench, in walking order; ``bench`` is None for what stands nowhere.

    Without a ``house`` it is a house that is named (its people come back to it), not a bench.
    """

    bench: str | None
    house: str | None
    lines: tuple[Line, ...]


def morning_note(*, kinds: Counter[str], today: date, now: datetime) -> MorningNote:
    """Return the note; a constant number of queries.

    Parameters
    ----------
    kinds : Counter
        How many lines of each kind Today has.
    """
    yesterday = today - timedelta(days=1)
    lost = PlantMovement.objects.standing().filter(on=yesterday, kind="loss")
    return MorningNote(
        today=today,
        looks=kinds["look"],
        late=kinds["stage"],
        decisions=kinds["decision"],
        others=kinds.total() - kinds["look"] - kinds["stage"] - kinds["decision"],
        went_wrong=tuple(_went_wrong(yesterday)),
        lost_yesterday=lost.aggregate(all=Sum("quantity"))["all"] or 0,
        nights=tuple(_nights(yesterday, today)),
        shut=tuple(shut_places(on=today, now=now).shut.values()),
        alarms=alarms(),
        unlabelled=count_unlabelled(),
        to_settle=ToSettle.objects.open().count(),
        silent=silent_tablets(now=now),
        strays=stray_spores(),
        suspected=all_trays_under_suspicion().count(),
        tender=tender_in_the_cold(today=today),
    )


def by_bench(lines: Iterable[Line]) -> tuple[BenchOfLines[Line], ...]:
    """Return the lines bench by bench in walking order: clean trays first, isolated ones last."""
    groups: dict[str | None, list[Line]] = {}
    for line in lines:
        groups.setdefault(line.bench, []).append(line)

    def in_walking_order(bench: str | None) -> tuple[bool, int, str]:
        walks = [line.walk_order for line in groups[bench] if line.walk_order is not None]
        return (bench is None, min(walks, default=1_000_000), bench or "")

    return tuple(
        BenchOfLines(
            bench=bench,
            house=next((line.house for line in groups[bench] if line.house), None),
            lines=tuple(sorted(groups[bench], key=lambda line: (line.isolated, line.opened))),
        )
        for bench in sorted(groups, key=in_walking_order)
    )


def _went_wrong(day: date) -> Iterable[WentWrong]:
    """Yield what was seen on the day and not at the look before: troubles, and plants lost."""
    rows = (
        TrayCheck.objects.standing()
        .filter(seen_at__range=day_bounds(day))
        .exclude(signs="")
        .select_related("tray__batch__taxon")
        .order_by("seen_at")
    )
    for row in rows:
        troubles = [SIGN_WORDS[sign] for sign in Sign if sign in row.sign_set & TROUBLES]
        if troubles:
            fern = row.tray.batch.taxon.code
            yield WentWrong(tray=row.tray.code, words=f"{', '.join(troubles)} ({fern})")
    losses = (
        PlantMovement.objects.standing()
        .filter(on=day, kind="loss")
        .select_related("tray__batch__taxon")
        .order_by("-quantity")
    )
    for loss in losses[:8]:
        cause = CAUSE_WORDS.get(loss.cause, "no cause noted")
        yield WentWrong(tray=loss.tray.code, words=f"{loss.quantity} lost, {cause}")


def _nights(yesterday: date, today: date) -> Iterable[UnusualNight]:
    frost_c, hot_c = own_setting("frost_c"), own_setting("hot_c")
    for row in HouseReading.objects.filter(on__range=(yesterday, today)).select_related("house"):
        frost = row.lowest_c is not None and row.lowest_c < frost_c
        hot = row.highest_c is not None and row.highest_c >= hot_c
        if frost or hot:
            yield UnusualNight(
                house=str(row.house),
                on=row.on,
                lowest_c=row.lowest_c,
                highest_c=row.highest_c,
                frost=frost,
            )
