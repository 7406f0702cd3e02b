"""Whatever is lost, repeated, reordered or restored: is everything kept once, and all ends alike?

Three tablets, each with a clock of its own that is up to two days off, log looks, moves, pickings
and strike-outs of looks and pickings. Messages are lost on the way, answers are lost on the way
back, a lot arrives in another order, arrives twice, and the records go back to an older backup.
Then

    what was acknowledged  ⊆  what is stored  ⊆  what was made,

nothing is stored twice, and when all have sent everything the trays stand alike whatever the order
of arrival, and the same things wait for the manager.

Losses may be of more than a tray holds, and two things may be done in the same second. No walk
picks more out of a tray than it can hold: of two pickings that fit alone and not together, the one
that arrives second waits for the manager, and that is the one thing which hangs on the order.

A hundred walks of thirty steps; NURSERY_WALKS=2000 walks further by hand.
"""

from __future__ import annotations

import os
import random
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid5

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from batches.models import Device, Place, PlantMovement, ToSettle, Tray, TrayCheck
from batches.services.standing import differing, refold
from batches.services.stock_book import book_of
from batches.services.syncing import Sender, take_items
from tests.factories import NOW, BenchFactory, DeviceFactory, LaidOutTrayFactory, TrayFactory

pytestmark = pytest.mark.django_db

WALKS = int(os.environ.get("NURSERY_WALKS", "100"))
SPACE = UUID("5e1f3f0c-64c1-4f6c-8f0e-6a4f4d1f2b11")
TABLETS = ("fern frame", "mist house", "potting shed")
DONE = {"created", "duplicate", "merged", "review"}


