"""Where did this come from, and what has it become?

The graph of things (origin → lot → batch → tray → tray → dispatch, and medium batch → tray) is
walked in rounds, each a constant number of queries, back from a thing or forward from it (there
one round mostly reaches everything: `trail_ahead`). `trace_starts` begins at what carries no code:
a bench and its days, or what was sent to somebody.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from django.db.models import Sum
from django.db.models.functions import Coalesce

from batches.core.errors import UnknownCode
from batches.models import (
    Batch,
    Parentage,
    PlantMovement,
    Source,
    SporeLot,
    Tray,
)
from batches.services.codes import find_code
from batches.services.trail_ahead import steps_ahead

#: kinds that a trace can start from
TRACED_KINDS = ("source", "lot", "batch", "tray", "medium")


# A trail holds thousands of the next three: plain tuples are made, looked up and sorted quickest.
class Node(NamedTuple):
    """A thing of the trail; a dispatch has no code of its own and is named by its row's id."""

    kind: str
    code: str


class Edge(NamedTuple):
    """What went from one thing to the next: left in the giver's unit, arrived in the taker's.

    Both are None where nobody counted (a lot sown into a batch, a parent named without a count).
    """

    giver: Node
    taker: Node
    left: int | None
    arrived: int | None


class Dispatched(NamedTuple):
    """One dispatch at the end of a trail."""

    id: str
    tray: str
    on: date
    quantity: int
    unit: str
    recipient: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """A thing with everything behind it and everything it became.

    ``members`` are the things that ``start`` stands for: itself, the trays that stood on a bench
    in some days, or what was sent. Trays that stood on a bench are among ``forward``; of what was
    sent, ``forward`` is what else came of the trays it was taken from.
    """

    start: Node
    members: tuple[Node, ...]
    back: tuple[Node, ...]
    forward: tuple[Node, ...]
    edges: tuple[Edge, ...]
    dispatches: tuple[Dispatched, ...]


@dataclass(slots=True)
class _Walk:
    """What one walk has found so far; ``mothers`` are the codes that origins name as theirs."""

    mothers: dict[str, list[str]]
    seen: set[Node] = field(default_factory=set)
    edges: dict[tuple[Node, Node], Edge] = field(default_factory=dict)
    dispatches: dict[str, Dispatched] = field(default_factory=dict)

    def add(
        self, giver: Node, taker: Node, *, left: int | None = None, arrived: int | None = None
    ) -> None:
        """Note an edge; one that was counted stands before one that was only named."""
        if left is not None or (giver, taker) not in self.edges:
            self.edges[giver, taker] = Edge(giver, taker, left, arrived)


def trail_of(*, code: str) -> Trail:
    """Return the trail of a tray, batch, lot, origin or medium batch.

    Raises
    ------
    UnknownCode
        When nothing carries the code, or what carries it has no trail (a fern, a bench, an order).
    """
    found = find_code(code)
    if found.kind not in TRACED_KINDS:
        raise UnknownCode(
            f"“{found.code}” has no trail of its own. Trace a tray, a batch, a lot, an origin or "
            "a medium batch."
        )
    start = Node(kind=found.kind, code=found.code)
    return trail_from(start=start, members=[start])


def trail_from(*, start: Node, members: Iterable[Node]) -> Trail:
    """Return the trail of several things at once, under one name."""
    meant = frozenset(members)
    rows = Source.objects.exclude(mothers="").order_by().values_list("code", "mothers")
    mothers = {code: named.replace(",", " ").split() for code, named in rows}
    back, forward = _Walk(mothers=mothers), _Walk(mothers=mothers)
    _walk_back(meant, back)
    taken_from = frozenset(
        giver for giver, taker in back.edges if taker in meant and taker.kind == "dispatch"
    )
    _walk_forward(taken_from or meant, forward)
    edges = forward.edges | back.edges
    own = {start, *taken_from} | {node for node in meant if node.kind == "dispatch"}
    sent = forward.dispatches | back.dispatches
    return Trail(
        start=start,
        members=tuple(sorted(meant)),
        back=tuple(sorted(back.seen - {start} - meant)),
        forward=tuple(sorted(forward.seen - own)),
        edges=tuple(edges[key] for key in sorted(edges)),
        dispatches=tuple(sorted(sent.values(), key=lambda one: (one.on, one.tray, one.id))),
    )


def trays_it_became(*, trail: Trail) -> frozenset[str]:
    """Return the codes of the trays a trail leads to: itself, what it became, what stood there.

    Of something that was sent: the trays it was taken from, and what else they became.
    """
    sent = {node for node in trail.members if node.kind == "dispatch"}
    taken_from = [edge.giver for edge in trail.edges if edge.taker in sent]
    reached = {*trail.members, *trail.forward, *taken_from}
    return frozenset(node.code for node in reached if node.kind == "tray")


def _walk_back(starts: frozenset[Node], walk: _Walk) -> None:
    front = set(starts)
    while front:
        walk.seen |= front
        front = set(_givers(_by_kind(front), walk)) - walk.seen


def _walk_forward(starts: frozenset[Node], walk: _Walk) -> None:
    front = set(starts)
    while front:
        walk.seen |= front
        beyond = {node for node in _takers(_by_kind(front), walk) if node not in walk.seen}
        front = beyond | (set(_daughters(walk)) - walk.seen)


