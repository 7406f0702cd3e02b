"""Does a trail miss nothing and add nothing, in any nursery, and do its numbers balance?

Random nurseries with several lots, batches, splits, losses and dispatches are held against a plain
graph search over the links that the test itself noted down.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from batches.models import Batch, PlantMovement, Tray
from batches.services.trace import Trail, trail_of, trays_it_became
from batches.services.trace_starts import trail_of_sent
from batches.services.trail_sums import sums_of_trail
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    MediumBatchFactory,
    ParentageFactory,
    SourceFactory,
    SporeLotFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db
Thing = tuple[str, str]
WHO = ("Kiln Yard", "Marl Lane", "Tarn Foot")


@dataclass
class Notebook:
    """What the test wrote down by hand: who gave to whom, and what every tray holds."""

    links: set[tuple[Thing, Thing]] = field(default_factory=set)
    holds: dict[str, int] = field(default_factory=dict)
    left: dict[tuple[Thing, Thing], int] = field(default_factory=lambda: defaultdict(int))
    arrived: dict[tuple[Thing, Thing], int] = field(default_factory=lambda: defaultdict(int))
    lost: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    counted: dict[str, int] = field(default_factory=dict)
    sent: dict[str, tuple[str, int]] = field(default_factory=dict)

    def reach(self, start: Thing, *, back: bool) -> set[Thing]:
        """Search the plain way: again and again through every link."""
        pairs = {(b, a) for a, b in self.links} if back else self.links
        found, more = {start}, True
        while more:
            new = {b for a, b in pairs if a in found} - found
            more, found = bool(new), found | new
        return found - {start}


@dataclass
class Nursery:
    """A drawn nursery, built deed by deed as bare rows."""

    book: Notebook
    trays: list[Tray]
    starts: list[Thing]


def build(data: st.DataObject) -> Nursery:
    """Draw a nursery."""
    book = Notebook()
    trays: list[Tray] = []
    starts: list[Thing] = []
    number = st.integers(1, 30)
    for _ in range(data.draw(st.integers(1, 2), label="origins")):
        source = SourceFactory()
        starts.append(("source", source.code))
        for _ in range(data.draw(st.integers(1, 2), label="lots")):
            lot = SporeLotFactory(source=source, taxon=source.taxon)
            starts.append(("lot", lot.code))
            book.links.add((("source", source.code), ("lot", lot.code)))
            batch = BatchFactory(spore_lot=lot, taxon=lot.taxon)
            starts.append(("batch", batch.code))
            book.links.add((("lot", lot.code), ("batch", batch.code)))
            own = _trays_of(data, batch, book, number)
            trays += own
    for tray in trays:
        _losses_and_sales(data, tray, book)
        Tray.objects.filter(pk=tray.pk).update(alive=book.holds[tray.code])
    starts += [("tray", tray.code) for tray in trays]
    return Nursery(book=book, trays=trays, starts=starts)


def _trays_of(data: st.DataObject, batch: Batch, book: Notebook, number) -> list[Tray]:
    medium = MediumBatchFactory()
    own: list[Tray] = []
    for place in range(data.draw(st.integers(1, 6), label="trays")):
        tray = TrayFactory(batch=batch, medium_batch=medium)
        me = ("tray", tray.code)
        book.links |= {(("batch", batch.code), me), (("medium", medium.code), me)}
        book.holds[tray.code] = 0
        parents = data.draw(
            st.lists(st.integers(0, place - 1), max_size=2, unique=True) if place else st.just([]),
            label="parents",
        )
        for at in parents:
            _split(data, own[at], tray, book)
        if not parents or data.draw(st.booleans(), label="counted in"):
            count = data.draw(number, label="count")
            _row(tray, "in", count)
            book.holds[tray.code] += count
            book.counted[tray.code] = count
        own.append(tray)
    return own


def _split(data: st.DataObject, parent: Tray, child: Tray, book: Notebook) -> None:
    here = book.holds[parent.code]
    if not here:
        ParentageFactory(parent=parent, child=child)
        book.links.add((("tray", parent.code), ("tray", child.code)))
        return
    link = (("tray", parent.code), ("tray", child.code))
    for _ in range(data.draw(st.integers(1, 2), label="pickings")):
        here = book.holds[parent.code]
        if not here:
            break
        left = data.draw(st.integers(1, here), label="left")
        arrived = data.draw(st.one_of(st.none(), st.integers(1, 40)), label="arrived")
        _row(parent, "out", left, to_tray=child, arrived=arrived)
        book.links.add(link)
        book.left[link] += left
        book.arrived[link] += arrived or left
        book.holds[parent.code] -= left
        book.holds[child.code] += arrived or left


def _losses_and_sales(data: st.DataObject, tray: Tray, book: Notebook) -> None:
    here = book.holds[tray.code]
    if here and data.draw(st.booleans(), label="lost"):
        lost = data.draw(st.integers(1, here), label="how many lost")
        _row(tray, "loss", lost, cause="frost")
        book.lost[tray.code] += lost
        book.holds[tray.code] -= lost
    for _ in range(data.draw(st.integers(0, 2), label="sales")):
        here = book.holds[tray.code]
        if not here:
            return
        sent = data.draw(st.integers(1, here), label="sent")
        whom = data.draw(st.sampled_from(WHO), label="whom")
        row = _row(tray, "dispatch", sent, recipient=whom)
        if data.draw(st.integers(0, 4), label="struck") == 0:
            _row(tray, "dispatch", sent, strikes_out=row)
            continue
        link = (("tray", tray.code), ("dispatch", str(row.pk)))
        book.links.add(link)
        book.left[link] = book.arrived[link] = sent
        book.sent[str(row.pk)] = (whom, sent)
        book.holds[tray.code] -= sent


def _row(tray: Tray, kind: str, quantity: int, **more: object) -> PlantMovement:
    return PlantMovement.objects.create(
        tray=tray, on=TODAY, kind=kind, quantity=quantity, recorded_at=NOW, **more
    )


def things(nodes) -> set[Thing]:
    return {(node.kind, node.code) for node in nodes}


def hold_against(nursery: Nursery, start: Thing) -> None:
    """Compare one trail with the notebook."""
    book = nursery.book
    trail = trail_of(code=start[1])
    ahead, behind = book.reach(start, back=False), book.reach(start, back=True)
    assert things(trail.forward) == ahead
    assert things(trail.back) == behind
    part = ahead | behind | {start}
    counted = {
        ((e.giver.kind, e.giver.code), (e.taker.kind, e.taker.code)): (e.left, e.arrived)
        for e in trail.edges
        if e.left is not None
    }
    # An edge is shown when the walk that found one end went through the other.
    wanted = {
        link: (book.left[link], book.arrived[link])
        for link in book.links
        if book.left[link] and _walked(link, start, ahead, behind) and set(link) <= part
    }
    assert counted == wanted
    for one in trail.dispatches:
        assert book.sent[one.id] == (one.recipient, one.quantity)
    _balance(trail, book, {code for kind, code in ahead | {start} if kind == "tray"})


def _walked(link: tuple[Thing, Thing], start: Thing, ahead: set[Thing], behind: set[Thing]) -> bool:
    giver, taker = link
    return giver in ahead | {start} or taker in behind | {start}


def _balance(trail: Trail, book: Notebook, trays: set[str]) -> None:
    assert trays_it_became(trail=trail) == trays
    sums = sums_of_trail(trail=trail, trays=frozenset(trays))
    assert sums.off == ()
    assert sum(n for n, _ in sums.left) == sum(book.holds[code] for code in trays)
    assert sum(n for n, _ in sums.lost) == sum(book.lost[code] for code in trays)
    by_whom: dict[str, int] = defaultdict(int)
    for link in book.links:
        if link[1][0] == "dispatch" and link[0][1] in trays:
            whom, many = book.sent[link[1][1]]
            by_whom[whom] += many
    assert {one.name: one.quantities[0][0] for one in sums.recipients} == by_whom
    for count in sums.counts:
        out = sum(n for (giver, _), n in book.left.items() if giver == ("tray", count.code))
        came = sum(n for (_, taker), n in book.arrived.items() if taker == ("tray", count.code))
        inside = count.book
        assert inside.moved_out + inside.dispatched == out
        assert inside.moved_in == came
        assert inside.counted_in == book.counted.get(count.code, 0)
        assert (
            inside.counted_in + inside.moved_in + inside.recount
            == inside.alive + inside.lost + inside.moved_out + inside.dispatched
        )


class AnyNursery(TestCase):
    """Each drawn nursery stands in a transaction of its own."""

    # Not shrunk: a nursery takes a second to build, and shrinking builds hundreds.
    @settings(
        phases=[Phase.explicit, Phase.reuse, Phase.generate],
        max_examples=25, deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )  # fmt: skip
    @given(st.data())
    def test_a_trail_holds_against_a_plain_search(self, data: st.DataObject) -> None:
        nursery = build(data)
        for start in nursery.starts:
            hold_against(nursery, start)
        self._from_what_was_sent(nursery.book)

    def _from_what_was_sent(self, book: Notebook) -> None:
        """Back from everything sent to somebody; forward to what its trays became besides."""
        for whom in {whom for whom, _ in book.sent.values()}:
            trail = trail_of_sent(recipient=whom)
            members = {("dispatch", row) for row, (to, _) in book.sent.items() if to == whom}
            assert things(trail.members) == members
            behind = set().union(*(book.reach(one, back=True) for one in members))
            assert things(trail.back) == behind
            givers = {giver for giver, taker in book.links if taker in members}
            ahead = set().union(*(book.reach(one, back=False) for one in givers))
            assert things(trail.forward) == ahead - members - givers