class ThreeTablets(RuleBasedStateMachine):
    """The tablets' queues and journals here, the records in the database."""

    looks = Bundle("looks")
    pickings = Bundle("pickings")

    def __init__(self) -> None:
        super().__init__()
        self.around = transaction.atomic()
        self.around.__enter__()
        bench = BenchFactory(rows=3, columns=3)
        self.benches = (bench.code, BenchFactory(rows=3, columns=3).code)
        mats = [TrayFactory(counted=60, bench=bench, row=1, column=place) for place in (1, 2)]
        self.codes = [mat.code for mat in mats]
        self.laid_out = [LaidOutTrayFactory(batch=mats[0].batch).code for _ in range(4)]
        refold(trays=mats, recorded_at=NOW)
        self.devices: list[Device] = [DeviceFactory(name=name) for name in TABLETS]
        self.clocks = [timedelta(0)] * 3
        self.made: list[dict[str, Any]] = []
        self.maker: dict[str, int] = {}
        self.waiting: list[list[dict[str, Any]]] = [[], [], []]
        self.acknowledged: set[str] = set()
        self.backup: tuple[str, set[str]] | None = None
        self.restores = 0
        self.start = transaction.savepoint()

    @initialize(offs=st.tuples(*[st.integers(-48, 48)] * 3))
    def set_clocks(self, offs: tuple[int, int, int]) -> None:
        self.clocks = [timedelta(hours=off) for off in offs]

    # What is done at the benches

    def make(self, tablet: int, hours: float, kind: str, **more: Any) -> dict[str, Any]:
        number = len(self.made)
        # Two moves of one second have no order of their own; looks of one second have.
        second = number if kind != "check" else number % 2
        seen = NOW - timedelta(hours=hours, seconds=second) + self.clocks[tablet]
        item: dict[str, Any] = {
            "id": str(uuid5(SPACE, f"{self.codes[0]}|{number}")), "device_seq": number,
            "kind": kind, "by": TABLETS[tablet], "occurred_at": seen.isoformat(),
        } | more  # fmt: skip
        self.made.append(item)
        self.maker[item["id"]] = tablet
        self.waiting[tablet].append(item)
        return item

    @rule(
        target=looks,
        tablet=st.integers(0, 2),
        hours=st.integers(1, 200) | st.integers(1, 4),
        tray=st.integers(0, 5),
        stage=st.sampled_from(["", "gametophyte", "first_frond"]),
        count=st.none() | st.integers(40, 80),
        signs=st.lists(st.sampled_from(["mould", "dry"]), max_size=2, unique=True),
        lost=st.sampled_from([0, 0, 0, 0, 0, 1, 1, 45]),
    )
    def look(self, tablet, hours, tray, stage, count, signs, lost):
        code = [*self.codes, *self.laid_out][tray]
        more: dict[str, Any] = {"tray": code, "signs": signs}
        if stage and tray < 2:
            more["stage_seen"] = stage
        if count is not None and tray < 2:
            more["count"] = count
        if lost and tray < 2:
            more["losses"] = [{"quantity": lost, "cause": "rot"}]
        return self.make(tablet, hours, "check", **more)["id"]

    @rule(look=looks, tablet=st.integers(0, 2), hours=st.integers(0, 100))
    def strike(self, look, tablet, hours):
        self.make(tablet, hours, "strike_out", strikes_out=look)

    @rule(
        tablet=st.integers(0, 2), hours=st.integers(1, 200), tray=st.integers(0, 1),
        bench=st.integers(0, 1), row=st.integers(1, 3),
    )  # fmt: skip
    def move(self, tablet, hours, tray, bench, row):
        place = {"bench": self.benches[bench], "row": row, "column": 1}
        self.make(tablet, hours, "move", tray=self.codes[tray], **place)

    @rule(
        target=pickings, tablet=st.integers(0, 2), hours=st.integers(1, 200),
        tray=st.integers(0, 1), child=st.integers(0, 3),
    )  # fmt: skip
    def prick_out(self, tablet, hours, tray, child):
        trays = [{"code": self.laid_out[child], "quantity": 1}]
        item = self.make(tablet, hours, "prick_out", tray=self.codes[tray], quantity=1, trays=trays)
        return item["id"]

    @rule(picking=pickings, tablet=st.integers(0, 2), hours=st.integers(0, 100))
    def undo(self, picking, tablet, hours):
        self.make(tablet, hours, "strike_out", strikes_out=picking)

    # What becomes of the messages

    def send(self, items: list[dict[str, Any]], tablet: int) -> list[Any]:
        body = {"sent_at": (NOW + self.clocks[tablet]).isoformat(), "items": items}
        answers = take_items(body=body, sender=Sender(device=self.devices[tablet]), now=NOW)
        assert [answer.id for answer in answers] == [item["id"] for item in items]
        assert {answer.status for answer in answers} <= DONE, answers
        return list(answers)

    @rule(
        tablet=st.integers(0, 2), seed=st.integers(0, 999), most=st.integers(1, 8),
        fate=st.sampled_from(["arrives", "arrives", "arrives", "answer lost", "never arrives"]),
    )  # fmt: skip
    def deliver(self, tablet, seed, most, fate):
        lot = self.waiting[tablet][:]
        random.Random(seed).shuffle(lot)
        lot = lot[:most]
        if not lot or fate == "never arrives":
            return
        answers = self.send(lot, tablet)
        if fate == "answer lost":
            return
        done = {answer.id for answer in answers}
        self.acknowledged |= done
        self.waiting[tablet] = [one for one in self.waiting[tablet] if one["id"] not in done]

    @rule(tablet=st.integers(0, 2), seed=st.integers(0, 999))
    def repeat(self, tablet, seed):
        """An old message turns up once more."""
        old = [one for one in self.made if one["id"] in self.acknowledged]
        mine = [one for one in old if self.maker[one["id"]] == tablet]
        if mine:
            answers = self.send([random.Random(seed).choice(mine)], tablet)
            assert {answer.status for answer in answers} <= {"duplicate", "review", "merged"}

    @rule()
    def back_up(self):
        self.backup = (transaction.savepoint(), set(self.acknowledged))

    @rule()
    def restore(self):
        """An older backup stands in the records' place: tablets offer their journals again."""
        if self.backup is None or self.restores >= 2:
            return
        saved, acknowledged = self.backup
        transaction.savepoint_rollback(saved)
        self.backup = None
        self.restores += 1
        lost = self.acknowledged - acknowledged
        self.acknowledged = acknowledged
        for one in self.made:
            if one["id"] in lost:
                self.waiting[self.maker[one["id"]]].append(one)

    # What always holds

    @invariant()
    def acknowledged_is_stored_and_stored_was_made(self):
        checks = {str(pk) for pk in TrayCheck.objects.values_list("pk", flat=True)}
        others: set[str] = set()
        for model in (Place, PlantMovement, ToSettle):
            others |= {str(pk) for pk in model.objects.values_list("pk", flat=True)}
        made = {one["id"] for one in self.made}
        assert self.acknowledged <= checks | others
        assert checks <= made

    def state(self) -> list[Any]:
        trays = Tray.objects.order_by("code").select_related("bench")
        return [
            (
                tray.code, tray.alive, tray.stage, str(tray.last_look_on), tray.last_signs,
                None if tray.bench is None else tray.bench.code, tray.row,
                str(tray.first_picked_on), str(tray.due_on),
            )
            for tray in trays
        ] + self.open_matters()  # fmt: skip

    def open_matters(self) -> list[str]:
        return sorted(str(pk) for pk in ToSettle.objects.open().values_list("pk", flat=True))

    def arrive(self, items: list[dict[str, Any]]) -> list[Any]:
        """Begin anew, let the items arrive one by one and return how the trays stand."""
        transaction.savepoint_rollback(self.start)
        self.start = transaction.savepoint()
        for item in items:
            self.send([item], self.maker[item["id"]])
        return self.state()

    def teardown(self) -> None:
        try:
            for tablet in range(3):
                if self.waiting[tablet]:
                    for start in range(0, len(self.waiting[tablet]), 50):
                        self.send(self.waiting[tablet][start : start + 50], tablet)
                self.acknowledged |= {one["id"] for one in self.waiting[tablet]}
            self.acknowledged_is_stored_and_stored_was_made()
            assert self.acknowledged == {one["id"] for one in self.made}
            assert differing()[1] == ()
            for tray in Tray.objects.filter(alive__isnull=False):
                assert book_of(tray).alive == tray.alive
            here = self.state()
            shuffled = self.made[:]
            random.Random(len(self.made)).shuffle(shuffled)
            assert self.arrive(shuffled) == here
            assert self.arrive(self.made[::-1]) == here
        finally:
            transaction.set_rollback(True)
            self.around.__exit__(None, None, None)


def test_three_tablets_lose_nothing_and_end_alike() -> None:
    run_state_machine_as_test(
        ThreeTablets,
        settings=settings(
            max_examples=WALKS,
            stateful_step_count=30,
            deadline=None,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        ),
    )
