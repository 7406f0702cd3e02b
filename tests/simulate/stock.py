"""What stands on a simulated bench, what was noted of it, and how many does it hold?

Things here have no codes yet: codes are given out in the order of starting days when all is
grown. A tray keeps its own stock and refuses to fall below nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from batches.core.stages import Route, Stage
from tests.simulate.ferns import FernTruth


@dataclass(slots=True, eq=False, kw_only=True)
class Medium:
    """One mixing of a recipe."""

    kind: str
    made_on: int
    recipe: str
    treatment: str = ""
    temperature_c: float | None = None
    minutes: float | None = None
    litres: float = 0.0
    mouldy: bool = False
    code: str = ""


@dataclass(slots=True, eq=False, kw_only=True)
class Origin:
    """A stock plant, a wild place, an exchange or a purchase."""

    fern: FernTruth
    kind: str
    entered: int
    provenance: str = "G"
    mothers: str = ""
    bench: str = ""
    locality: str = ""
    permit: str = ""
    supplier: str = ""
    passport: str = ""
    notes: str = ""
    code: str = ""
    from_tray: Tray | None = None


@dataclass(slots=True, eq=False, kw_only=True)
class Lot:
    """One collection of spores, with the share of them that truly germinate."""

    origin: Origin
    collected_on: int
    by: str = ""
    method: str = "fronds in paper"
    ripeness: str = ""
    drying_since: int | None = None
    cleaned_on: int | None = None
    mass_mg: float | None = None
    storage: str = ""
    notes: str = ""
    tests: list[tuple[int, int, int, int]] = field(default_factory=list)
    rogue: bool = False
    code: str = ""


@dataclass(slots=True, eq=False, kw_only=True)
class Look:
    """Somebody looked at a tray; `strikes` names the look that this row strikes out."""

    tray: Tray
    day: int
    second: int
    by: str
    stage: str = ""
    count: int | None = None
    about: bool = False
    signs: tuple[str, ...] = ()
    opened: bool = False
    glance: bool = False
    note: str = ""
    strikes: Look | None = None
    struck: bool = False
    keep: bool = False
    id: str = ""


@dataclass(slots=True, eq=False, kw_only=True)
class Move:
    """One row of the stock book, in the unit of its tray."""

    tray: Tray
    day: int
    kind: str
    quantity: int
    by: str
    arrived: int | None = None
    cause: str = ""
    to: Tray | None = None
    recipient: str = ""
    order: Order | None = None
    strikes: Move | None = None
    id: str = ""


@dataclass(slots=True, eq=False, kw_only=True)
class Order:
    """Pots promised."""

    fern: FernTruth
    quantity: int
    pot_size: str
    wanted_on: int
    customer: str
    code: str = ""


@dataclass(slots=True, eq=False, kw_only=True)
class Batch:
    """What was started together from one origin."""

    fern: FernTruth
    route: Route
    started: int
    medium: Medium | None
    lot: Lot | None = None
    origin: Origin | None = None
    sold_as: str = ""
    notes: str = ""
    speed: float = 1.0
    trays: list[Tray] = field(default_factory=list)
    code: str = ""


@dataclass(slots=True, eq=False, kw_only=True)
class Fate:
    """What is to befall a starting tray, where a story wants it; otherwise chance decides.

    ``stalls_in`` names the stage it never leaves; ``undecided`` keeps a failed tray standing;
    ``mould_after`` days until mould shows; ``ends_after`` and ``cause`` discard it.
    """

    stalls_in: Stage | None = None
    undecided: bool = False
    mould_after: int | None = None
    mould_kills: bool | None = None
    ends_after: int | None = None
    cause: str = ""
    speed: float = 1.0
    rogue: bool = False
    note: str = ""
    safe: bool = False


@dataclass(slots=True, eq=False, kw_only=True)
class Tray:
    """Anything with one label. ``alive`` is None while nobody has counted it."""

    batch: Batch
    container: str
    start_stage: Stage
    started: int
    cells: int | None = None
    unit: str = "plants"
    pot_size: str = ""
    container_state: str = ""
    cover: str = ""
    medium: Medium | None = None
    control: bool = False
    fate: Fate = field(default_factory=Fate)
    isolated: bool = False
    label_printed: int | None = None
    come_back: int | None = None
    ended: int | None = None
    end: str = ""
    end_cause: str = ""
    alive: int | None = None
    parents: list[Tray] = field(default_factory=list)
    arrivals: list[tuple[int, int]] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    done: tuple[Stage, int] | None = None
    done_by: str = ""
    zones: list[tuple[int, str]] = field(default_factory=list)
    stood: list[tuple[int, str, int | None, int | None]] = field(default_factory=list)
    reached: dict[str, float] = field(default_factory=dict)
    survival: float | None = None
    code: str = ""

    def count_in(self, day: int, quantity: int, by: str) -> None:
        """Write the first count."""
        self.alive = (self.alive or 0) + quantity
        self.arrivals.append((day, quantity))
        self.moves.append(Move(tray=self, day=day, kind="in", quantity=quantity, by=by))

    def take_away(self, day: int, kind: str, quantity: int, by: str, **details: object) -> Move:
        """Write a loss, a dispatch or a move, and lower the stock where it is counted."""
        if self.alive is not None:
            if quantity > self.alive:
                raise AssertionError(f"{quantity} of {self.alive} cannot leave")
            self.alive -= quantity
        move = Move(tray=self, day=day, kind=kind, quantity=quantity, by=by, **details)  # type: ignore[arg-type]
        self.moves.append(move)
        return move

    def recount(self, day: int, difference: int, by: str) -> None:
        """Write the difference that a recount found; never below nothing."""
        if self.alive is None or self.alive + difference < 0 or not difference:
            return
        self.alive += difference
        self.moves.append(Move(tray=self, day=day, kind="recount", quantity=difference, by=by))

    def receive(self, day: int, quantity: int, parent: Tray) -> None:
        """Take what arrived from a parent; the parent's own row tells of it."""
        self.alive = (self.alive or 0) + quantity
        self.arrivals.append((day, quantity))
        if parent not in self.parents:
            self.parents.append(parent)

    def finish(self, day: int, end: str, cause: str = "") -> None:
        """End the tray; nothing counted may be left in it."""
        if self.alive:
            raise AssertionError(f"{self.alive} still alive in a tray that ends")
        self.ended, self.end, self.end_cause = day, end, cause
        self.come_back = None

    def move_to(self, day: int, zone: str) -> None:
        """Stand it in another part of the nursery from that day on."""
        if not self.zones or self.zones[-1][1] != zone:
            self.zones.append((day, zone))
