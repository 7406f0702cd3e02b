"""Which stages does a fern pass on each route, and how long do they usually take?

The routes, their stages, the legal moves, how often a tray is looked at and the default windows
are data here. Windows are in days on the stage's clock (from pricked out on, rest weeks do not
count). Common practice, no source, for every number of this module; a fern may override them
and the nursery's own records take over.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from batches.core.signs import PRESSING_SIGNS, Sign


class Stage(StrEnum):
    """A stage as the records name it."""

    SOWN = "sown"
    GAMETOPHYTE = "gametophyte"
    FIRST_FROND = "first_frond"
    PEGGED_DOWN = "pegged_down"
    ROOTED = "rooted"
    DIVIDED = "divided"
    ROOTED_IN = "rooted_in"
    PRICKED_OUT = "pricked_out"
    POTTED_UP = "potted_up"
    READY = "ready"


class Route(StrEnum):
    """What a batch is raised from."""

    SPORE = "spore"
    BULBIL = "bulbil"
    DIVISION = "division"
    BOUGHT_IN = "bought_in"


@dataclass(frozen=True, slots=True, kw_only=True)
class StageFacts:
    """What the program knows of one stage beside its place on a route and its windows.

    ``word`` stands on screens; ``beginning`` as in “31 days since sowing”; ``sign`` is what opens
    the stage, as in “half of them have a first frond by day 90”, and ``not_yet`` says that it is
    missing: both are empty for a stage in which batches only start. ``done``: entered by a deed on
    a day, where the others are seen between two looks. ``covered``: kept sealed under a lid.
    ``resting``: a fern with a rest does not age in it during its rest weeks. ``fed``: gets liquid
    feed. ``patches``: may be patched out.
    """

    word: str
    beginning: str
    sign: str = ""
    not_yet: str = ""
    done: bool = False
    covered: bool = False
    resting: bool = False
    fed: bool = False
    patches: bool = False


STAGE_FACTS: dict[Stage, StageFacts] = {
    Stage.SOWN: StageFacts(word="sown", beginning="sowing", covered=True),
    Stage.GAMETOPHYTE: StageFacts(
        word="prothalli (gametophyte)", beginning="the first green", sign="green",
        not_yet="no green yet", covered=True, patches=True,
    ),
    Stage.FIRST_FROND: StageFacts(
        word="first frond", beginning="the first frond", sign="a first frond",
        not_yet="no frond yet", covered=True, fed=True, patches=True,
    ),
    Stage.PEGGED_DOWN: StageFacts(word="pegged down", beginning="pegging down", covered=True),
    Stage.ROOTED: StageFacts(
        word="rooted", beginning="roots were seen", sign="roots", not_yet="no roots yet",
        covered=True, fed=True,
    ),
    Stage.DIVIDED: StageFacts(word="divided", beginning="dividing"),
    Stage.ROOTED_IN: StageFacts(
        word="rooted in", beginning="rooting in", sign="new growth", not_yet="not rooted in yet"
    ),
    Stage.PRICKED_OUT: StageFacts(
        word="pricked out", beginning="pricking out", sign="a first picking",
        not_yet="not pricked out yet", done=True, resting=True, fed=True,
    ),
    Stage.POTTED_UP: StageFacts(
        word="potted up", beginning="potting up", sign="potting up",
        not_yet="not potted up yet", done=True, resting=True, fed=True,
    ),
    Stage.READY: StageFacts(
        word="ready", beginning="they were ready", sign="ready pots", not_yet="not ready yet",
        resting=True,
    ),
}  # fmt: skip

#: words on screens
STAGE_WORDS: dict[Stage, str] = {stage: facts.word for stage, facts in STAGE_FACTS.items()}

ROUTE_WORDS: dict[Route, str] = {
    Route.SPORE: "spores",
    Route.BULBIL: "bulbils",
    Route.DIVISION: "division",
    Route.BOUGHT_IN: "bought in",
}

ROUTES: dict[Route, tuple[Stage, ...]] = {
    Route.SPORE: (
        Stage.SOWN,
        Stage.GAMETOPHYTE,
        Stage.FIRST_FROND,
        Stage.PRICKED_OUT,
        Stage.POTTED_UP,
        Stage.READY,
    ),
    Route.BULBIL: (
        Stage.PEGGED_DOWN,
        Stage.ROOTED,
        Stage.PRICKED_OUT,
        Stage.POTTED_UP,
        Stage.READY,
    ),
    Route.DIVISION: (Stage.DIVIDED, Stage.ROOTED_IN, Stage.POTTED_UP, Stage.READY),
    Route.BOUGHT_IN: (Stage.PRICKED_OUT, Stage.POTTED_UP, Stage.READY),
}

#: stages that are done on a day; the others are seen between two looks
DONE_STAGES = frozenset(stage for stage, facts in STAGE_FACTS.items() if facts.done)
#: covered trays: sealed, sown or pegged material
COVERED_STAGES = frozenset(stage for stage, facts in STAGE_FACTS.items() if facts.covered)
#: stages in which a fern with a rest does not age during its rest weeks
RESTING_STAGES = frozenset(stage for stage, facts in STAGE_FACTS.items() if facts.resting)
#: stages a batch may start in
START_STAGES: dict[Route, tuple[Stage, ...]] = {
    Route.SPORE: (Stage.SOWN,),
    Route.BULBIL: (Stage.PEGGED_DOWN,),
    Route.DIVISION: (Stage.DIVIDED,),
    Route.BOUGHT_IN: (Stage.PRICKED_OUT, Stage.POTTED_UP),
}


class FernKind(StrEnum):
    """Which column of the default windows a fern reads."""

    HARDY = "hardy"
    GREEN = "green"
    TREE_FERN = "tree_fern"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Default days to the next stage: 10 %, usual and 90 % for one tray of an unknown fern.

    ``usual`` is what people read and type; dates are reckoned from early and late alone, with the
    middle at the square root of their product.
    """

    early: float
    usual: float
    late: float


