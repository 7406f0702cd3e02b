"""Does the stock book agree with a plain replay, whatever is done in whatever order?

The second implementation keeps facts and no rows: it replays them day by day, an exact count sets
the number, everything else adds or takes away. Seeded: the same walks every time.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

import pytest

from batches.core.errors import LedgerDoesNotBalance, NotPossibleNow
from batches.models import CodeEntry, Parentage, PlantMovement, Tray
from batches.services.checks import record_check
from batches.services.dispatching import dispatch
from batches.services.ending import discard
from batches.services.glances import record_glance
from batches.services.picking import Filling, Take, patch_out, pot_on, pot_up, prick_out
from batches.services.standing import differing, refold
from batches.services.stock_book import book_of
from batches.services.strikes import Row, strike_out
from tests import factories as make

TODAY = make.TODAY
WEIGHTS = {
    "look": 1, "count": 3, "loss": 3, "prick": 3, "pot": 3, "gap": 2, "dispatch": 3, "glance": 1,
    "strike": 4, "discard": 1, "patch": 2, "pot_on": 2,
}  # fmt: skip
COVERED = ("gametophyte", "first_frond")
pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Step:
    """Which tray or row, how many, and how many days back."""

    which: int
    many: int
    back: int


@dataclass
class Fact:
    """Something that happened to one tray's number; ``sets`` for an exact count."""

    on: date
    amount: int
    sets: bool = False
    brings: bool = False
    row: Row | None = None


@dataclass
class Replay:
    """Facts by tray code, and which trays have ended."""

    facts: dict[str, list[Fact]] = field(default_factory=dict)
    ended: set[str] = field(default_factory=set)

    def days(self, code: str, more: tuple[Fact, ...] = (), without: Row | None = None):
        """Return the number at the end of each day, None before anything was counted."""
        facts = [f for f in (*self.facts[code], *more) if without is None or f.row != without]
        facts.sort(key=lambda fact: fact.on)  # stable: within a day as entered
        number: int | None = None
        gone = 0  # what left while nobody had counted: it came out of what is brought in later
        found = []
        for place, fact in enumerate(facts):
            if fact.sets:
                number = fact.amount
            elif fact.brings:
                number = fact.amount - gone if number is None else number + fact.amount
            elif number is not None:
                number -= fact.amount
            else:
                gone += fact.amount
            if place + 1 == len(facts) or facts[place + 1].on != fact.on:
                found.append(number)
        return found

    def now(self, code: str) -> int | None:
        days = self.days(code)
        return days[-1] if days else None

    def refuses(self, code: str, more: tuple[Fact, ...] = (), without: Row | None = None) -> bool:
        return any(number is not None and number < 0 for number in self.days(code, more, without))


