"""How long does each fern of a simulated nursery truly take, and how many come through?

The names are real botany. The durations and rates are invented about the default windows, so
that what the program finds out can be held against what was put in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from random import Random

from batches.core.names import botanical_name, fern_code
from batches.core.stages import DEFAULT_WINDOWS, FernKind, Route, Stage, fern_kind


@dataclass(frozen=True, slots=True, kw_only=True)
class StageTruth:
    """A Weibull law of days to the next stage for those that move on, and the share that never do.

    ``scale`` in days, ``stalled`` a share from 0 to 1. From pricked out on, days are counted
    without the fern's rest weeks.
    """

    scale: float
    shape: float
    stalled: float = 0.03

    def quantile(self, share: float) -> float:
        """Return the day by which this share of those that move on have moved on."""
        return self.scale * math.pow(-math.log1p(-share), 1 / self.shape)

    def draw(self, rng: Random) -> float:
        """Return one tray's days; infinity for one that stalls."""
        if rng.random() < self.stalled:
            return math.inf
        return rng.weibullvariate(self.scale, self.shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class FernTruth:
    """A fern: its name and habits as the records tell them, and its true laws.

    ``survival`` is the mean chance of one plant to come through a counted stage, ``spread`` the
    correlation of plants of one tray, ``plants_per_tray`` the mean yield of a mat over all its
    pickings, ``per_patch`` the plants that one patch gives.
    """

    genus: str
    species: str
    infra_rank: str = ""
    infra_epithet: str = ""
    group: str = ""
    cultivar: str = ""
    common_name: str = ""
    code: str = ""
    spore_kind: str = "not_green"
    form: str = "fern"
    rest: tuple[int, int] | None = None
    last_pot_up_week: int | None = None
    routes: tuple[Route, ...] = (Route.SPORE,)
    protection: str = ""
    notes: str = ""
    ripe: tuple[int, int] = (30, 38)
    stages: Mapping[tuple[Route, Stage], StageTruth] = field(default_factory=dict)
    survival: Mapping[Stage, float] = field(
        default_factory=lambda: {
            Stage.DIVIDED: 0.93,
            Stage.PRICKED_OUT: 0.86,
            Stage.POTTED_UP: 0.94,
        }
    )
    spread: float = 0.06
    plants_per_tray: float = 95.0
    per_patch: float = 2.2
    per_pot: int = 1
    pot_size: str = "9 cm"

    @property
    def kind(self) -> FernKind:
        """Which column of the default windows it reads."""
        return fern_kind(spore_kind=self.spore_kind, form=self.form)

    def survives(self, stage: Stage) -> float:
        """Return the mean chance of a plant in this stage; 0.95 where none is set."""
        return self.survival.get(stage, 0.95)


def with_code(fern: FernTruth, *, taken: frozenset[str] = frozenset()) -> str:
    """Return the short code the program would give the fern."""
    name = botanical_name(
        genus=fern.genus,
        species=fern.species,
        infra_rank=fern.infra_rank,
        infra_epithet=fern.infra_epithet,
        group=fern.group,
        cultivar=fern.cultivar,
    )
    return fern_code(name, taken=taken)


def stage_truths(
    kind: FernKind,
    rng: Random,
    *,
    speed: float = 1.0,
    stalled: float = 0.03,
) -> dict[tuple[Route, Stage], StageTruth]:
    """Return laws for every stage of every route, about the default windows.

    Parameters
    ----------
    speed : float
        A factor on every median; below 1 is a quick fern.
    stalled : float
        The share of trays that never leave a stage seen under a lid; later stages take half.
    """
    truths = {}
    for (route, stage), windows in DEFAULT_WINDOWS.items():
        window = windows[kind]
        median = math.sqrt(window.early * window.late) * speed * math.exp(rng.gauss(0, 0.12))
        shape = rng.uniform(2.6, 4.4)
        share = stalled if stage not in (Stage.PRICKED_OUT, Stage.POTTED_UP) else stalled / 2
        truths[route, stage] = StageTruth(
            scale=median / math.log(2) ** (1 / shape), shape=shape, stalled=share
        )
    return truths


# genus, species, common name, spore kind, rest weeks, weeks in which its sori ripen
_NAMES: tuple[tuple[str, str, str, str, tuple[int, int] | None, tuple[int, int]], ...] = (
    ("Dryopteris", "filix-mas", "male fern", "not_green", None, (29, 37)),
    ("Asplenium", "scolopendrium", "hart's-tongue", "not_green", None, (31, 44)),
    ("Osmunda", "regalis", "royal fern", "green", (44, 12), (22, 27)),
    ("Athyrium", "filix-femina", "lady fern", "not_green", (44, 12), (31, 36)),
    ("Polystichum", "setiferum", "soft shield fern", "not_green", None, (28, 37)),
    ("Onoclea", "sensibilis", "sensitive fern", "green", (42, 14), (44, 50)),
    ("Struthiopteris", "spicant", "hard fern", "not_green", None, (32, 42)),
    ("Matteuccia", "struthiopteris", "shuttlecock fern", "green", (42, 12), (44, 51)),
    ("Dryopteris", "affinis", "golden-scaled male fern", "not_green", None, (29, 38)),
    ("Polystichum", "aculeatum", "hard shield fern", "not_green", None, (28, 38)),
    ("Asplenium", "trichomanes", "maidenhair spleenwort", "not_green", None, (27, 40)),
    ("Cystopteris", "fragilis", "brittle bladder fern", "not_green", (44, 12), (28, 34)),
    ("Dryopteris", "dilatata", "broad buckler fern", "not_green", None, (30, 37)),
    ("Polypodium", "vulgare", "common polypody", "not_green", None, (34, 46)),
    ("Gymnocarpium", "dryopteris", "oak fern", "not_green", (43, 13), (28, 33)),
    ("Phegopteris", "connectilis", "beech fern", "not_green", (43, 13), (27, 33)),
    ("Thelypteris", "palustris", "marsh fern", "not_green", (43, 13), (31, 37)),
    ("Osmundastrum", "cinnamomeum", "cinnamon fern", "green", (43, 13), (21, 25)),
    ("Dryopteris", "erythrosora", "autumn fern", "not_green", None, (32, 42)),
    ("Cyrtomium", "fortunei", "holly fern", "not_green", None, (33, 44)),
    ("Adiantum", "aleuticum", "Aleutian maidenhair", "not_green", (44, 12), (29, 35)),
    ("Polystichum", "munitum", "western sword fern", "not_green", None, (26, 34)),
    ("Athyrium", "otophorum", "eared lady fern", "not_green", (46, 10), (31, 38)),
    ("Dryopteris", "wallichiana", "alpine wood fern", "not_green", None, (32, 40)),
)


def default_ferns(count: int, *, seed: int, medians_sd: float = 0.30) -> tuple[FernTruth, ...]:
    """Return that many ferns (1 to 24) raised from spores, with laws drawn from the seed.

    ``medians_sd`` is the spread of the ferns' medians about the windows, on the log scale.
    """
    if not 1 <= count <= len(_NAMES):
        raise ValueError(f"from 1 to {len(_NAMES)} ferns, not {count}")
    rng = Random(seed)
    ferns: list[FernTruth] = []
    taken: set[str] = set()
    for genus, species, common, spores, rest, ripe in _NAMES[:count]:
        kind = fern_kind(spore_kind=spores, form="fern")
        plain = FernTruth(genus=genus, species=species)
        code = with_code(plain, taken=frozenset(taken))
        taken.add(code)
        bulbils = (Route.BULBIL,) if species == "setiferum" else ()
        divided = (Route.DIVISION,) if genus in {"Matteuccia", "Onoclea", "Gymnocarpium"} else ()
        bought = (Route.BOUGHT_IN,) if genus in {"Adiantum", "Dryopteris"} else ()
        speed = math.exp(rng.gauss(0, medians_sd))
        ferns.append(
            FernTruth(
                code=code,
                genus=genus,
                species=species,
                common_name=common,
                spore_kind=spores,
                rest=rest,
                ripe=ripe,
                routes=(Route.SPORE, *bulbils, *divided, *bought),
                stages=stage_truths(kind, rng, speed=speed, stalled=rng.uniform(0.01, 0.06)),
                survival={
                    Stage.DIVIDED: rng.uniform(0.88, 0.98),
                    Stage.PRICKED_OUT: rng.uniform(0.74, 0.94),
                    Stage.POTTED_UP: rng.uniform(0.88, 0.98),
                },
                spread=rng.uniform(0.02, 0.12),
                plants_per_tray=rng.uniform(60, 150),
                per_patch=rng.uniform(1.6, 2.8),
                per_pot=3 if species in {"dryopteris", "trichomanes"} else 1,
            )
        )
    return tuple(ferns)
