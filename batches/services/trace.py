"""Where did this come from, and what has it become?

The graph of things (origin → lot → batch → tray → tray → dispatch, and medium batch → tray) is
walked in rounds, each a constant number of queries, back from a thing or forward from it.
`trace_starts` begins at what carries no code: a bench and its days, or what was sent to somebody.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q, Sum
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

#: kinds that a trace can start from
TRACED_KINDS = ("source", "lot", "batch", "tray", "medium")


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Node:
    """A thing of the trail; a dispatch has no code of its own and is named by its row's id."""

    kind: str
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """What went from one thing to the next: left in the giver's unit, arrived in the taker's.

    Both are None where nobody counted (a lot sown into a batch, a parent named without a count).
    """

    giver: Node
    taker: Node
    left: int | None
    arrived: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispatched:
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
    """What one walk has found so far."""

    seen: set[Node] = field(default_factory=set)
    edges: dict[tuple[Node, Node], Edge] = field(default_factory=dict)
    dispatches: dict[str, Dispatched] = field(default_factory=dict)

    def add(
        self, giver: Node, taker: Node, *, left: int | None = None, arrived: int | None = None
    ) -> None:
        self.edges.setdefault(
            (giver, taker), Edge(giver=giver, taker=taker, left=left, arrived=arrived)
        )


#: a round of a walk: from codes by kind to the next things
_Round = Callable[[dict[str, set[str]], _Walk], Iterable[Node]]


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
    back, forward = _Walk(), _Walk()
    _walk(meant, back, _givers)
    taken_from = frozenset(
        giver for giver, taker in back.edges if taker in meant and taker.kind == "dispatch"
    )
    _walk(taken_from or meant, forward, _takers)
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


def _walk(starts: frozenset[Node], walk: _Walk, step: _Round) -> None:
    front = set(starts)
    while front:
        walk.seen |= front
        by_kind: defaultdict[str, set[str]] = defaultdict(set)
        for node in front:
            by_kind[node.kind].add(node.code)
        front = set(step(by_kind, walk)) - walk.seen


def _givers(codes: dict[str, set[str]], walk: _Walk) -> Iterable[Node]:
    """Yield what stands directly behind these things."""
    if sent := codes.get("dispatch"):
        yield from _dispatches(Q(id__in=sent), walk, back=True)
    trays = codes.get("tray", set())
    if trays:
        behind = (Q(child__code__in=trays), Q(to_tray__code__in=trays))
        yield from _tray_edges(*behind, walk, back=True)
        yield from _behind_trays(trays, walk)
    for kind, rows in (
        ("batch", Batch.objects.values_list("code", "spore_lot__code", "source__code")),
        ("lot", SporeLot.objects.values_list("code", "source__code")),
    ):
        for code, *givers in rows.filter(code__in=codes.get(kind, set())):
            taker = Node(kind=kind, code=code)
            for giver in givers:
                if giver:
                    is_lot = kind == "batch" and giver == givers[0]
                    node = Node(kind="lot" if is_lot else "source", code=giver)
                    yield _linked(walk, node, taker, giver=True)
    if sources := codes.get("source"):
        yield from _mothers_of(sources, walk)


def _behind_trays(trays: set[str], walk: _Walk) -> Iterable[Node]:
    rows = Tray.objects.filter(code__in=trays).values_list(
        "code", "batch__code", "medium_batch__code", "batch__medium_batch__code"
    )
    for code, batch, own_medium, batch_medium in rows:
        taker = Node(kind="tray", code=code)
        yield _linked(walk, Node(kind="batch", code=batch), taker, giver=True)
        medium = own_medium or batch_medium
        if medium:
            yield _linked(walk, Node(kind="medium", code=medium), taker, giver=True)


