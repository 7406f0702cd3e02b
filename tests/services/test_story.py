"""Does one nursery live through thirteen months, week by week, with its records always right?

Every deed of the trade is done once at the least, through the services. At the end of every week
the stock book agrees with one kept by hand, every code was given once, Today names nothing that
rests or stands behind a shut door, and what is stored for speed is what the history says. In the
end all of it goes out, into an empty nursery, and out again, byte for byte.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from batches.core.errors import NurseryError
from batches.core.names import botanical_name
from batches.models import CodeEntry, LaidOutTray, MediumBatch, PlantMovement, SporeLot, Tray
from batches.services import forecasting, stage_times
from batches.services.ending import clear, reopen
from batches.services.evidence import gather
from batches.services.examinations import ExaminationWords, record_examination
from batches.services.ferns import FernFacts, name_fern
from batches.services.germination_tests import count_test, sow_test
from batches.services.houses import build_bench, build_house
from batches.services.keeping import set_cover, set_isolated
from batches.services.laid_out import hand_back, lay_out, mark_printed, waiting_for
from batches.services.lots import clean_lot, collect_lot
from batches.services.media import mix_medium
from batches.services.moves import Spot, move
from batches.services.orders import record_order
from batches.services.overdue import DueLine, overdue_lines
from batches.services.readings import Reading, store_readings
from batches.services.records_io import export_records, import_records
from batches.services.refits import refit
from batches.services.selecting import select_form
from batches.services.sold_names import confirm_true
from batches.services.sowing import Trays, buy_in, divide, peg_down, sow_spores
from batches.services.standing import differing
from batches.services.stock_plants import OriginFacts, look_at_sori, note_origin
from batches.services.strikes import strike_out
from batches.services.suspicion import lots_under_suspicion, trays_under_suspicion
from batches.services.this_week import weeks_work
from batches.services.today import morning_note
from batches.services.tray_life import what_became_of
from tests.services.records_io.emptying import empty_nursery
from tests.services.storybook import Storybook, codes_of_laid_out, in_rest

pytestmark = pytest.mark.django_db
WEEKS = 57
CELLS: dict[str, Any] = {"container": "cell tray 84", "cells": 84}
NINE: dict[str, Any] = {"container": "carrier 9 cm", "pot_size": "9 cm"}
LITRE: dict[str, Any] = {"container": "carrier 1 L", "pot_size": "1 L"}


def lines(story: Storybook) -> list[DueLine]:
    return list(overdue_lines(on=story.today, today=story.today, now=story.now))


def week_0(story: Storybook) -> None:
    """Houses, ferns, origins, a mixing; the first sowing with an unsown control."""
    for code, warm in (("MIST", True), ("FRAME", False)):
        house = build_house(code=code, name=f"{code.title()} house", frost_free=warm, now=story.now)
        for number in (1, 2):
            bench = build_bench(
                house=house, code=f"{code}-{number}", rows=4, columns=10, now=story.now
            )
            story.benches[bench.code] = bench
    named: dict[str, tuple[str, str, str, dict[str, Any]]] = {
        "crested": ("Dryopteris", "affinis", "Cristata", {"rest_from_week": 44, "rest_to_week": 10,
                    "last_pot_up_week": 38}),
        "royal": ("Osmunda", "regalis", "", {"spore_kind": "green"}),
        "hen": ("Asplenium", "bulbiferum", "", {"routes": ("bulbil",)}),
        "shield": ("Polystichum", "setiferum", "", {"routes": ("division", "bought_in")}),
    }  # fmt: skip
    for name, (genus, species, cultivar, more) in named.items():
        fern = name_fern(
            name=botanical_name(genus=genus, species=species, cultivar=cultivar),
            facts=FernFacts(**({"spore_kind": "not_green"} | more)), now=story.now,
        )  # fmt: skip
        facts: dict[str, Any] = {"kind": "stock_plant", "bench": story.benches["FRAME-2"]}
        if name == "shield":
            facts = {"kind": "purchase", "supplier": "Fernhill Plugs"}
        if name in {"crested", "royal"}:
            facts |= {"ripe_from_week": 27, "ripe_to_week": 32}
        facts_of = OriginFacts(provenance="G", **facts)
        story.origins[name] = note_origin(taxon=fern, facts=facts_of, now=story.now).source
    mixed = mix_medium(
        recipe="peat:2 perlite:1", made_on=story.today, now=story.now, litres=60,
        treatment="steamed", temperature_c=65, minutes=30,
    ).medium  # fmt: skip
    lot = collect_lot(
        source=story.origins["crested"], collected_on=story.today - timedelta(days=200),
        by="Maeve Corrin", now=story.now,
    ).lot  # fmt: skip
    clean_lot(lot=lot, cleaned_on=lot.collected_on + timedelta(days=5), mass_mg=120, now=story.now)
    sow_test(lot=lot, sown_on=story.today, now=story.now)
    sown = sow_spores(
        lot=SporeLot.objects.for_list().get(pk=lot.pk), on=story.today, by="Una Tarn",
        now=story.now, medium=mixed, sown_mg=40,
        trays=Trays(how_many=4, container="covered tray", unit="patches", control=True,
                    bench=story.benches["MIST-1"]),
    )  # fmt: skip
    story.started("mat", sown.batch, sown.trays, each=None)
    assert [tray.control for tray in sown.trays] == [False] * 4 + [True]


def week_2(story: Storybook) -> None:
    """Fronds of the hen fern are pegged down, liners arrive, a crown is divided."""
    pegged = peg_down(
        source=story.origins["hen"], on=story.today, by="Una Tarn", now=story.now,
        trays=Trays(how_many=1, container="covered tray", bench=story.benches["MIST-1"]),
    )  # fmt: skip
    story.started("frond", pegged.batch, pegged.trays, each=None)
    bought = buy_in(
        source=story.origins["shield"], on=story.today, stage="pricked_out", by="Una Tarn",
        now=story.now, trays=Trays(how_many=4, each=75, bench=story.benches["FRAME-1"], **CELLS),
    )  # fmt: skip
    story.started("liner", bought.batch, bought.trays, each=75)
    split = divide(
        source=story.origins["royal"], on=story.today, by="Una Tarn", now=story.now,
        trays=Trays(how_many=1, container="division tray", each=20,
                    bench=story.benches["FRAME-1"]),
    )  # fmt: skip
    story.started("crown", split.batch, split.trays, each=20)


def week_5(story: Storybook) -> None:
    """First green; a tray shows mould, is set apart and opened; the sample is counted."""
    for place in range(3):
        story.look(story.tray("mat", place), stage_seen="gametophyte")
    story.look(story.tray("mat", 3), stage_seen="gametophyte", signs=["mould"], opened=True)
    set_isolated(trays=[story.tray("mat", 3)], isolated=True, by="Una Tarn", now=story.now)
    lot = story.batches["mat"].spore_lot
    assert lot is not None
    count_test(
        test=lot.germination_tests.get(), counted_on=story.today, counted=100, germinated=83,
        now=story.now,
    )  # fmt: skip


def week_6(story: Storybook) -> None:
    """The mould won: thrown out, taken back by mistake of the hand, thrown out again."""
    story.look(story.tray("mat", 3), signs=["mould"], opened=True)
    story.throw_out(story.tray("mat", 3), "mould")
    reopen(tray=story.tray("mat", 3), by="Greta Lunn", now=story.now)
    story.throw_out(story.tray("mat", 3), "mould")
    story.look(story.tray("crown"), stage_seen="rooted_in", count=19)


def week_9(story: Storybook) -> None:
    """Prothalli are patched out twice: from the mat, and on from the first patches."""
    mat = story.tray("mat", 2)
    fresh = MediumBatch.objects.get(
        pk=mix_medium(recipe="peat:1", made_on=story.today, now=story.now).medium.pk
    )
    story.fill("patch_out", mat, [(30, 110)], name="patch", container="covered tray",
               medium_batch=fresh, spot=Spot(bench=story.benches["MIST-1"]))  # fmt: skip
    story.fill("patch_out", story.tray("patch"), [(26, 26)], name="patch",
               container="covered tray")  # fmt: skip
    assert story.tray("patch", 1).stage == "gametophyte"
    assert story.tray("patch").medium == fresh
    assert story.tray("patch", 1).medium != fresh


def week_12(story: Storybook) -> None:
    """Three liners to a pot: 300 plants become 100 pots; the crown's pieces are potted up."""
    for place in range(4):
        story.fill("pot_up", story.tray("liner", place), [(75, 25)], name="three", end=True,
                   spot=Spot(bench=story.benches["FRAME-1"]), **NINE)  # fmt: skip
    assert sum(story.held[code] or 0 for code in story.trays["three"]) == 100
    assert "moved on to" in what_became_of(story.tray("liner"))
    story.fill("pot_up", story.tray("crown"), [(18, 18)], name="royal pots", lost=1, end=True,
               **NINE)  # fmt: skip