class Walk:
    """Does the steps to the records and to the replay, and compares the two."""

    def __init__(self) -> None:
        self.replay = Replay()
        self.minute = 0
        self.done: Counter[str] = Counter()
        batch = make.BatchFactory()
        for counted, more in (
            (None, {}), (120, {}), (60, {}),
            (84, {"cells_of_84": True}), (84, {"cells_of_84": True}), (40, {"carrier": True}),
            (90, {"start_stage": "gametophyte", "unit": "patches"}),
        ):  # fmt: skip
            tray = make.TrayFactory(batch=batch, counted=counted, **more)
            first = Fact(tray.started_on, counted, brings=True) if counted else None
            self.replay.facts[tray.code] = [first] if first else []
        refold(trays=list(Tray.objects.all()), recorded_at=make.NOW)
        self.rows: list[tuple[Row, list[str]]] = []

    def pick(self, number: int, *stages: str) -> Tray | None:
        trays = Tray.objects.active().filter(start_stage__in=stages) if stages else None
        found = list((trays if trays is not None else Tray.objects.active()).order_by("code"))
        return found[number % len(found)] if found else None

    def when(self, tray: Tray, back: int):
        self.minute += 1
        day = max(TODAY - timedelta(days=back), tray.started_on)
        entered = make.at(TODAY, 18) + timedelta(minutes=self.minute)
        return day, make.at(day, 6) + timedelta(minutes=self.minute), entered

    def tell(self, codes: list[str], facts: list[Fact], row: Row) -> None:
        for code, fact in zip(codes, facts, strict=True):
            fact.row = row
            self.replay.facts.setdefault(code, []).append(fact)
        self.rows.append((row, sorted(set(codes))))

    def attempt(self, refused: bool, deed: Callable[[], object]):
        """Do the deed; it must be refused exactly when the replay says so."""
        try:
            result = deed()
        except LedgerDoesNotBalance:
            assert refused, "refused, though the replay balances"
            self.done["refused"] += 1
            return None
        assert not refused, "stored, though the replay falls below nothing"
        self.done["stored"] += 1
        return result

    def look(self, step: Step, *, count: int | None = None, lost: int = 0) -> None:
        tray = self.pick(step.which)
        if tray is None:
            return
        day, seen_at, entered = self.when(tray, step.back)
        facts = [Fact(day, lost)] if lost else []
        facts += [Fact(day, count, sets=True)] if count is not None else []
        result = self.attempt(
            self.replay.refuses(tray.code, tuple(facts)),
            lambda: record_check(
                tray=tray, seen_at=seen_at, now=entered, by="Una Tarn", count=count,
                losses=[(lost, "rot")] if lost else [],
            ),
        )  # fmt: skip
        if result is not None:
            self.tell([tray.code] * len(facts), facts, result.check)

    def do_look(self, step: Step) -> None:
        self.look(step)

    def do_count(self, step: Step) -> None:
        self.look(step, count=step.many, lost=step.many % 3)

    def do_loss(self, step: Step) -> None:
        self.look(step, lost=step.many % 14 + 1)

    def fill(self, parent: Tray | None, deed, n: int, arrived: int, back: int, **more) -> None:
        if parent is None:
            return
        day, _, entered = self.when(parent, back)
        into = more.get("into")
        if into is not None and (into.alive is None or into.started_on > day):
            return
        out, brought = Fact(day, n), Fact(day, arrived, brings=True)
        take = Take(parent=parent, left=n, arrived=arrived)
        try:
            result = self.attempt(
                self.replay.refuses(parent.code, (out,)),
                lambda: deed(
                    fillings=[Filling(takes=[take], **more)], on=day, by="Una Tarn", now=entered
                ),
            )
        except NotPossibleNow as error:
            if into is None or "cannot go back" not in error.message:
                raise
            return
        if result is not None:
            (child,) = result.children
            self.replay.facts.setdefault(child.code, [])
            self.tell([parent.code, child.code], [out, brought], result.movements[0])

    def do_prick(self, step: Step) -> None:
        many = step.many
        parent = self.pick(step.which, "sown", *COVERED)
        self.fill(parent, prick_out, many, max(1, many - many % 4), step.back, container="cells")

    def do_pot(self, step: Step) -> None:
        many = step.many
        self.fill(
            self.pick(step.which, "pricked_out"), pot_up, many, (many + 2) // 3, step.back,
            container="carrier", pot_size="9 cm",
        )  # fmt: skip

    def do_patch(self, step: Step) -> None:
        """One patch out, several in: the units differ though their word is the same."""
        many = step.many
        parent = self.pick(step.which, *COVERED)
        arrived = many if parent is not None and parent.alive is not None else many * 3
        self.fill(parent, patch_out, many, arrived, step.back, container="covered tray")

    def do_pot_on(self, step: Step) -> None:
        parent = self.pick(step.which, "potted_up")
        if parent is not None:
            bigger = f"{int(parent.pot_size.split()[0]) + 1} cm"
            many = min(step.many, 20)
            self.fill(
                parent, pot_on, many, max(1, many // 2), step.back, container="carrier",
                pot_size=bigger,
            )  # fmt: skip

    def do_gap(self, step: Step) -> None:
        into, parent = self.pick(step.many, "pricked_out"), self.pick(step.which, "pricked_out")
        if into is not None and parent is not None and into.pk != parent.pk:
            many = step.many % 9 + 1
            self.fill(parent, prick_out, many, many, step.back, into=into)

    def do_dispatch(self, step: Step) -> None:
        tray = self.pick(step.which, "potted_up")
        if tray is None or tray.alive is None:
            return
        day, _, entered = self.when(tray, step.back)
        fact = Fact(day, step.many)
        result = self.attempt(
            self.replay.refuses(tray.code, (fact,)),
            lambda: dispatch(tray=tray, quantity=step.many, on=day, by="Oonagh Pell", now=entered),
        )
        if result is not None:
            self.tell([tray.code], [fact], result.movement)

    def do_glance(self, _step: Step) -> None:
        self.minute += 1
        before = dict(Tray.objects.values_list("code", "stage_not_before"))
        moment = make.at(TODAY, 18) + timedelta(minutes=self.minute)
        trays = Tray.objects.active()
        if trays.exists():
            record_glance(trays=trays, seen_at=moment, now=moment, by="Una Tarn")
        assert dict(Tray.objects.values_list("code", "stage_not_before")) == before

    def do_discard(self, step: Step) -> None:
        tray = self.pick(step.which)
        if tray is None or step.many % 3:
            return
        self.minute += 1
        entered = make.at(TODAY, 18) + timedelta(minutes=self.minute)
        result = discard(
            tray=tray, cause="rot", on=TODAY, by="Una Tarn", now=entered, second_look=True
        )
        assert result.lost == (self.replay.now(tray.code) or 0)
        self.replay.facts[tray.code].append(Fact(TODAY, result.lost))
        self.replay.ended.add(tray.code)

    def do_strike(self, step: Step) -> None:
        if not self.rows:
            return
        row, codes = self.rows[step.which % len(self.rows)]
        self.minute += 1
        entered = make.at(TODAY, 18) + timedelta(minutes=self.minute)
        refused = any(self.replay.refuses(code, without=row) for code in codes)
        refused = refused or any(self.uncounts(code, row) for code in codes)
        try:
            done = self.attempt(
                refused, lambda: strike_out(row=row, by="Maeve Corrin", now=entered)
            )
        except NotPossibleNow:
            assert any(code in self.replay.ended for code in codes)
            return
        if done is not None:
            self.rows.remove((row, codes))
            for code in codes:
                self.replay.facts[code] = [f for f in self.replay.facts[code] if f.row != row]

    def uncounts(self, code: str, row: Row) -> bool:
        """Tell whether a counted tray would be left with departures and no count."""
        if self.replay.now(code) is None:
            return False
        rest = [fact for fact in self.replay.facts[code] if fact.row != row]
        return bool(rest) and not any(fact.sets or fact.brings for fact in rest)

    def compare(self) -> None:
        for tray in Tray.objects.all():
            book = book_of(tray)
            assert tray.alive == self.replay.now(tray.code), tray.code
            if book.counted:
                assert (
                    book.counted_in + book.moved_in + book.recount
                    == book.alive + book.lost + book.moved_out + book.dispatched
                )
                assert book.alive == tray.alive
                assert book.alive >= 0
        codes = list(Tray.objects.values_list("code", flat=True))
        assert len(codes) == len(set(codes)) == CodeEntry.objects.filter(code__in=codes).count()
        for parent, child in Parentage.objects.values_list("parent__batch", "child__batch"):
            assert parent == child


@pytest.mark.parametrize("seed", range(8))
def test_the_stock_book_equals_a_plain_replay_after_every_deed(seed):
    chance = random.Random(seed)
    walk = Walk()
    for _ in range(45):
        name = chance.choices(list(WEIGHTS), list(WEIGHTS.values()))[0]
        step = Step(chance.randrange(100), chance.randint(1, 45), chance.randint(0, 12))
        getattr(walk, f"do_{name}")(step)
        walk.compare()
    assert walk.done["stored"] >= 20
    assert differing()[1] == ()


def test_the_walks_together_try_every_deed_and_every_refusal():
    walk = Walk()
    for seed in range(3):
        chance = random.Random(100 + seed)
        for name in chance.sample(list(WEIGHTS) * 6, k=len(WEIGHTS) * 6):
            step = Step(chance.randrange(100), chance.randint(1, 60), chance.randint(0, 9))
            getattr(walk, f"do_{name}")(step)
    walk.compare()
    kinds = set(PlantMovement.objects.values_list("kind", flat=True))
    assert kinds == {"in", "loss", "out", "dispatch", "recount"}
    assert PlantMovement.objects.struck().exists()
    assert Tray.objects.filter(end="discarded").exists()
    filled = Tray.objects.filter(parentages__isnull=False)
    assert filled.filter(unit="patches", start_stage="gametophyte").exists()
    assert filled.filter(pot_size="10 cm").exists()
    assert walk.done["refused"] >= 3