def _takers(codes: dict[str, set[str]], walk: _Walk) -> Iterable[Node]:
    """Yield what these things went into directly."""
    used = Tray.objects.annotate(
        medium_code=Coalesce("medium_batch__code", "batch__medium_batch__code")
    )
    for giver, taker, rows in (
        ("source", "lot", SporeLot.objects.values_list("source__code", "code")),
        ("source", "batch", Batch.objects.values_list("source__code", "code")),
        ("lot", "batch", Batch.objects.values_list("spore_lot__code", "code")),
        ("batch", "tray", Tray.objects.values_list("batch__code", "code")),
        ("medium", "tray", used.values_list("medium_code", "code")),
    ):
        column = {"source": "source__code", "lot": "spore_lot__code", "batch": "batch__code"}
        wanted = {f"{column.get(giver, 'medium_code')}__in": codes.get(giver, set())}
        for code, found in rows.filter(**wanted):
            yield _linked(walk, Node(kind=giver, code=code), Node(kind=taker, code=found))
    if sources := codes.get("source"):
        yield from _daughters_of(sources, walk)
    if trays := codes.get("tray"):
        ahead = (Q(parent__code__in=trays), Q(tray__code__in=trays))
        yield from _tray_edges(*ahead, walk, back=False)
        yield from _dispatches(Q(tray__code__in=trays), walk)
        yield from _daughters_of(trays, walk, kind="tray")


def _linked(walk: _Walk, giver_node: Node, taker_node: Node, *, giver: bool = False) -> Node:
    """Note an edge nobody counted and return the end that is new."""
    walk.add(giver_node, taker_node)
    return giver_node if giver else taker_node


def _tray_edges(parentage: Q, movement: Q, walk: _Walk, *, back: bool) -> Iterable[Node]:
    counted = (
        PlantMovement.objects.standing()
        .filter(movement, kind="out", to_tray__isnull=False)
        .values("tray__code", "to_tray__code")
        .annotate(
            all_left=Sum("quantity"),
            all_arrived=Sum(Coalesce("arrived", "quantity")),
        )
        .order_by("tray__code", "to_tray__code")
    )
    for row in counted:
        giver = Node(kind="tray", code=row["tray__code"])
        taker = Node(kind="tray", code=row["to_tray__code"])
        walk.add(giver, taker, left=row["all_left"], arrived=row["all_arrived"])
        yield giver if back else taker
    for parent, child in Parentage.objects.filter(parentage).values_list(
        "parent__code", "child__code"
    ):
        giver, taker = Node(kind="tray", code=parent), Node(kind="tray", code=child)
        walk.add(giver, taker)
        yield giver if back else taker


def _dispatches(which: Q, walk: _Walk, *, back: bool = False) -> Iterable[Node]:
    rows = (
        PlantMovement.objects.standing()
        .filter(which, kind="dispatch")
        .values_list("id", "tray__code", "on", "quantity", "tray__unit", "recipient")
    )
    for row_id, tray, day, quantity, unit, recipient in rows:
        giver = Node(kind="tray", code=tray)
        taker = Node(kind="dispatch", code=str(row_id))
        walk.add(giver, taker, left=quantity, arrived=quantity)
        walk.dispatches[str(row_id)] = Dispatched(
            id=str(row_id), tray=tray, on=day, quantity=quantity, unit=unit, recipient=recipient
        )
        yield giver if back else taker


def _mothers_of(sources: set[str], walk: _Walk) -> Iterable[Node]:
    """Yield the trays and stock plants that an origin names as its mothers."""
    rows = (
        Source.objects.filter(code__in=sources).exclude(mothers="").values_list("code", "mothers")
    )
    named = {code: mothers.replace(",", " ").split() for code, mothers in rows}
    every = {mother for mothers in named.values() for mother in mothers}
    trays = set(Tray.objects.filter(code__in=every).values_list("code", flat=True))
    plants = set(Source.objects.filter(code__in=every).values_list("code", flat=True))
    for code, mothers in named.items():
        for mother in mothers:
            if mother in trays or (mother in plants and mother != code):
                giver = Node(kind="tray" if mother in trays else "source", code=mother)
                yield _linked(walk, giver, Node(kind="source", code=code), giver=True)


def _daughters_of(codes: set[str], walk: _Walk, *, kind: str = "source") -> Iterable[Node]:
    """Yield the origins (selected forms, pools) that name these as mothers."""
    for code, mothers in Source.objects.exclude(mothers="").values_list("code", "mothers"):
        for mother in mothers.replace(",", " ").split():
            if mother in codes and mother != code:
                yield _linked(walk, Node(kind=kind, code=mother), Node(kind="source", code=code))