def week_17(story: Storybook) -> None:
    """Sori ripen: Today says so, somebody looks, fronds are cut."""
    due = {line.lot for line in lines(story) if line.kind == "sori"}
    assert due == {story.origins["crested"].code, story.origins["royal"].code}
    look_at_sori(source=story.origins["crested"], on=story.today, now=story.now)
    lot = collect_lot(source=story.origins["royal"], collected_on=story.today, by="Una Tarn",
                      now=story.now).lot  # fmt: skip
    assert not [line for line in lines(story) if line.kind == "sori"]
    clean_lot(lot=lot, cleaned_on=story.today, mass_mg=12, now=story.now)


def week_20(story: Storybook) -> None:
    """First fronds; the patches are counted: 84; the bulbils have rooted."""
    story.look(story.tray("patch"), stage_seen="first_frond", count=84)
    story.look(story.tray("mat", 0), stage_seen="first_frond", count=60, about=True)
    story.look(story.tray("mat", 1), signs=["heart_shapes"])
    story.look(story.tray("frond"), stage_seen="rooted")
    assert story.tray("mat", 0).alive is None
    opened = [story.tray("patch"), story.tray("mat", 0)]
    set_cover(trays=opened, cover="vented", by="Una Tarn", now=story.now)


def week_22(story: Storybook) -> None:
    """Labels are laid out before the mat is opened; what is ready is picked, more is to come."""
    patch = story.tray("patch")
    rows = lay_out(batch=patch.batch, parents=[patch], deed="prick_out", how_many=4, by="Una Tarn",
                   today=story.today, **CELLS)  # fmt: skip
    codes = [row.code for row in rows]
    mark_printed(codes=codes[:3], today=story.today)
    assert morning_note(kinds=Counter(), today=story.today, now=story.now).unlabelled >= 1
    story.fill("prick_out", patch, [(30, 84), (10, 30)], name="cells", codes=codes[:2],
               back=story.today + timedelta(weeks=2),
               spot=Spot(bench=story.benches["FRAME-2"]))  # fmt: skip
    patch = story.tray("patch")
    assert (patch.first_picked_on, patch.late_on) == (story.today, None)
    story.fill("prick_out", story.tray("frond"), [(24, 24)], name="hens", **CELLS)


