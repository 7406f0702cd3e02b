"""Which ferns does the demo nursery raise, and how do they do there?

Real botany with invented times: quick ferns and slow ones, spores of both kinds, bulbils, a
division, bought-in young plants and a tree fern.
"""

from __future__ import annotations

from random import Random
from typing import Any

from batches.core.stages import Route, Stage, fern_kind
from tests.simulate.ferns import FernTruth, stage_truths, with_code


def _fern(speed: float, keeps: float, **parts: Any) -> FernTruth:
    """Return a fern with laws about the default windows; `keeps` of its pricked-out plants live."""
    plain = FernTruth(**parts)
    code = with_code(plain)
    laws = stage_truths(
        fern_kind(spore_kind=plain.spore_kind, form=plain.form),
        Random(f"Hollowmere {code}"),
        speed=speed,
        stalled=0.02,
    )
    survival = {Stage.DIVIDED: 0.94, Stage.PRICKED_OUT: keeps, Stage.POTTED_UP: 0.96}
    return FernTruth(**(parts | {"code": code, "stages": laws, "survival": survival}))


FERNS = (
    _fern(
        0.75, 0.86, genus="Osmunda", species="regalis", common_name="royal fern",
        spore_kind="green", rest=(44, 12), last_pot_up_week=36, ripe=(22, 27),
        plants_per_tray=62, per_patch=2.0, pot_size="1 L",
        notes="Spores are green for three days in June. Collect in the morning, sow after lunch.",
    ),
    _fern(
        0.7, 0.9, genus="Matteuccia", species="struthiopteris", common_name="shuttlecock fern",
        spore_kind="green", rest=(42, 12), last_pot_up_week=36, ripe=(44, 51),
        plants_per_tray=58, pot_size="1 L",
        notes="Fertile fronds go brown in autumn and shed on the warm side of the frame.",
    ),
    _fern(
        0.6, 0.91, genus="Onoclea", species="sensibilis", common_name="sensitive fern",
        spore_kind="green", rest=(42, 14), last_pot_up_week=37, ripe=(44, 50),
        plants_per_tray=66, notes="Runs. Keep off the bench with the spleenworts.",
    ),
    _fern(
        0.62, 0.88, genus="Dryopteris", species="filix-mas", common_name="male fern",
        ripe=(29, 37), last_pot_up_week=40, plants_per_tray=64,
        routes=(Route.SPORE, Route.DIVISION),
        notes="Our bread and butter. Good from any lot under two years old.",
    ),
    _fern(
        0.68, 0.84, genus="Dryopteris", species="affinis", cultivar="Cristata",
        common_name="crested golden-scaled male fern", ripe=(29, 38), last_pot_up_week=40,
        plants_per_tray=54,
        notes="Comes fairly true without fertilisation, still rogue at first true fronds.",
    ),
    _fern(
        0.72, 0.85, genus="Dryopteris", species="erythrosora", common_name="autumn fern",
        ripe=(32, 42), last_pot_up_week=39, plants_per_tray=56,
    ),
    _fern(
        0.58, 0.87, genus="Athyrium", species="filix-femina", common_name="lady fern",
        rest=(44, 12), ripe=(31, 36), last_pot_up_week=37, plants_per_tray=62,
        notes="Quick. Two fronds in ten weeks if the lot is fresh.",
    ),
    _fern(
        0.9, 0.9, genus="Athyrium", species="niponicum", infra_rank="var.", infra_epithet="pictum",
        common_name="painted lady fern", rest=(44, 13), ripe=(31, 36), last_pot_up_week=37,
        routes=(Route.DIVISION,), plants_per_tray=40,
        notes="Divide in March before the croziers move. The red plant by the tank only.",
    ),
    _fern(
        0.85, 0.92, genus="Polystichum", species="setiferum", group="Divisilobum Group",
        cultivar="Herrenhausen", common_name="soft shield fern", ripe=(28, 37),
        routes=(Route.BULBIL,), last_pot_up_week=41, plants_per_tray=74,
        notes="Bulbils only, so the name may stay on the label.",
    ),
    _fern(
        0.9, 0.9, genus="Polystichum", species="setiferum", cultivar="Plumosomultilobum",
        common_name="soft shield fern", ripe=(28, 37), routes=(Route.BULBIL,),
        last_pot_up_week=41, plants_per_tray=60,
        notes="Fewer bulbils than Herrenhausen. Never from spores.",
    ),
    _fern(
        0.78, 0.83, genus="Polystichum", species="aculeatum", common_name="hard shield fern",
        ripe=(28, 38), last_pot_up_week=40, plants_per_tray=50,
    ),
    _fern(
        0.66, 0.86, genus="Asplenium", species="scolopendrium", common_name="hart's-tongue",
        ripe=(31, 48), last_pot_up_week=41, plants_per_tray=70,
        notes="Likes a little lime in the cell mix.",
    ),
    _fern(
        1.05, 0.74, genus="Asplenium", species="trichomanes",
        common_name="maidenhair spleenwort", ripe=(27, 40), last_pot_up_week=38,
        plants_per_tray=60, per_patch=2.6, per_pot=3,
        notes="Slow, hates wet feet. Three to a pot.",
    ),
    _fern(
        0.95, 0.8, genus="Struthiopteris", species="spicant", common_name="hard fern",
        ripe=(32, 42), last_pot_up_week=39, plants_per_tray=44,
        notes="Rain water only, no lime anywhere near it.",
    ),
    _fern(
        0.8, 0.89, genus="Adiantum", species="venustum", common_name="Himalayan maidenhair",
        ripe=(30, 36), routes=(Route.BOUGHT_IN, Route.DIVISION), last_pot_up_week=38,
        notes="Bought in as young plants; our own spores never came to much.",
    ),
    _fern(
        0.7, 0.82, genus="Dicksonia", species="antarctica", common_name="soft tree fern",
        form="tree_fern", ripe=(1, 12), plants_per_tray=40, pot_size="1 L",
        protection="Keep the supplier's papers: some tree ferns are listed by CITES, "
        "ask the authority before they cross a border.",
        notes="Takes its time. Nothing for months is nothing to worry about.",
    ),
)  # fmt: skip

BY_CODE = {fern.code: fern for fern in FERNS}
