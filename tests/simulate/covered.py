"""How does a covered tray live: green, fronds, mould, pickings, or nothing at all?

Serves sown trays, pegged-down fronds and divisions: everything before the first done stage.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from batches.core.signs import Sign
from batches.core.stages import (
    DONE_STAGES,
    NO_GERMINATION_DAYS,
    ROUTES,
    Route,
    Stage,
    default_window,
)
from tests.simulate import notes
from tests.simulate.deaths import Deaths
from tests.simulate.grower import FAR, Grower
from tests.simulate.stock import Fate, Tray

_TROUBLES: dict[Stage, tuple[Sign, ...]] = {
    Stage.SOWN: (Sign.ALGAE, Sign.SCIARIDS, Sign.DRY),
    Stage.GAMETOPHYTE: (
        Sign.ALGAE, Sign.MOSS_LIVERWORT, Sign.SCIARIDS, Sign.SLUGS, Sign.DRY, Sign.OVERCROWDED,
    ),
    Stage.FIRST_FROND: (
        Sign.MOSS_LIVERWORT, Sign.SLUGS, Sign.YELLOWING, Sign.DRY, Sign.OVERCROWDED, Sign.SCIARIDS,
    ),
    Stage.PEGGED_DOWN: (Sign.SLUGS, Sign.ROT, Sign.DRY),
    Stage.ROOTED: (Sign.SLUGS, Sign.DRY, Sign.YELLOWING),
    Stage.DIVIDED: (Sign.DRY, Sign.WATERLOGGED, Sign.YELLOWING),
    Stage.ROOTED_IN: (Sign.SLUGS, Sign.APHID, Sign.DRY),
}  # fmt: skip
_RUINS = ("mould", "dry", "algae", "moss_liverwort", "sciarids", "slugs", "damaged", "surplus")
_STALE = ("past_its_best", "overcrowded", "moss_liverwort", "unknown")


@dataclass(slots=True, kw_only=True)
class Parcel:
    """What was taken out of a tray in one go: `left` in its unit, `plants` that came of it."""

    tray: Tray
    day: int
    left: int
    plants: int
    by: str


class CoveredLife:
    """One covered tray from its start to its last picking or its end."""

    def __init__(self, grower: Grower, tray: Tray) -> None:
        self.grower = grower
        self.tray = tray
        self.parcels: list[Parcel] = []
        self.children: list[Tray] = []
        self.signs: frozenset[Sign] = frozenset()
        stages = ROUTES[tray.batch.route]
        chain = stages[stages.index(tray.start_stage) :]
        self.to = next(stage for stage in chain if stage in DONE_STAGES)
        self.chain = chain[: chain.index(self.to)]
        self.times = self._true_times()
        self.seen = tray.start_stage
        self.counts = tray.alive is not None
        self._plan_troubles()
        self._plan_pickings()
        self.deaths = (
            Deaths(grower, tray, tray.start_stage, end=self.times[self.to]) if self.counts else None
        )

    def _true_times(self) -> dict[Stage, float]:
        tray, fern = self.tray, self.tray.batch.fern
        now = float(tray.started)
        times = {tray.start_stage: now}
        for here, following in pairwise((*self.chain, self.to)):
            law = fern.stages[tray.batch.route, here]
            days = law.draw(self.grower.rng)
            if tray.fate.stalls_in is here:
                days = math.inf
            while math.isinf(days) and tray.fate.stalls_in is not here and tray.fate.safe:
                days = law.draw(self.grower.rng)
            now += days * tray.fate.speed * tray.batch.speed
            times[following] = now
            tray.reached[str(following)] = now
        return times

    def _plan_troubles(self) -> None:
        grower, tray, fate = self.grower, self.tray, self.tray.fate
        rng, habits = grower.rng, grower.habits
        chance = habits.mould_bad if tray.medium and tray.medium.mouldy else habits.mould
        self.mould_on = FAR
        if fate.mould_after is not None:
            self.mould_on = tray.started + fate.mould_after
        elif rng.random() < chance and not fate.safe:
            self.mould_on = tray.started + rng.randint(12, 90)
        self.mould_looks = rng.randint(2, 5)
        kills = fate.mould_kills
        self.mould_kills = grower.happens(habits.mould_kills) if kills is None else kills
        ruin = rng.expovariate(habits.ruin_covered)
        self.ruin_on = FAR if fate.safe else tray.started + int(ruin)
        self.ruin_cause = rng.choice(_RUINS)
        if fate.ends_after is not None:
            self.ruin_on, self.ruin_cause = tray.started + fate.ends_after, fate.cause
        self.patience = rng.randint(0, 60) if grower.happens(habits.decides) else FAR
        if fate.undecided:
            self.patience = FAR
        lot = tray.batch.lot
        self.rogue = fate.rogue or (lot is not None and lot.rogue and grower.happens(0.7))
        self.patch_out = (
            tray.batch.route is Route.SPORE
            and tray.start_stage is Stage.SOWN
            and grower.happens(habits.patched_out)
        )
        self.hearts = grower.happens(0.6)

    def _plan_pickings(self) -> None:
        grower, tray, fern = self.grower, self.tray, self.tray.batch.fern
        self.pick_on = grower.deed_day(self.times[self.to])
        many = fern.plants_per_tray * (0.45 if tray.batch.route is Route.BULBIL else 1.0)
        self.plants = max(8, round(many * grower.rng.gammavariate(5.0, 0.2)))
        goes = grower.rng.choices((1, 2, 3), (3, 4, 3))[0]
        if tray.batch.route is Route.DIVISION or self.plants < 30:
            goes = 1
        self.goes_left = goes
        self.first_pick = True
        self.will_count = tray.alive is None and grower.happens(
            grower.habits.counted_mats if tray.batch.route is Route.SPORE else 0.7
        )

    def live(self) -> None:
        """Look and pick until the tray ends or the nursery's last day is over."""
        grower, tray = self.grower, self.tray
        look_on = grower.next_look(tray, tray.started, self.seen)
        while tray.ended is None:
            day = min(look_on, self.pick_on)
            if day > grower.until:
                break
            if self.pick_on <= look_on:
                self._pick(day)
            else:
                self._look(day)
            if day == look_on:
                look_on = grower.next_look(tray, day, self.seen, self.signs)
        if tray.ended is None:
            tray.cover = "vented" if self.seen in (Stage.FIRST_FROND, Stage.ROOTED) else "closed"

    def _stage_on(self, day: int) -> Stage:
        return next(stage for stage in reversed(self.chain) if self.times[stage] <= day)

    def _look(self, day: int, *, note: str = "") -> None:
        grower, tray = self.grower, self.tray
        stage = self._stage_on(day)
        new = stage is not self.seen
        self.seen = stage
        signs = self._signs_on(day, stage)
        self.signs = frozenset(signs)
        count, about = self._count_on(day, stage)
        cause = self._ends_on(day, stage) if day <= grower.last_deed else ""
        if cause:
            note = tray.fate.note or grower.rng.choice(notes.ENDINGS[cause])
            if cause == "mould" and Sign.MOULD not in signs:
                signs = [Sign.MOULD, *signs]
        grower.look(
            tray, day,
            stage=stage if self.first_pick else None,
            signs=[str(sign) for sign in signs],
            count=count, about=about, note=note,
            opened=stage in (Stage.FIRST_FROND, Stage.ROOTED) or grower.happens(0.08),
            keep=new or bool(cause),
        )  # fmt: skip
        if cause:
            if tray.alive:
                tray.take_away(day, "loss", tray.alive, grower.somebody(), cause=cause)
            tray.finish(day, "discarded", cause)
        elif self.patch_out and stage is Stage.GAMETOPHYTE:
            self._patch_out(day)

    def _signs_on(self, day: int, stage: Stage) -> list[Sign]:
        grower = self.grower
        signs = []
        if day >= self.mould_on and self.mould_looks:
            signs.append(Sign.MOULD)
            self._set_apart(day)
        if self.rogue and stage is Stage.FIRST_FROND and grower.happens(0.35):
            signs.append(Sign.ROGUE_FERN)
        if grower.happens(grower.habits.trouble):
            signs.append(grower.rng.choice(_TROUBLES[stage]))
        grown = self.times.get(Stage.GAMETOPHYTE, math.inf)
        if self.hearts and stage is Stage.GAMETOPHYTE and day - grown > 35:
            signs.append(Sign.HEART_SHAPES)
            self.hearts = False
        return signs

    def _set_apart(self, day: int) -> None:
        grower, tray = self.grower, self.tray
        if day > grower.last_deed:
            return
        self.mould_looks -= 1
        if not tray.isolated and grower.happens(grower.habits.isolate):
            tray.isolated = True
            tray.move_to(day, "isolation")
        elif tray.isolated and not self.mould_looks and not self.mould_kills:
            tray.isolated = False
            tray.move_to(day, "covered")

    def _count_on(self, day: int, stage: Stage) -> tuple[int | None, bool]:
        """Count at the first look at fronds or roots, where this mat is counted at all."""
        grower, tray = self.grower, self.tray
        if self.deaths is not None:
            return self.deaths.note(day)
        countable = stage in (Stage.FIRST_FROND, Stage.ROOTED)
        if not countable:
            return None, False
        if self.will_count and day <= grower.last_deed and self.first_pick:
            self.will_count = False
            wanted = self.plants
            if tray.unit == "patches":
                wanted = max(2, round(self.plants / tray.batch.fern.per_patch))
            tray.count_in(day, wanted, grower.somebody())
            return wanted, False
        if tray.alive is None and grower.happens(grower.habits.about):
            return max(10, round(self.plants / tray.batch.fern.per_patch / 10) * 10), True
        return None, False

    def _ends_on(self, day: int, stage: Stage) -> str:
        """Return the cause why the tray is thrown out that day; empty when it is not."""
        tray, kind = self.tray, self.tray.batch.fern.kind
        if self.mould_kills and day >= self.mould_on and not self.mould_looks:
            return "mould"
        if day >= self.ruin_on:
            return self.ruin_cause
        if not self.first_pick:
            return ""
        waited = day - self.times[stage]
        if stage is Stage.SOWN:
            return "no_germination" if waited > NO_GERMINATION_DAYS[kind] + self.patience else ""
        window = default_window(tray.batch.route, stage, kind)
        assert window is not None
        if waited > 1.5 * window.late + self.patience:
            return self.grower.rng.choice(_STALE)
        return ""

    def _patch_out(self, day: int) -> None:
        """Set patches of prothalli into a fresh tray; the mat stays as it is."""
        grower, tray = self.grower, self.tray
        if day - self.times[Stage.GAMETOPHYTE] < 40 or day > grower.last_deed - 3:
            return
        # A book that begins after plants have left would not add up: this mat stays uncounted.
        self.patch_out = self.will_count = False
        patches = grower.rng.randint(8, 24)
        child = Tray(
            batch=tray.batch, container="covered tray", start_stage=Stage.GAMETOPHYTE,
            started=day, unit="patches", container_state="washed", cover="closed",
            medium=grower.medium("sowing", day), label_printed=day, fate=Fate(),
        )  # fmt: skip
        child.move_to(day, "covered")
        tray.take_away(day, "out", patches, grower.somebody(), to=child)
        child.receive(day, patches, tray)
        tray.batch.trays.append(child)
        self.children.append(child)

    def _pick(self, day: int) -> None:
        grower, tray, fern = self.grower, self.tray, self.tray.batch.fern
        if not tray.looks or tray.looks[-1].day != day:
            self._look(day)
        if tray.ended is not None:
            return
        by = grower.somebody()
        if self.deaths is not None:
            self.deaths.settle(day)
        if tray.alive == 0:
            tray.finish(day, "discarded", self.deaths.main if self.deaths else "unknown")
            return
        if self.first_pick:
            tray.done, tray.done_by = (self.to, day), by
            self.first_pick = False
        plants, left = self._take(fern.per_patch)
        if tray.alive is not None:
            tray.alive -= left
        self.parcels.append(Parcel(tray=tray, day=day, left=left, plants=plants, by=by))
        self.goes_left -= 1
        if self.goes_left > 0 and tray.alive != 0:
            again = day + grower.rng.randint(14, 35)
            tray.come_back = again
            self.pick_on = grower.deed_day(again)
            return
        if tray.alive:
            cause = grower.rng.choice(("surplus", "past_its_best"))
            tray.take_away(day, "loss", tray.alive, by, cause=cause)
        tray.finish(day, "cleared")

    def _take(self, per_patch: float) -> tuple[int, int]:
        """Return plants won and what left in the tray's unit for this go."""
        tray = self.tray
        plants = max(2, round(self.plants / max(1, self.goes_left)))
        self.plants = max(0, self.plants - plants)
        if tray.unit == "plants":
            if tray.alive is not None:
                plants = tray.alive if self.goes_left == 1 else min(plants, tray.alive)
            return plants, plants
        left = max(1, round(plants / per_patch * self.grower.rng.uniform(0.85, 1.15)))
        if tray.alive is not None:
            left = min(left, tray.alive)
        return plants, left