def week_24(story: Storybook) -> None:
    """Come back: the half-filled tray is filled up, gaps are closed, one code stays over."""
    assert [line.tray for line in lines(story) if line.kind == "picking"] == [
        story.trays["patch"][0]
    ]
    waiting = [row.code for row in waiting_for(batch=story.batches["mat"], deed="prick_out")]
    assert len(waiting) == 2
    story.fill("prick_out", story.tray("patch"), [(20, 54)], standing=story.tray("cells", 1))
    story.fill("prick_out", story.tray("patch"), [(24, 32)], name="cells", codes=waiting[:1],
               end=True)  # fmt: skip
    patch = story.tray("patch")
    assert (patch.end, patch.first_picked_on, patch.last_picked_on) == (
        "cleared", story.today - timedelta(weeks=2), story.today,
    )  # fmt: skip
    arrived = PlantMovement.objects.filter(tray=patch, to_tray__start_stage="pricked_out")
    assert (sum(row.quantity for row in arrived), sum(row.arrived_there for row in arrived)) == (
        84, 200,
    )  # fmt: skip
    story.look(story.tray("cells"), lost=6, cause="rot")
    story.fill("prick_out", story.tray("cells", 2), [(6, 6)], standing=story.tray("cells"))
    hand_back(codes=waiting[1:], today=story.today)
    story.fill("prick_out", story.tray("frond"), [(10, 9)], name="hens", end=True, **CELLS)


