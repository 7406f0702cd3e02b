"""How do the things of a simulated nursery become rows of a records folder?

Codes are given out in the order of starting days, ids and the tablets' own numbers in the order
of the looks. Nothing is decided here that the truth depends on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import Any

from batches.core.codes import batch_code, kind_code, tray_code
from batches.core.stages import DONE_STAGES
from tests.simulate.benches import Layout, stand
from tests.simulate.days import iso
from tests.simulate.ferns import FernTruth
from tests.simulate.grower import Grower
from tests.simulate.looked import Ids, look_rows
from tests.simulate.stock import Batch, Lot, Move, Origin, Tray
from tests.simulate.tables import ROW, Records, Truth


def give_codes(grower: Grower) -> None:
    """Give out all codes: batches by their week, trays by their batch, the others by year."""
    in_week: dict[tuple[int, int], int] = defaultdict(int)
    grower.batches.sort(key=lambda batch: batch.started)
    for batch in grower.batches:
        started = date.fromordinal(batch.started)
        week = started.isocalendar()[:2]
        in_week[week] += 1
        batch.code = batch_code(started, in_week[week])
        batch.trays.sort(key=lambda tray: tray.started)
        for number, tray in enumerate(batch.trays, start=1):
            tray.code = tray_code(batch.code, number)
    grower.lots.sort(key=lambda lot: lot.collected_on)
    _number("lot", grower.lots, [date.fromordinal(lot.collected_on).year for lot in grower.lots])
    _number("source", grower.origins, [origin.entered for origin in grower.origins])
    grower.orders.sort(key=lambda order: order.wanted_on)
    _number(
        "order", grower.orders, [date.fromordinal(order.wanted_on).year for order in grower.orders]
    )
    media = sorted(grower.media.values(), key=lambda medium: medium.made_on)
    _number("medium", media, [date.fromordinal(medium.made_on).year for medium in media])


def _number(kind: str, things: Iterable[Any], years: Sequence[int]) -> None:
    given: dict[int, int] = defaultdict(int)
    for thing, year in zip(things, years, strict=True):
        given[year] += 1
        thing.code = kind_code(kind, year, given[year])


def records_of(
    grower: Grower,
    layout: Layout,
    *,
    seed: int,
    looked_over: Callable[[Grower, Layout, Iterable[Tray]], None] | None = None,
) -> Records:
    """Return all rows, in the order in which they are exported.

    ``looked_over`` is called when the trays have their places and may add glances.
    """
    used = {id(tray.medium) for batch in grower.batches for tray in batch.trays}
    grower.media = {key: made for key, made in grower.media.items() if id(made) in used}
    give_codes(grower)
    trays = [tray for batch in grower.batches for tray in batch.trays]
    stand(trays, layout)
    if looked_over is not None:
        looked_over(grower, layout, trays)
    ids = Ids(seed)
    records = Records(truth=_truth(grower, trays))
    records.taxa = sorted(_fern_row(fern) for fern in grower.ferns)
    records.sources = sorted(_source_row(origin, layout) for origin in grower.origins)
    records.spore_lots = sorted(_lot_row(lot) for lot in grower.lots)
    records.germination_tests = sorted(
        (_test_rows(grower.lots)), key=lambda row: (row.sown_on, row.lot)
    )
    records.media_batches = sorted(_medium_row(medium) for medium in grower.media.values())
    _place_rows(records, layout, trays, ids, grower)
    records.batches = sorted(_batch_row(batch) for batch in grower.batches)
    records.trays = sorted(_tray_row(tray) for tray in trays)
    looks = [look for tray in trays for look in tray.looks]
    records.checks = look_rows(looks, grower.people, seed=seed)
    records.transitions = _done_rows(trays, ids)
    records.movements = _move_rows(trays, ids)
    records.orders = sorted(_order_row(order) for order in grower.orders)
    return records


def _truth(grower: Grower, trays: Iterable[Tray]) -> Truth:
    standing = [tray for tray in trays if not tray.control]
    return Truth(
        ferns={fern.code: fern for fern in grower.ferns},
        stage_days={tray.code: dict(tray.reached) for tray in standing},
        survival={tray.code: tray.survival for tray in standing if tray.survival is not None},
        mould_medium=next((m.code for m in grower.media.values() if m.mouldy), ""),
        rogue_lot=next((lot.code for lot in grower.lots if lot.rogue), ""),
    )


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _day(day: int | None) -> str:
    return "" if day is None else iso(day)


def _yes(value: object) -> str:
    return "yes" if value else ""


def _fern_row(fern: FernTruth) -> Any:
    rest = fern.rest or ("", "")
    return ROW["taxa"](
        code=fern.code, genus=fern.genus, species=fern.species, infra_rank=fern.infra_rank,
        infra_epithet=fern.infra_epithet, group=fern.group, cultivar=fern.cultivar,
        common_name=fern.common_name, spore_kind=fern.spore_kind, form=fern.form,
        rest_from_week=str(rest[0]), rest_to_week=str(rest[1]),
        last_pot_up_week=_text(fern.last_pot_up_week), routes=" ".join(fern.routes),
        protection=fern.protection, notes=fern.notes,
    )  # fmt: skip


def _source_row(origin: Origin, layout: Layout) -> Any:
    ripe = origin.fern.ripe if origin.kind == "stock_plant" else ("", "")
    bench = origin.bench
    if not bench and origin.kind == "stock_plant":
        bench = layout.benches[-1].code
    return ROW["sources"](
        code=origin.code, taxon=origin.fern.code, kind=origin.kind, bench=bench,
        mothers=origin.from_tray.code if origin.from_tray else origin.mothers,
        provenance=origin.provenance, locality=origin.locality, permit=origin.permit,
        supplier=origin.supplier, passport=origin.passport, ripe_from_week=str(ripe[0]),
        ripe_to_week=str(ripe[1]), notes=origin.notes,
    )  # fmt: skip


def _lot_row(lot: Lot) -> Any:
    return ROW["spore_lots"](
        code=lot.code, taxon=lot.origin.fern.code, source=lot.origin.code,
        collected_on=iso(lot.collected_on), collected_by=lot.by, method=lot.method,
        ripeness=lot.ripeness, drying_since=_day(lot.drying_since),
        cleaned_on=_day(lot.cleaned_on), mass_mg=_number_text(lot.mass_mg), storage=lot.storage,
        notes=lot.notes,
    )  # fmt: skip


def _number_text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _test_rows(lots: Iterable[Lot]) -> list[Any]:
    return [
        ROW["germination_tests"](lot.code, iso(sown), iso(on), str(counted), str(germinated))
        for lot in lots
        for sown, on, counted, germinated in lot.tests
    ]


def _medium_row(medium: Any) -> Any:
    return ROW["media_batches"](
        code=medium.code, recipe=medium.recipe, treatment=medium.treatment,
        temperature_c=_number_text(medium.temperature_c), minutes=_number_text(medium.minutes),
        made_on=iso(medium.made_on), litres=_number_text(medium.litres or 40.0),
    )  # fmt: skip


def _batch_row(batch: Batch) -> Any:
    return ROW["batches"](
        code=batch.code, taxon=batch.fern.code, route=str(batch.route), sold_as=batch.sold_as,
        spore_lot=batch.lot.code if batch.lot else "",
        source=batch.origin.code if batch.origin and not batch.lot else "",
        media_batch=batch.medium.code if batch.medium else "", started_on=iso(batch.started),
        notes=batch.notes,
    )  # fmt: skip


def _tray_row(tray: Tray) -> Any:
    place = tray.stood[-1] if tray.stood else (0, "", None, None)
    medium = tray.medium.code if tray.medium and tray.medium is not tray.batch.medium else ""
    return ROW["trays"](
        code=tray.code, batch=tray.batch.code, container=tray.container, cells=_text(tray.cells),
        started_on=iso(tray.started), start_stage=str(tray.start_stage),
        quantity=_text(tray.alive), bench=place[1], row=_text(place[2]), column=_text(place[3]),
        parents=" ".join(parent.code for parent in tray.parents), media_batch=medium,
        unit=tray.unit, pot_size=tray.pot_size, container_state=tray.container_state,
        cover=tray.cover, control=_yes(tray.control), isolated=_yes(tray.isolated),
        label_printed_on=_day(tray.label_printed), come_back_on=_day(tray.come_back),
        ended_on=_day(tray.ended), end=tray.end, end_cause=tray.end_cause,
    )  # fmt: skip


def _done_rows(trays: Iterable[Tray], ids: Ids) -> list[Any]:
    rows = [
        ROW["transitions"](
            id=ids.fresh(),
            tray=tray.code,
            to_stage=str(tray.done[0]),
            seen_on=iso(tray.done[1]),
            by=tray.done_by,
        )
        for tray in trays
        if tray.done is not None and tray.done[0] in DONE_STAGES
    ]
    return sorted(rows, key=lambda row: (row.seen_on, row.id))


def _move_rows(trays: Iterable[Tray], ids: Ids) -> list[Any]:
    moves = [move for tray in trays for move in tray.moves]
    for move in moves:
        move.id = ids.fresh()
    return sorted((_move_row(move) for move in moves), key=lambda row: (row.on, row.id))


def _move_row(move: Move) -> Any:
    return ROW["movements"](
        id=move.id, tray=move.tray.code, on=iso(move.day), kind=move.kind,
        quantity=str(move.quantity), arrived=_text(move.arrived), cause=move.cause,
        to_tray=move.to.code if move.to else "", recipient=move.recipient,
        order=move.order.code if move.order else "", by=move.by,
        strikes_out=move.strikes.id if move.strikes else "",
    )  # fmt: skip


def _place_rows(
    records: Records, layout: Layout, trays: Iterable[Tray], ids: Ids, grower: Grower
) -> None:
    records.houses = [ROW["houses"](house.code, house.name) for house in layout.houses]
    records.benches = [
        ROW["benches"](
            bench.code, bench.house, bench.name, str(bench.rows), str(bench.columns),
            str(bench.walk_order),
        )
        for bench in sorted(layout.benches, key=lambda bench: bench.code)
    ]  # fmt: skip
    records.houses.sort(key=lambda row: row.code)
    rows = [
        ROW["places"](
            id=ids.fresh(), tray=tray.code, on=iso(day), bench=bench, row=_text(row),
            column=_text(column), by=grower.somebody(),
        )
        for tray in trays
        for day, bench, row, column in tray.stood
    ]  # fmt: skip
    records.places = sorted(rows, key=lambda row: (row.on, row.id))


def _order_row(order: Any) -> Any:
    return ROW["orders"](
        code=order.code, taxon=order.fern.code, quantity=str(order.quantity),
        pot_size=order.pot_size, wanted_on=iso(order.wanted_on), customer=order.customer,
    )  # fmt: skip