def _by_kind(nodes: Iterable[Node]) -> dict[str, set[str]]:
    found: defaultdict[str, set[str]] = defaultdict(set)
    for kind, code in nodes:
        found[kind].add(code)
    return found


def _givers(codes: dict[str, set[str]], walk: _Walk) -> Iterable[Node]:
    """Yield what stands directly behind these things."""
    if sent := codes.get("dispatch"):
        yield from _behind_dispatches(sent, walk)
    trays = codes.get("tray", set())
    if trays:
        yield from _parents_of(trays, walk)
        yield from _behind_trays(trays, walk)
    for kind, rows in (
        ("batch", Batch.objects.values_list("code", "spore_lot__code", "source__code")),
        ("lot", SporeLot.objects.values_list("code", "source__code")),
    ):
        wanted = codes.get(kind)
        for code, *givers in rows.filter(code__in=wanted) if wanted else ():
            taker = Node(kind=kind, code=code)
            for giver in givers:
                if giver:
                    is_lot = kind == "batch" and giver == givers[0]
                    node = Node(kind="lot" if is_lot else "source", code=giver)
                    yield _linked(walk, node, taker)
    if sources := codes.get("source"):
        yield from _mothers_of(sources, walk)


def _behind_trays(trays: set[str], walk: _Walk) -> Iterable[Node]:
    rows = Tray.objects.filter(code__in=trays).values_list(
        "code", "batch__code", "medium_batch__code", "batch__medium_batch__code"
    )
    for code, batch, own_medium, batch_medium in rows:
        taker = Node(kind="tray", code=code)
        yield _linked(walk, Node(kind="batch", code=batch), taker)
        medium = own_medium or batch_medium
        if medium:
            yield _linked(walk, Node(kind="medium", code=medium), taker)


def _takers(codes: dict[str, set[str]], walk: _Walk) -> set[Node]:
    """Note what these went into; return the trays filled out of trays, to be asked for in turn.

    Those are mostly trays of the batches just asked for, and then noted already.
    """
    edges, seen, beyond = walk.edges, walk.seen, set()
    for kind, code, to_kind, to_code, left, arrived, on, unit, whom in steps_ahead(codes):
        giver, taker = Node(kind, code), Node(to_kind, to_code)
        if left is not None or (giver, taker) not in edges:
            edges[giver, taker] = Edge(giver, taker, left, arrived)
        if kind == "tray" and on is None:
            beyond.add(taker)
            continue
        seen.add(taker)
        if on is not None:
            walk.dispatches[to_code] = Dispatched(
                to_code, code, on, left or 0, unit or "", whom or ""
            )
    return beyond


def _linked(walk: _Walk, giver: Node, taker: Node) -> Node:
    """Note an edge nobody counted and return the giver."""
    walk.add(giver, taker)
    return giver


def _parents_of(trays: set[str], walk: _Walk) -> Iterable[Node]:
    counted = (
        PlantMovement.objects.standing()
        .filter(to_tray__code__in=trays, kind="out")
        .values_list("tray__code", "to_tray__code")
        .annotate(left=Sum("quantity"), there=Sum(Coalesce("arrived", "quantity")))
        .order_by()
    )
    for parent, child, left, arrived in counted:
        giver = Node("tray", parent)
        walk.add(giver, Node("tray", child), left=left, arrived=arrived)
        yield giver
    named = Parentage.objects.filter(child__code__in=trays)
    for parent, child in named.values_list("parent__code", "child__code"):
        yield _linked(walk, Node("tray", parent), Node("tray", child))


def _behind_dispatches(sent: set[str], walk: _Walk) -> Iterable[Node]:
    rows = (
        PlantMovement.objects.standing()
        .filter(id__in=sent, kind="dispatch")
        .values_list("id", "tray__code", "on", "quantity", "tray__unit", "recipient")
    )
    for row_id, tray, day, quantity, unit, recipient in rows:
        giver, code = Node("tray", tray), str(row_id)
        walk.add(giver, Node("dispatch", code), left=quantity, arrived=quantity)
        walk.dispatches[code] = Dispatched(code, tray, day, quantity, unit, recipient)
        yield giver


def _mothers_of(sources: set[str], walk: _Walk) -> Iterable[Node]:
    """Yield the trays and stock plants that an origin names as its mothers."""
    named = {code: walk.mothers[code] for code in sources if code in walk.mothers}
    if not named:
        return
    every = {mother for mothers in named.values() for mother in mothers}
    trays = set(Tray.objects.filter(code__in=every).values_list("code", flat=True))
    plants = set(Source.objects.filter(code__in=every).values_list("code", flat=True))
    for code, mothers in named.items():
        for mother in mothers:
            if mother in trays or (mother in plants and mother != code):
                giver = Node(kind="tray" if mother in trays else "source", code=mother)
                yield _linked(walk, giver, Node(kind="source", code=code))


def _daughters(walk: _Walk) -> Iterable[Node]:
    """Yield the origins (selected forms, pools) that name something of the walk as their mother."""
    for code, mothers in walk.mothers.items():
        for mother in mothers:
            for giver in (Node("source", mother), Node("tray", mother)):
                if giver in walk.seen and mother != code:
                    taker = Node("source", code)
                    walk.add(giver, taker)
                    yield taker