def _windows(*days: int) -> dict[FernKind, Window]:
    """Read nine numbers as early, usual, late of hardy, green-spored and tree ferns."""
    kinds = (FernKind.HARDY, FernKind.GREEN, FernKind.TREE_FERN)
    return {
        kind: Window(early=days[3 * k], usual=days[3 * k + 1], late=days[3 * k + 2])
        for k, kind in enumerate(kinds)
    }


def _same(*days: int) -> dict[FernKind, Window]:
    return _windows(*days, *days, *days)


_PRICKED_TO_POTTED = _windows(56, 90, 240, 56, 90, 240, 90, 150, 270)
_POTTED_TO_READY = _windows(90, 180, 365, 90, 180, 365, 180, 400, 730)
_SOON_READY = _same(60, 120, 300)

#: (route, stage) → windows to the next stage
DEFAULT_WINDOWS: dict[tuple[Route, Stage], dict[FernKind, Window]] = {
    (Route.SPORE, Stage.SOWN): _windows(10, 28, 90, 2, 7, 21, 14, 60, 365),
    (Route.SPORE, Stage.GAMETOPHYTE): _windows(60, 150, 365, 60, 120, 300, 90, 240, 600),
    (Route.SPORE, Stage.FIRST_FROND): _windows(30, 75, 180, 30, 75, 180, 60, 120, 240),
    (Route.SPORE, Stage.PRICKED_OUT): _PRICKED_TO_POTTED,
    (Route.SPORE, Stage.POTTED_UP): _POTTED_TO_READY,
    (Route.BULBIL, Stage.PEGGED_DOWN): _same(60, 120, 200),
    (Route.BULBIL, Stage.ROOTED): _same(14, 30, 90),
    (Route.BULBIL, Stage.PRICKED_OUT): _PRICKED_TO_POTTED,
    (Route.BULBIL, Stage.POTTED_UP): _SOON_READY,
    (Route.DIVISION, Stage.DIVIDED): _same(14, 30, 60),
    (Route.DIVISION, Stage.ROOTED_IN): _same(14, 30, 90),
    (Route.DIVISION, Stage.POTTED_UP): _SOON_READY,
    (Route.BOUGHT_IN, Stage.PRICKED_OUT): _PRICKED_TO_POTTED,
    (Route.BOUGHT_IN, Stage.POTTED_UP): _POTTED_TO_READY,
}

