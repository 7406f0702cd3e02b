"""How do pricked-out plants grow on to pots, and pots to the day they leave the gate?"""

from __future__ import annotations

import math
from datetime import date

from batches.core.signs import Sign
from batches.core.stages import Stage, default_window
from tests.simulate import notes
from tests.simulate.covered import Parcel
from tests.simulate.deaths import Deaths, alive_on, sign_of
from tests.simulate.grower import FAR, Grower
from tests.simulate.stock import Order, Tray

_SPRING_WEEK = 11
# Potted-on trays start ready: what dies, dies over these days.
_DAYS_ON_SALE = 150
_CELL_RUINS = ("dry", "surplus", "rot", "slugs", "damaged", "sciarids", "surplus")
_POT_RUINS = ("damaged", "vine_weevil", "frost", "past_its_best", "dry")
_CELL_SIGNS = (Sign.DRY, Sign.SCIARIDS, Sign.SLUGS, Sign.YELLOWING, Sign.MOSS_LIVERWORT)
_POT_SIGNS = (
    Sign.MOSS_LIVERWORT, Sign.SLUGS, Sign.YELLOWING, Sign.APHID, Sign.SCORCH, Sign.DRY, Sign.SCALE,
)  # fmt: skip


class GrowingLife:
    """What cell trays and carriers share: looks, losses, and a day on which all is lost."""

    def __init__(self, grower: Grower, tray: Tray, *, ruin: float, ruins: tuple[str, ...]) -> None:
        self.grower = grower
        self.tray = tray
        self.stage = tray.start_stage
        self.signs: frozenset[Sign] = frozenset()
        self.over = self._over()
        self.deaths = Deaths(grower, tray, tray.start_stage, end=self.over)
        lost = tray.started + int(grower.rng.expovariate(ruin))
        self.ruin_on = FAR if tray.fate.safe else lost
        self.ruin_cause = grower.rng.choice(ruins)
        self.patience = grower.rng.randint(0, 80) if grower.happens(grower.habits.decides) else FAR

    def _over(self) -> float:
        """Return when the stage it starts in is truly over; infinity where it stalls."""
        tray = self.tray
        fern, stage = tray.batch.fern, tray.start_stage
        law = fern.stages.get((tray.batch.route, stage))
        if law is None:
            return tray.started + _DAYS_ON_SALE
        days = law.draw(self.grower.rng) * tray.batch.speed * tray.fate.speed
        if tray.fate.stalls_in is stage:
            days = math.inf
        over = self.grower.clocks[fern.code].after(tray.started, days)
        following = Stage.POTTED_UP if stage is Stage.PRICKED_OUT else Stage.READY
        tray.reached[str(following)] = over
        return over

    def look(
        self, day: int, stage: Stage | None, signs: tuple[Sign, ...], *, new: bool = False
    ) -> None:
        """Look: note losses and troubles, and throw the tray out where it is lost."""
        grower, tray = self.grower, self.tray
        count, about = self.deaths.note(day)
        words = [str(sign) for sign in signs if grower.happens(grower.habits.trouble)][:1]
        lost = tray.moves and tray.moves[-1].day == day and tray.moves[-1].kind == "loss"
        if lost:
            words = list(dict.fromkeys((*sign_of(tray.moves[-1].cause), *words)))
        cause = self._lost_of(day, stage)
        note = grower.rng.choice(notes.ENDINGS[cause]) if cause else ""
        grower.look(
            tray, day, stage=stage, signs=words, count=count if not cause else None,
            about=about and not cause, note=note, keep=new or bool(cause) or bool(lost),
        )  # fmt: skip
        self.signs = frozenset(Sign(word) for word in words)
        if cause:
            self.throw_out(day, cause)

    def throw_out(self, day: int, cause: str) -> None:
        """Discard the tray with all that is alive in it."""
        if self.tray.alive:
            by = self.grower.somebody()
            self.tray.take_away(day, "loss", self.tray.alive, by, cause=cause)
        self.tray.finish(day, "discarded", cause)

    def _lost_of(self, day: int, stage: Stage | None) -> str:
        """Return the cause why all is thrown out that day; empty when it is not."""
        tray = self.tray
        if day > self.grower.last_deed or day <= tray.arrivals[-1][0]:
            return ""
        if not tray.alive:
            return self.deaths.main
        if day >= self.ruin_on:
            return self.ruin_cause
        if stage is not self.tray.start_stage or stage is Stage.READY:
            return ""
        window = default_window(tray.batch.route, stage, tray.batch.fern.kind)
        late = window.late if window else 365
        if math.isinf(self.over) and day - tray.started > 1.5 * late + self.patience:
            return "past_its_best"
        return ""


