"""How does a trail read: each thing with its fern, day and place, each count as a sentence?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from batches.core.ledger import in_unit
from batches.models import Batch, MediumBatch, Source, SporeLot, Tray
from batches.services.holds import held_of
from batches.services.trace import Node, Trail

#: the order in which a trail is read, from the origin to the gate
_ORDER = ("source", "medium", "lot", "batch", "tray", "dispatch")


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One thing of a trail as the page shows it; ``url_name`` is empty where it has no page.

    ``day_word`` says what happened on ``on``; ``after`` follows that day; ``held`` is why a tray is
    held back.
    """

    kind: str
    code: str
    url_name: str
    fern_html: str
    words: str
    on: date | None
    day_word: str = ""
    after: str = ""
    glyph: str = "mark"
    held: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedStep:
    """A counted edge: so many left the giver in its unit, so many arrived in the taker's."""

    giver: str
    taker: str
    taker_is_dispatch: bool
    recipient: str
    left: int
    left_unit: str
    arrived: int
    arrived_unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailWords:
    """A trail ready for a page or a print."""

    start: Station
    back: tuple[Station, ...]
    forward: tuple[Station, ...]
    steps: tuple[CountedStep, ...]


def words_of_trail(*, trail: Trail) -> TrailWords:
    """Return the trail's stations in words; at most one query a kind of thing."""
    codes: defaultdict[str, set[str]] = defaultdict(set)
    for node in (trail.start, *trail.members, *trail.back, *trail.forward):
        codes[node.kind].add(node.code)
    trays = {
        tray.code: tray
        for tray in Tray.objects.filter(code__in=codes["tray"]).select_related(
            "batch__taxon", "bench"
        )
    }
    held = held_of(codes=sorted(trays))
    stations: dict[Node, Station] = {}
    for code, tray in trays.items():
        stations[Node(kind="tray", code=code)] = _tray_station(tray, held=held.get(code, ""))
    stations |= _others(codes)
    for sold in trail.dispatches:
        stations[Node(kind="dispatch", code=sold.id)] = Station(
            kind="dispatch",
            code=sold.id,
            url_name="",
            fern_html="",
            words=f"{in_unit(sold.quantity, sold.unit)} to "
            f"{sold.recipient or 'somebody not noted'}",
            on=sold.on,
        )
    recipients = {sold.id: sold.recipient for sold in trail.dispatches}
    return TrailWords(
        start=stations.get(trail.start) or _beginning(trail.start),
        back=_sorted(trail.back, stations),
        forward=_sorted(trail.forward, stations),
        steps=tuple(
            CountedStep(
                giver=edge.giver.code,
                taker=edge.taker.code,
                taker_is_dispatch=edge.taker.kind == "dispatch",
                recipient=recipients.get(edge.taker.code, ""),
                left=edge.left,
                left_unit=trays[edge.giver.code].unit,
                arrived=edge.arrived or 0,
                arrived_unit=trays[edge.taker.code].unit
                if edge.taker.kind == "tray"
                else trays[edge.giver.code].unit,
            )
            for edge in trail.edges
            if edge.left is not None
        ),
    )


def _sorted(nodes: tuple[Node, ...], stations: dict[Node, Station]) -> tuple[Station, ...]:
    found = [stations[node] for node in nodes if node in stations]
    return tuple(sorted(found, key=lambda s: (_ORDER.index(s.kind), s.on or date.min, s.code)))


def _beginning(start: Node) -> Station:
    """Return a start that carries no code: a bench and its days, or what was sent to somebody."""
    return Station(
        kind=start.kind, code=start.code, url_name="", fern_html="", words=start.code, on=None
    )


def _tray_station(tray: Tray, *, held: str) -> Station:
    if tray.ended_on is not None:
        after = f"{tray.get_end_display()} {tray.ended_on.day} {tray.ended_on:%b %Y}"
    else:
        place = "" if tray.bench is None else f", on {tray.bench.code}"
        alive = "uncounted" if tray.alive is None else f"{in_unit(tray.alive, tray.unit)} alive"
        after = f"now {tray.get_stage_display()}, {alive}{place}"
    return Station(
        kind="tray",
        code=tray.code,
        url_name="batches:tray",
        fern_html=tray.batch.taxon.name.html,
        words=tray.container,
        on=tray.started_on,
        day_word="started",
        after=after,
        glyph="ended" if tray.ended_on is not None else tray.stage,
        held=held,
    )


def _raised(batch: Batch) -> str:
    route = batch.get_route_display()
    return route if batch.route == "bought_in" else f"raised from {route}"


def _others(codes: dict[str, set[str]]) -> dict[Node, Station]:
    found: dict[Node, Station] = {}
    for batch in Batch.objects.filter(code__in=codes["batch"]).select_related("taxon"):
        found[Node(kind="batch", code=batch.code)] = Station(
            kind="batch",
            code=batch.code,
            url_name="batches:batch",
            fern_html=batch.taxon.name.html,
            words=_raised(batch),
            on=batch.started_on,
            day_word="started",
        )
    for lot in SporeLot.objects.filter(code__in=codes["lot"]).select_related("taxon"):
        by = f" by {lot.collected_by}" if lot.collected_by else ""
        found[Node(kind="lot", code=lot.code)] = Station(
            kind="lot",
            code=lot.code,
            url_name="batches:lot",
            fern_html=lot.taxon.name.html,
            words=f"spores collected{by}",
            on=lot.collected_on,
            glyph="sown",
        )
    for source in Source.objects.filter(code__in=codes["source"]).select_related("taxon"):
        where = source.locality or source.supplier or source.mothers
        found[Node(kind="source", code=source.code)] = Station(
            kind="source",
            code=source.code,
            url_name="batches:stock-plant",
            fern_html=source.taxon.name.html,
            words=f"{source.get_kind_display()}{f' ({where})' if where else ''}, "
            f"{source.get_provenance_display()}",
            on=None,
        )
    for medium in MediumBatch.objects.filter(code__in=codes["medium"]):
        found[Node(kind="medium", code=medium.code)] = Station(
            kind="medium",
            code=medium.code,
            url_name="",
            fern_html="",
            words=f"{medium.recipe}{', ' + medium.treatment if medium.treatment else ''}",
            on=medium.made_on,
            day_word="mixed",
        )
    return found
