"""How does the story of a year do its deeds, and keep a second stock book by hand?

Every deed goes through the services. Beside it the book of the story notes what anybody would
write into a paper notebook: a number for each tray, set or added to or taken from. Nothing here
reads the program's own counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from batches.models import Batch, Bench, LaidOutTray, Source, Tray
from batches.services.checks import CheckResult, record_check
from batches.services.dispatching import dispatch
from batches.services.ending import discard
from batches.services.glances import record_glance
from batches.services.picking import (
    Filling,
    ParentAfter,
    PickingResult,
    Take,
    patch_out,
    pot_on,
    pot_up,
    prick_out,
)
from batches.services.treatments import TreatmentWords, record_treatment
from tests.factories.days import at

FIRST_MONDAY = date(2026, 3, 2)
RESTING = {"pricked_out", "potted_up", "ready"}
DEEDS = {"prick_out": prick_out, "patch_out": patch_out, "pot_up": pot_up, "pot_on": pot_on}


class Storybook:
    """The day it is, the people, what every tray holds by hand, and which doors are shut."""

    def __init__(self) -> None:
        self.week = 0
        self.minute = 0
        self.held: dict[str, int | None] = {}
        self.shut: dict[str, datetime] = {}
        self.trays: dict[str, list[str]] = {}
        self.benches: dict[str, Bench] = {}
        self.origins: dict[str, Source] = {}
        self.batches: dict[str, Batch] = {}

    @property
    def today(self) -> date:
        """The Monday of the story's week."""
        return FIRST_MONDAY + timedelta(weeks=self.week)

    @property
    def now(self) -> datetime:
        """A minute later each time it is asked: deeds follow one another."""
        self.minute += 1
        return at(self.today, 8) + timedelta(minutes=self.minute)

    def begin(self, week: int) -> None:
        """Begin a week."""
        self.week, self.minute = week, 0
        self.shut = {code: until for code, until in self.shut.items() if until > self.now}

    def tray(self, name: str, place: int = 0) -> Tray:
        """Return a tray of the story by its name, as it is stored now."""
        return Tray.objects.with_fern().get(code=self.trays[name][place])

    def started(self, name: str, batch: Batch, trays: Iterable[Tray], *, each: int | None) -> None:
        """Note a new batch and what its trays hold."""
        self.batches[name] = batch
        self.trays[name] = [tray.code for tray in trays]
        for tray in trays:
            self.held[tray.code] = None if tray.control else each

    def look(
        self, tray: Tray, *, count: int | None = None, lost: int = 0, cause: str = "", **more: Any
    ) -> CheckResult:
        """Log a look; an exact count sets the number, a loss takes from it."""
        now = self.now
        result = record_check(
            tray=tray, seen_at=now, now=now, by="Bryn Hale", count=count,
            losses=[(lost, cause)] if lost else [], **more,
        )  # fmt: skip
        here = self.held[tray.code]
        if lost and here is not None:
            self.held[tray.code] = here - lost
        if count is not None and not more.get("about"):
            self.held[tray.code] = count
        return result

    def look_at_all(self, name: str, **more: Any) -> None:
        """Log the same look at every standing tray of a name."""
        for place in range(len(self.trays[name])):
            tray = self.tray(name, place)
            if tray.is_active and not tray.control:
                self.look(tray, **more)

    def glance(self) -> None:
        """Look over every bench whose door is open, isolated trays and controls too."""
        trays = [
            tray
            for tray in Tray.objects.active().with_fern()
            if not self.is_shut(tray) and tray.started_on <= self.today
        ]
        if trays:
            now = self.now
            record_glance(trays=trays, seen_at=now, now=now, by="Maeve Corrin")

    def is_shut(self, tray: Tray) -> bool:
        """Tell whether the tray stands behind a door that is shut."""
        return tray.bench is not None and tray.bench.house.code in self.shut

    def fill(
        self,
        deed: str,
        parent: Tray,
        into: Sequence[tuple[int, int]],
        *,
        name: str = "",
        codes: Sequence[str] = (),
        standing: Tray | None = None,
        lost: int = 0,
        back: date | None = None,
        end: bool = False,
        **what: Any,
    ) -> PickingResult:
        """Fill trays from a parent: (left, arrived) for each, under laid-out codes if given."""
        fillings = []
        for place, (left, arrived) in enumerate(into):
            takes = [Take(parent=parent, left=left, arrived=arrived)]
            if standing is not None:
                fillings.append(Filling(takes=takes, into=standing))
            else:
                code = codes[place] if codes else ""
                fillings.append(Filling(takes=takes, code=code, **what))
        result = DEEDS[deed](
            fillings=fillings,
            parents=[
                ParentAfter(
                    parent=parent, losses=[(lost, "damaged")] if lost else [], come_back_on=back,
                    end=end,
                )
            ],
            on=self.today, by="Una Tarn", now=self.now,
        )  # fmt: skip
        gone = sum(left for left, _ in into) + lost
        here = self.held[parent.code]
        if here is not None:
            self.held[parent.code] = here - gone
        for child, (_, arrived) in zip(result.children, into, strict=True):
            self.held[child.code] = (self.held.get(child.code) or 0) + arrived
        if name and standing is None:
            self.trays.setdefault(name, []).extend(child.code for child in result.children)
        return result

    def send(self, tray: Tray, many: int, **more: Any) -> None:
        """Dispatch pots or plants."""
        dispatch(
            tray=tray, quantity=many, on=self.today, by="Odile Marsh", now=self.now,
            recipient="Marl Lane Gardens", **more,
        )  # fmt: skip
        self.held[tray.code] = (self.held[tray.code] or 0) - many

    def throw_out(self, tray: Tray, cause: str) -> None:
        """Discard a tray that was looked at twice."""
        discard(tray=tray, cause=cause, on=self.today, by="Una Tarn", now=self.now,
                second_look=True)  # fmt: skip
        if self.held[tray.code] is not None:
            self.held[tray.code] = 0

    def treat(self, place: str, hours: float) -> None:
        """Treat a place and shut its door."""
        done_at = self.now
        record_treatment(
            words=TreatmentWords(
                done_at=done_at, product="nematodes against sciarids", place_or_trays=place,
                operator="Greta Lunn", reentry_hours=hours,
            ),
            now=done_at,
        )  # fmt: skip
        self.shut[place] = done_at + timedelta(hours=hours)


def in_rest(tray: Tray, day: date) -> bool:
    """Tell whether a tray rests on a day: reckoned here anew, by the calendar's own week."""
    weeks = tray.batch.taxon
    first, last = weeks.rest_from_week, weeks.rest_to_week
    if first is None or last is None or tray.stage not in RESTING:
        return False
    week = int(day.strftime("%V"))
    return week >= first or week <= last if first > last else first <= week <= last


def codes_of_laid_out() -> set[str]:
    """Return every code that was ever laid out."""
    return set(LaidOutTray.objects.values_list("code", flat=True))