class CellLife(GrowingLife):
    """A cell tray of pricked-out plants until it is potted up."""

    def __init__(self, grower: Grower, tray: Tray) -> None:
        super().__init__(grower, tray, ruin=grower.habits.ruin_cells, ruins=_CELL_RUINS)
        self.parcels: list[Parcel] = []
        self.pot_on = grower.deed_day(self._in_season(self.over))
        self.goes = 2 if grower.happens(0.12) else 1

    def _in_season(self, moment: float) -> float:
        """Put off potting from after the fern's last week for it to the next spring."""
        last = self.tray.batch.fern.last_pot_up_week
        if last is None or math.isinf(moment):
            return moment
        day = date.fromordinal(int(moment))
        year, week, _ = day.isocalendar()
        if _SPRING_WEEK <= week <= last:
            return moment
        spring = date.fromisocalendar(year + (week > last), _SPRING_WEEK, 2).toordinal()
        return spring + self.grower.rng.randint(0, 25)

    def live(self) -> None:
        """Look weekly and pot up when the time has come."""
        grower, tray = self.grower, self.tray
        look_on = grower.next_look(tray, tray.started, self.stage)
        while tray.ended is None:
            day = min(look_on, self.pot_on)
            if day > grower.until:
                break
            if self.pot_on <= look_on:
                self._pot(day)
            else:
                self.look(day, None if tray.done else self.stage, _CELL_SIGNS)
            if day == look_on:
                look_on = grower.next_look(tray, day, self.stage, self.signs)
        if tray.ended is None:
            age = grower.until - tray.started
            tray.cover = "closed" if age <= 4 else "vented" if age <= 13 else "off"

    def _pot(self, day: int) -> None:
        grower, tray = self.grower, self.tray
        if not tray.looks or tray.looks[-1].day != day:
            self.look(day, self.stage, ())
        if tray.ended is not None:
            return
        self.deaths.settle(day)
        if not tray.alive:
            tray.finish(day, "discarded", self.deaths.main)
            return
        by = grower.somebody()
        per_pot = tray.batch.fern.per_pot
        many = tray.alive
        if self.goes == 2 and many > 20:
            many = (many * 6 // 10) // per_pot * per_pot
        pots = many // per_pot
        if tray.done is None:
            tray.done, tray.done_by = (Stage.POTTED_UP, day), by
        if pots:
            tray.alive -= pots * per_pot
            self.parcels.append(Parcel(tray=tray, day=day, left=pots * per_pot, plants=pots, by=by))
        self.goes -= 1
        again = grower.deed_day(day + grower.rng.randint(7, 20))
        if self.goes == 1 and tray.alive >= per_pot:
            self.pot_on = again
            tray.come_back = day + 14
            return
        if tray.alive:
            tray.take_away(day, "loss", tray.alive, by, cause="surplus")
        tray.finish(day, "cleared")


class PotLife(GrowingLife):
    """A carrier of pots until the last one is sold."""

    def __init__(self, grower: Grower, tray: Tray) -> None:
        super().__init__(grower, tray, ruin=grower.habits.ruin_pots, ruins=_POT_RUINS)
        self.children: list[Tray] = []
        self.sale_on = FAR
        self.unseen_sale = grower.happens(0.05) and math.isfinite(self.over)
        if tray.start_stage is Stage.READY:
            self.unseen_sale = False
            self._put_up_for_sale(tray.started)
        elif self.unseen_sale:
            self.sale_on = grower.deed_day(self.over + 1)

    def live(self) -> None:
        """Look fortnightly, see them ready, sell them off."""
        grower, tray = self.grower, self.tray
        look_on = grower.next_look(tray, tray.started, self.stage)
        while tray.ended is None:
            day = min(look_on, self.sale_on)
            if day > grower.until:
                break
            if self.sale_on < look_on:
                self._sell(day)
                continue
            self._look(day)
            look_on = grower.next_look(tray, day, self.stage, self.signs)
        if tray.ended is None:
            tray.cover = "off"

    def _look(self, day: int) -> None:
        tray = self.tray
        new = self.stage is not Stage.READY and self.over <= day
        if new:
            self.stage = Stage.READY
        self.look(day, self.stage, _POT_SIGNS, new=new)
        if tray.ended is None and new:
            self._put_up_for_sale(day)
            if self.grower.happens(self.grower.habits.potted_on):
                self._pot_on(day)
            elif day <= self.grower.last_deed and self.grower.happens(0.4):
                tray.move_to(day, "frames")

    def _put_up_for_sale(self, day: int) -> None:
        wait = self.grower.rng.expovariate(1 / self.grower.habits.sale_gap)
        self.sale_on = self.grower.deed_day(max(day, self.tray.arrivals[-1][0]) + 2 + wait)

    def _sell(self, day: int) -> None:
        grower, tray = self.grower, self.tray
        here = alive_on(tray, day)
        if here <= 0:
            self.sale_on = FAR
            return
        if day - tray.started > 560 and self.stage is Stage.READY:
            self.throw_out(day, "past_its_best")
            return
        many = min(here, grower.rng.choice((3, 5, 6, 10, 12, 12, 18, 24, 40)))
        recipient = grower.rng.choice(notes.CUSTOMERS)
        order = None
        if grower.happens(0.55) and not recipient.startswith("Counter"):
            order = Order(
                fern=tray.batch.fern, quantity=many, pot_size=tray.pot_size,
                wanted_on=day + grower.rng.randint(-8, 6), customer=recipient,
            )  # fmt: skip
            grower.orders.append(order)
        tray.take_away(day, "dispatch", many, grower.somebody(), recipient=recipient, order=order)
        if tray.alive == 0:
            tray.finish(day, "dispatched")
            return
        self._put_up_for_sale(day)

    def _pot_on(self, day: int) -> None:
        """Move all pots on into bigger ones: a new carrier in the same stage."""
        grower, tray = self.grower, self.tray
        if day > grower.last_deed or day <= tray.arrivals[-1][0] or not tray.alive:
            return
        child = Tray(
            batch=tray.batch, container="carrier 2 L", start_stage=Stage.READY, started=day,
            cells=tray.cells, unit="pots", pot_size="2 L", container_state="washed", cover="off",
            medium=grower.medium("pots", day), label_printed=day,
        )  # fmt: skip
        child.move_to(day, "frames")
        many = tray.alive
        tray.take_away(day, "out", many, grower.somebody(), to=child)
        child.receive(day, many, tray)
        tray.finish(day, "cleared")
        tray.batch.trays.append(child)
        self.children.append(child)
