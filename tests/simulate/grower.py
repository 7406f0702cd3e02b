"""Who looks at a simulated tray, on which days, and what do they write?

The grower holds what all lives share: the random numbers, the calendar, the people, the mixes of
medium and the nursery's habits. Everything follows from the seed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from batches.core.signs import Sign
from batches.core.stages import DONE_STAGES, RESTING_STAGES, ROUTES, Stage, look_every
from tests.simulate import notes
from tests.simulate.days import GrowingDays, WorkDays
from tests.simulate.ferns import FernTruth
from tests.simulate.stock import Batch, Look, Lot, Medium, Move, Order, Origin, Tray

FAR = 9_999_999
_JITTER = (-1, -1, 0, 0, 0, 0, 1, 1, 2)
RECIPES = {
    "sowing": ("bark:2 coir:1 perlite:1", "bark:2 coir:2 sand:1", "coir:3 perlite:1"),
    "cells": ("bark:3 coir:1 perlite:1",),
    "pots": ("bark:4 loam:1 perlite:1", "bark:4 coir:1 grit:1"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How this nursery works; shares and chances from 0 to 1 unless said otherwise.

    ``miss`` a look left out · ``mould`` a covered tray that moulds, ``mould_bad`` the same on
    the one bad mix · ``ruin_*`` whole trays lost per tray-day · ``glance_rounds`` a bench looked
    over in a week · ``quiet_days`` the last days, in which trays are looked at but nothing is
    moved, counted, started or ended · ``sale_gap`` days between dispatches from a tray.
    """

    miss: float = 0.08
    mould: float = 0.07
    mould_bad: float = 0.6
    mould_kills: float = 0.3
    isolate: float = 0.5
    trouble: float = 0.02
    ruin_covered: float = 2.5e-4
    ruin_cells: float = 1.5e-4
    ruin_pots: float = 6e-5
    decides: float = 0.85
    counted_mats: float = 0.35
    about: float = 0.25
    notes: float = 0.12
    strike_outs: float = 0.004
    recounts: float = 0.02
    patched_out: float = 0.03
    potted_on: float = 0.04
    control: float = 0.12
    unlabelled: float = 0.02
    glance_rounds: float = 0.15
    sale_gap: float = 16.0
    quiet_days: int = 0


