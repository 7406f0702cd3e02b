"""How is a tray's life drawn on one line of time, from its lot to its pots?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.stages import STAGE_WORDS
from batches.models import Tray
from batches.services.days import day_words
from batches.services.tray_page import TrayStory

WIDTH = 1000
_LEFT, _RIGHT = 10, 990
#: how wide a word is in a band: its edges, and each letter (14 px type)
_BESIDE, _A_LETTER = 12, 7.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A stage: from ``x`` over ``width``; ``unsure`` is the part before it was seen."""

    x: int
    width: int
    unsure_x: int
    unsure_width: int
    stage: str
    word: str

    @property
    def letters(self) -> int:
        """How many letters of a word it has room for, in whatever language."""
        return int((self.width - _BESIDE) / _A_LETTER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A look, a loss or a month's mark at ``x`` with its words."""

    x: int
    words: str
    glance: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLine:
    """The drawing: bands, ticks and the window ahead, in a box `WIDTH` wide.

    ``lot_x`` is the day its lot was collected; from ``before_x`` over ``before_width`` the plants
    stood in earlier trays of the batch.
    """

    width: int
    bands: tuple[Band, ...]
    looks: tuple[Tick, ...]
    losses: tuple[Tick, ...]
    lot_x: int | None
    before_x: int
    before_width: int
    months: tuple[Tick, ...]
    today_x: int | None
    window_x: int | None
    window_width: int
    sentence: str


def span_of(tray: Tray, *, today: date) -> tuple[date, date]:
    """Return the first and last day of the line: from its lot or batch to the window ahead."""
    lot = tray.batch.spore_lot
    first = min(tray.started_on, tray.batch.started_on, lot.collected_on if lot else date.max)
    return first, tray.ended_on or max(today, tray.late_on or today)


def x_of(day: date, *, first: date, last: date) -> int:
    """Return where a day stands on the line."""
    share = min(max((day - first).days / max((last - first).days, 1), 0.0), 1.0)
    return round(_LEFT + share * (_RIGHT - _LEFT))


def time_line(*, tray: Tray, story: TrayStory, today: date) -> TimeLine:
    """Return the drawing of a tray's life from its batch's start to the window ahead."""
    lot = tray.batch.spore_lot
    first, last = span_of(tray, today=today)

    def x(day: date) -> int:
        return x_of(day, first=first, last=last)

    bands = []
    for period in story.periods:
        since, until = x(period.since), x(period.until)
        unsure = x(period.not_before) if period.not_before is not None else since
        bands.append(
            Band(
                x=since,
                width=max(until - since, 1),
                unsure_x=unsure,
                unsure_width=max(since - unsure, 0),
                stage=str(period.stage),
                word=STAGE_WORDS[period.stage],
            )
        )
    # What lies behind today is no window any more: the lines above say that it is late.
    ahead = tray.ended_on is None and tray.late_on is not None and tray.late_on > today
    window_x = x(max(tray.expected_on, today)) if ahead and tray.expected_on else None
    return TimeLine(
        width=WIDTH,
        bands=tuple(bands),
        looks=tuple(
            Tick(
                x=x(day),
                words=f"{'glance' if glance else 'look'} {day_words(day)}",
                glance=glance,
            )
            for day, glance in story.looks
        ),
        losses=tuple(
            Tick(x=x(day), words=f"{quantity} lost {day_words(day)}")
            for day, quantity in story.losses
        ),
        lot_x=None if lot is None else x(lot.collected_on),
        before_x=x(tray.batch.started_on),
        before_width=x(tray.started_on) - x(tray.batch.started_on),
        months=tuple(_months(first, last, x)),
        today_x=x(today) if tray.ended_on is None else None,
        window_x=window_x,
        window_width=max(x(tray.late_on) - window_x, 2) if window_x and tray.late_on else 0,
        sentence=_sentence(tray, story, first, last),
    )


def _months(first: date, last: date, x: Callable[[date], int]) -> list[Tick]:
    span_days = (last - first).days
    step = 1 if span_days < 300 else 3 if span_days < 1000 else 6
    day = date(first.year, first.month, 1)
    ticks = []
    while day <= last:
        if day >= first and (day.month - 1) % step == 0:
            ticks.append(Tick(x=x(day), words=f"{day:%b %Y}"))
        day = (day + timedelta(days=32)).replace(day=1)
    return ticks


def _sentence(tray: Tray, story: TrayStory, first: date, last: date) -> str:
    stages = ", ".join(
        f"{STAGE_WORDS[period.stage]} from {day_words(period.since)}" for period in story.periods
    )
    return (
        f"Line of time of tray {tray.code} from {day_words(first)} to {day_words(last)}: {stages}; "
        f"{len(story.looks)} looks, {sum(quantity for _, quantity in story.losses)} lost."
    )