#: days without any green after which re-sow, wait or discard is decided
NO_GERMINATION_DAYS: dict[FernKind, int] = {
    FernKind.HARDY: 180,
    FernKind.GREEN: 60,
    FernKind.TREE_FERN: 540,
}

#: days between looks
LOOK_SEALED_EARLY = 7
LOOK_SEALED = 14
LOOK_SEALED_TREE_FERN = 21
SEALED_EARLY_FOR = 56
LOOK_MOULD = 2
LOOK_CELLS = 7
LOOK_POTS = 14
LOOK_REST = 30


def fern_kind(*, spore_kind: str, form: str) -> FernKind:
    """Return which default windows a fern reads; tree ferns before spore colour."""
    if form == "tree_fern":
        return FernKind.TREE_FERN
    return FernKind.GREEN if spore_kind == "green" else FernKind.HARDY


def default_window(route: Route, stage: Stage, kind: FernKind) -> Window | None:
    """Return the default window from this stage to the next; None for *ready*."""
    windows = DEFAULT_WINDOWS.get((route, stage))
    return None if windows is None else windows[kind]


def next_stage(route: Route, stage: Stage) -> Stage | None:
    """Return the stage after this one on the route; None after *ready* or off the route."""
    stages = ROUTES[route]
    if stage not in stages:
        return None
    place = stages.index(stage) + 1
    return stages[place] if place < len(stages) else None


def is_ahead(route: Route, stage: Stage, of: Stage) -> bool:
    """Tell whether `stage` comes after `of` on the route; False when one is not on it."""
    stages = ROUTES[route]
    if stage not in stages or of not in stages:
        return False
    return stages.index(stage) > stages.index(of)


def stages_between(route: Route, start: Stage, end: Stage) -> tuple[Stage, ...]:
    """Return the stages after `start` up to and with `end`; empty when `end` is not ahead."""
    stages = ROUTES[route]
    if not is_ahead(route, end, start):
        return ()
    return stages[stages.index(start) + 1 : stages.index(end) + 1]


def stages_seen_next(route: Route, stage: Stage) -> tuple[Stage, ...]:
    """Return the stages that a look may see next: ahead on the route, before the next deed."""
    found: list[Stage] = []
    for one in ROUTES[route]:
        if not is_ahead(route, one, stage):
            continue
        if one in DONE_STAGES:
            break
        found.append(one)
    return tuple(found)


def on_route(route: Route, stage: Stage) -> bool:
    """Tell whether the route knows the stage."""
    return stage in ROUTES[route]


def look_every(
    *, stage: Stage, kind: FernKind, days_since_start: int, signs: frozenset[Sign], resting: bool
) -> int:
    """Return after how many days the next look is due.

    Parameters
    ----------
    days_since_start : int
        Days since the tray was started; sealed trays are looked at weekly for eight weeks.
    signs : frozenset of Sign
        What the last look showed.
    resting : bool
        Whether the fern is in its rest weeks.
    """
    if signs & PRESSING_SIGNS:
        return LOOK_MOULD
    if resting and stage in RESTING_STAGES:
        return LOOK_REST
    if stage in COVERED_STAGES:
        if days_since_start < SEALED_EARLY_FOR:
            return LOOK_SEALED_EARLY
        return LOOK_SEALED_TREE_FERN if kind is FernKind.TREE_FERN else LOOK_SEALED
    if stage in (Stage.POTTED_UP, Stage.READY):
        return LOOK_POTS
    return LOOK_CELLS