def week_26(story: Storybook) -> None:
    """Today says what must be potted before the fern's last week for it."""
    asked = {item.tray.code: item.why for item in weeks_work(today=story.today).pot_up}
    assert "before the end of week 38" in asked[story.trays["cells"][0]]
    story.fill("pot_up", story.tray("cells"), [(40, 40), (20, 20)], name="crested pots",
               spot=Spot(bench=story.benches["FRAME-2"]), **NINE)  # fmt: skip
    clear(tray=story.tray("mat", 1), on=story.today, now=story.now)


def week_28(story: Storybook) -> None:
    """A house is treated and shut for three days; nobody is sent there."""
    story.treat("FRAME", 72)
    assert morning_note(kinds=Counter(), today=story.today, now=story.now).shut[0].code == "FRAME"
    assert not [item for item in weeks_work(today=story.today).pot_up if story.is_shut(item.tray)]


def week_29(story: Storybook) -> None:
    """The door is open again: Today sends somebody to look."""
    back = [line.bench for line in lines(story) if line.kind == "return"]
    assert back == ["FRAME"]
    story.look(story.tray("cells"), count=20)
    assert not [line for line in lines(story) if line.kind == "return"]
    record_examination(
        words=ExaminationWords(on=story.today, examiner="Greta Lunn", place_or_trays="FRAME",
                               looked_for="leaf eelworm", finding="nothing found"),
        now=story.now,
    )  # fmt: skip


def week_38(story: Storybook) -> None:
    """Frost in the frame, and after it a loss; a form is selected out of the cells."""
    house = story.benches["FRAME-1"].house
    cold = Reading(house=house, on=story.today, lowest_c=-3.5, highest_c=4)
    store_readings(readings=[cold], now=story.now)
    (night,) = morning_note(kinds=Counter(), today=story.today, now=story.now).nights
    assert (night.house, night.frost) == ("Frame house", True)
    story.look(story.tray("crested pots"), lost=4, cause="frost")
    cells = story.tray("cells", 1)
    chosen = select_form(tray=cells, quantity=3, on=story.today, by="Maeve Corrin", now=story.now,
                         sold_as="Dryopteris 'Ashlinn Crest'", **NINE)  # fmt: skip
    story.held[cells.code] = (story.held[cells.code] or 0) - 3
    story.started("chosen", chosen.batch, [chosen.tray], each=3)


def week_40(story: Storybook) -> None:
    """A rogue fern flags its lot and the sister trays at once."""
    odd = story.tray("cells", 2)
    story.look(odd, signs=["rogue_fern"])
    sisters = set(trays_under_suspicion(tray=odd).values_list("code", flat=True))
    assert {story.trays["cells"][0], story.trays["mat"][0]} <= sisters
    assert story.trays["three"][0] not in sisters
    assert lots_under_suspicion().get() == story.batches["mat"].spore_lot


def week_41(story: Storybook) -> None:
    """It was a stray frond: the look is struck out and the flag is gone."""
    look = story.tray("cells", 2).checks.standing().filter(signs="rogue_fern").get()
    strike_out(row=look, by="Greta Lunn", now=story.now)
    assert not trays_under_suspicion().exists()


def week_44(story: Storybook) -> None:
    """An order leaves, short of nothing; a stock-take differs; some are potted on, twice."""
    pots = story.tray("three")
    order = record_order(
        taxon=pots.batch.taxon, quantity=45, pot_size="9 cm", now=story.now,
        wanted_on=story.today, today=story.today, customer="Marl Lane",
    )  # fmt: skip
    story.look_at_all("three", stage_seen="ready")
    assert [row.short for row in weeks_work(today=story.today).leaving] == [0]
    story.send(story.tray("three"), 25, order=order)
    story.send(story.tray("three", 1), 20, order=order)
    assert story.tray("three").end == "dispatched"
    story.look(story.tray("three", 1), count=4)
    story.fill("pot_on", story.tray("three", 2), [(12, 12)], name="litre", **LITRE)
    story.fill("pot_on", story.tray("litre"), [(5, 5)], name="litre", container="carrier 3 L",
               pot_size="3 L")  # fmt: skip
    move(trays=[story.tray("litre")], bench=story.benches["MIST-2"], row=1, column=1,
         on=story.today, by="Una Tarn", now=story.now)  # fmt: skip