class Grower:
    """One nursery in the growing."""

    def __init__(
        self,
        *,
        seed: int,
        first: int,
        until: int,
        ferns: Sequence[FernTruth],
        habits: Habits,
        people: Sequence[str] = notes.PEOPLE,
    ) -> None:
        self.rng = Random(seed)
        self.first = first
        self.until = until
        self.last_deed = until - habits.quiet_days
        self.ferns = tuple(ferns)
        self.habits = habits
        self.people = tuple(people)
        self.work = WorkDays(first=first - 400, last=until + 400)
        self.clocks = {
            fern.code: GrowingDays(fern.rest, first=first - 400, last=until + 2500)
            for fern in ferns
        }
        self.media: dict[tuple[str, int], Medium] = {}
        self.origins: list[Origin] = []
        self.lots: list[Lot] = []
        self.batches: list[Batch] = []
        self.orders: list[Order] = []
        self._share = [1.0 / (place + 1.6) for place in range(len(self.people))]

    def somebody(self) -> str:
        """Return one of the people; the first ones are at the bench more often."""
        return self.rng.choices(self.people, self._share)[0]

    def happens(self, chance: float) -> bool:
        """Tell whether something of this chance happens."""
        return self.rng.random() < chance

    def rests(self, fern: FernTruth, day: int) -> bool:
        """Tell whether the fern rests on that day."""
        return self.clocks[fern.code].rests(day)

    def deed_day(self, moment: float) -> int:
        """Return the day of work on which something due at that moment is done; FAR for never."""
        if math.isinf(moment) or moment > self.last_deed:
            return FAR
        day = self.work.on_or_after(math.ceil(moment))
        return day if day <= self.last_deed else FAR

    def next_look(
        self, tray: Tray, day: int, stage: Stage, signs: frozenset[Sign] = frozenset()
    ) -> int:
        """Return the day of the next look; looks are missed, early and late as in life."""
        fern = tray.batch.fern
        every = look_every(
            stage=stage,
            kind=fern.kind,
            days_since_start=day - tray.started,
            signs=signs,
            resting=stage in RESTING_STAGES and self.rests(fern, day),
        )
        gap = every + self.rng.choice(_JITTER)
        while self.rng.random() < self.habits.miss:
            gap += every
        return self.work.on_or_after(day + max(1, gap))

    def look(
        self,
        tray: Tray,
        day: int,
        *,
        stage: Stage | None,
        signs: Sequence[str] = (),
        count: int | None = None,
        about: bool = False,
        opened: bool = False,
        note: str = "",
        keep: bool = False,
    ) -> Look:
        """Write a look; `keep` marks one that must not be thinned out."""
        look = Look(
            tray=tray,
            day=day,
            second=self.rng.randrange(8 * 3600, 16 * 3600 + 1800),
            by=self.somebody(),
            stage=str(stage) if stage is not None else "",
            count=count,
            about=about,
            signs=tuple(signs),
            opened=opened or bool(signs),
            note=note or self.remark(stage, signs),
            keep=keep,
        )
        tray.looks.append(look)
        return look

    def remark(self, stage: Stage | None, signs: Sequence[str]) -> str:
        """Return what somebody writes beside a look, mostly nothing."""
        if signs:
            return self.rng.choice(notes.TROUBLED[signs[0]]) if self.happens(0.6) else ""
        if stage is None or not self.happens(self.habits.notes):
            return ""
        return self.rng.choice(notes.QUIET[stage])

    def medium(self, kind: str, day: int) -> Medium:
        """Return the mix in use on that day; a fresh one is made about every ten days."""
        slot = (day - self.first) // 10
        found = self.media.get((kind, slot))
        if found is None:
            made_on = min(day, self.work.on_or_after(self.first + 10 * slot))
            found = Medium(kind=kind, made_on=made_on, recipe=self.rng.choice(RECIPES[kind]))
            if kind == "sowing":
                found.treatment = self.rng.choice(("steam", "steam", "boiling water"))
                found.temperature_c = self.rng.choice((60, 62, 64, 65, 71))
                found.minutes = self.rng.choice((30, 30, 35, 40))
            self.media[kind, slot] = found
        return found

    def strike_out_some(self, tray: Tray) -> None:
        """Let somebody err now and then, and strike the row out the same day."""
        if len(tray.looks) < 4 or not self.happens(self.habits.strike_outs * len(tray.looks)):
            return
        losses = [move for move in tray.moves if move.kind == "loss"]
        if losses and self.happens(0.4):
            self._mistype(self.rng.choice(losses))
            return
        beside = self.rng.choice(tray.looks[1:])
        if beside.stage and beside.day <= self.last_deed:
            self._scan_wrongly(beside)

    def _scan_wrongly(self, beside: Look) -> None:
        tray, day, by = beside.tray, beside.day, beside.by
        wrong = Look(
            tray=tray, day=day, second=beside.second - 1200, by=by, keep=True, struck=True,
            stage=_ahead(tray, beside.stage), note=self.rng.choice(notes.WRONG_TRAY),
        )  # fmt: skip
        strike = Look(
            tray=tray, day=day, second=beside.second - 1080, by=by, keep=True, strikes=wrong
        )
        tray.looks.extend((wrong, strike))

    def _mistype(self, right: Move) -> None:
        tray, day, by = right.tray, right.day, right.by
        many = right.quantity * 10 + self.rng.randint(0, 9)
        wrong = Move(tray=tray, day=day, kind="loss", quantity=many, by=by, cause=right.cause)
        strike = Move(
            tray=tray, day=day, kind="loss", quantity=many, by=by, cause=right.cause, strikes=wrong
        )
        tray.moves.extend((wrong, strike))


def _ahead(tray: Tray, stage: str) -> str:
    """Return a stage that a wrongly scanned tray might have been given."""
    stages = [str(known) for known in _stages_of(tray)]
    return stages[min(stages.index(stage) + 1, len(stages) - 1)]


def _stages_of(tray: Tray) -> tuple[Stage, ...]:
    return tuple(
        stage
        for stage in ROUTES[tray.batch.route]
        if stage not in DONE_STAGES or stage is tray.start_stage
    )