def week_54(story: Storybook) -> None:
    """Spring: the rest is over, cells are potted up, the cultivar came true."""
    cells = story.tray("cells", 1)
    story.fill("pot_up", cells, [(50, 50)], name="crested pots", **NINE)
    named = confirm_true(batch=story.batches["mat"], on=story.today, now=story.now)
    assert "Cristata" in named.message
    story.look(story.tray("crested pots"), stage_seen="ready", count=35)
    story.send(story.tray("crested pots"), 30)


STORY: dict[int, Callable[[Storybook], None]] = {
    0: week_0, 2: week_2, 5: week_5, 6: week_6, 9: week_9, 12: week_12, 17: week_17, 20: week_20,
    22: week_22, 24: week_24, 26: week_26, 28: week_28, 29: week_29, 38: week_38, 40: week_40,
    41: week_41, 44: week_44, 54: week_54,
}  # fmt: skip


def check(story: Storybook) -> None:
    """Ask at the end of a week whether the records are right."""
    stored = dict(Tray.objects.values_list("code", "alive"))
    assert stored == story.held, f"week {story.week}"
    codes = Counter(code.casefold() for code in CodeEntry.objects.values_list("code", flat=True))
    assert set(codes.values()) == {1}
    assert {code.casefold() for code in set(stored) | codes_of_laid_out()} <= set(codes)
    trays = {tray.code: tray for tray in Tray.objects.with_fern()}
    for line in lines(story):
        if line.tray is not None:
            tray = trays[line.tray]
            assert tray.is_active
            assert not story.is_shut(tray), f"{line.tray} is behind a shut door"
            assert line.kind != "stage" or not in_rest(tray, story.today), f"{line.tray} rests"
    assert differing()[1] == ()


def as_known(day: date) -> tuple[object, object]:
    """What stage times and forecasts are reckoned from."""
    return stage_times.intervals_by_stage(on=day), forecasting.trays_now(on=day)


def hold_brief_against_whole(last: date, monkeypatch: pytest.MonkeyPatch) -> None:
    """Times read without most looks are those read with all of them, on any past day."""
    days = [last - timedelta(days=back) for back in (0, 1, 9, 45, 100, 170, 260, 380)]
    brief = [as_known(day) for day in days]
    whole = partial(gather, in_brief=False)
    for module in (stage_times, forecasting):
        monkeypatch.setattr(module, "gather", lambda ids, **asked: whole(ids, until=asked["until"]))
    assert brief == [as_known(day) for day in days]
    monkeypatch.undo()


def test_a_nursery_lives_through_thirteen_months(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    story = Storybook()
    for week in range(WEEKS):
        story.begin(week)
        STORY.get(week, lambda _: None)(story)
        if week % 4 == 3 and week not in {28, 29}:
            for tray in Tray.objects.active().with_fern():
                story.look(tray)
        elif week != 28:
            story.glance()
        if week % 6 == 5:
            refit(on=story.today, now=story.now)
        check(story)
    kinds = set(PlantMovement.objects.values_list("kind", flat=True))
    assert kinds == {"in", "loss", "out", "dispatch", "recount"}
    assert set(Tray.objects.values_list("end", flat=True)) == {
        "", "cleared", "dispatched", "discarded",
    }  # fmt: skip
    assert LaidOutTray.objects.exclude(handed_back_on=None).count() == 1
    hold_brief_against_whole(story.today, monkeypatch)

    first, second = tmp_path / "first", tmp_path / "second"
    later = story.now + timedelta(days=1)
    export_records(path=first, now=later)
    empty_nursery()
    result = import_records(path=first, now=later, by="Greta Lunn")
    assert [str(error) for error in result.errors] == []
    export_records(path=second, now=later)
    assert {p.name: p.read_bytes() for p in first.iterdir()} == {
        p.name: p.read_bytes() for p in second.iterdir()
    }
    assert dict(Tray.objects.values_list("code", "alive")) == story.held
    assert differing()[1] == ()


def test_the_story_fails_when_a_deed_is_lost():
    story = Storybook()
    story.begin(0)
    week_0(story)
    story.held[story.trays["mat"][0]] = 5
    with pytest.raises(AssertionError, match="week 0"):
        check(story)
    with pytest.raises(NurseryError):
        story.fill("prick_out", story.tray("mat", 4), [(1, 1)], **CELLS)
