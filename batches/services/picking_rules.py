"""May plants go from this tray into that one by this deed, and in which stage do they start?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation

from batches.core.errors import LedgerDoesNotBalance, NotPossibleNow, NotUnderstood
from batches.core.stages import ROUTE_WORDS, STAGE_FACTS, STAGE_WORDS, Stage, is_ahead, on_route
from batches.models import MediumBatch, Parentage, PlantMovement, Tray
from batches.services.moves import Spot

#: deed → unit of what it fills, cover of what it fills
UNIT_OF = {"prick_out": "plants", "patch_out": "patches", "pot_up": "pots", "pot_on": "pots"}
COVER_OF = {"prick_out": "closed", "patch_out": "closed", "pot_up": "off", "pot_on": "off"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """What left a parent for one tray: ``left`` in the parent's unit, ``arrived`` in the child's.

    ``arrived`` is None where both count the same things and nothing was lost between.
    """

    parent: Tray
    left: int
    arrived: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """One tray that is filled, or continued, and what goes into it.

    ``code`` is a laid-out code, empty for a fresh one; ``into`` is a standing tray of the same
    batch and start stage that is continued (then nothing else but ``takes`` is read). Container,
    cells and pot size are those laid out where they are left empty; ``cover`` empty means the
    deed's own (closed after pricking and patching out, off on pots).
    """

    takes: Sequence[Take]
    code: str = ""
    into: Tray | None = None
    container: str = ""
    cells: int | None = None
    pot_size: str = ""
    container_state: str = ""
    medium_batch: MediumBatch | None = None
    spot: Spot = Spot()  # noqa: RUF009 - frozen
    cover: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ParentAfter:
    """What becomes of a parent at this picking.

    ``losses`` during the deed are (how many, cause) in the parent's unit; ``come_back_on`` when
    there is more to come; ``end`` clears it; ``revision`` is the one its page was shown with.
    """

    parent: Tray
    losses: Sequence[tuple[int, str]] = ()
    come_back_on: date | None = None
    end: bool = False
    revision: int | None = None


def require_whole(fillings: Sequence[Filling], afterwards: Sequence[ParentAfter]) -> None:
    """Raise `NotUnderstood` when a picking does not say what goes where, each tray once."""
    if not fillings or any(not filling.takes for filling in fillings):
        raise NotUnderstood("Say what went into each tray, and from which.", field="fillings")
    picked = {take.parent.pk for filling in fillings for take in filling.takes}
    for after in afterwards:
        if after.parent.pk not in picked:
            raise NotUnderstood(
                f"Nothing was taken from tray {after.parent.code}. Nothing was stored.",
                field="parents",
            )
    codes = [filling.code.strip() for filling in fillings if filling.code.strip()]
    into = [filling.into.pk for filling in fillings if filling.into is not None]
    if len(set(codes)) < len(codes) or len(set(into)) < len(into):
        raise NotUnderstood("One tray is named twice; add its numbers up.", field="code")
    for filling in fillings:
        if filling.into is not None and filling.code.strip():
            raise NotUnderstood(
                "Name a standing tray or a code that was laid out, not both.", field="code"
            )


#: what may be done with the plants of a tray, as its address and its page name it
DEED_WORDS = {
    "prick-out": "Prick out",
    "patch-out": "Patch out",
    "pot-up": "Pot up",
    "pot-on": "Pot on",
    "dispatch": "Dispatch",
}


def deeds_open_to(tray: Tray) -> tuple[str, ...]:
    """Return what may be done with the plants of a tray, of `DEED_WORDS`; empty for a control."""
    start = Stage(tray.start_stage)
    if start is Stage.POTTED_UP:
        return ("pot-on", "dispatch")
    if start is Stage.PRICKED_OUT:
        return ("pot-up", "dispatch")
    if tray.control:
        return ()
    first = "prick-out" if on_route(tray.route, Stage.PRICKED_OUT) else "pot-up"
    return (first, "patch-out") if STAGE_FACTS[Stage(tray.stage)].patches else (first,)


def start_stage_of(deed: str, parents: Sequence[Tray]) -> Stage:
    """Return the stage in which what the deed fills starts; all parents are of one batch.

    Raises
    ------
    NotPossibleNow
        When a parent cannot be opened for this deed, in words.
    """
    rule = {
        "prick_out": _pricked_from,
        "patch_out": _patched_from,
        "pot_up": _potted_from,
        "pot_on": _potted_on_from,
    }[deed]
    stages = {rule(parent) for parent in parents}
    if len(stages) > 1:
        raise NotPossibleNow(
            "These trays are in different stages; patch them out one stage at a time. Nothing was "
            "stored.",
            field="parents",
        )
    return stages.pop()


def _pricked_from(parent: Tray) -> Stage:
    if not on_route(parent.route, Stage.PRICKED_OUT):
        raise NotPossibleNow(
            f"What is raised from {ROUTE_WORDS[parent.route]} is not pricked out: pot it up. "
            "Nothing was stored.",
            field="parents",
        )
    if is_ahead(parent.route, Stage(parent.start_stage), Stage.PRICKED_OUT):
        raise _too_far(parent, "pricked out", "Pot it on instead.")
    return Stage.PRICKED_OUT


def _patched_from(parent: Tray) -> Stage:
    here = Stage(parent.stage)
    if not STAGE_FACTS[here].patches:
        advice = "Log the first green as a look." if here is Stage.SOWN else ""
        raise NotPossibleNow(
            f"Tray {parent.code} is at “{STAGE_WORDS[here]}”: only prothalli are patched out. "
            f"Nothing was stored. {advice}".rstrip(),
            field="parents",
        )
    return here


def _potted_from(parent: Tray) -> Stage:
    if not is_ahead(parent.route, Stage.POTTED_UP, Stage(parent.start_stage)):
        raise _too_far(parent, "potted up", "To a bigger pot it is potted on.")
    return Stage.POTTED_UP


def _potted_on_from(parent: Tray) -> Stage:
    if is_ahead(parent.route, Stage.POTTED_UP, Stage(parent.stage)):
        raise NotPossibleNow(
            f"Tray {parent.code} holds no pots yet (“{STAGE_WORDS[Stage(parent.stage)]}”): pot it "
            "up first. Nothing was stored.",
            field="parents",
        )
    return Stage.POTTED_UP


def _too_far(parent: Tray, done: str, advice: str) -> NotPossibleNow:
    return NotPossibleNow(
        f"Tray {parent.code} started as “{STAGE_WORDS[Stage(parent.start_stage)]}” and is "
        f"{done} already. Nothing was stored. {advice}",
        field="parents",
    )


def require_numbers(takes: Sequence[Take], *, unit: str) -> None:
    """Raise when a number is below one, missing between units, or grows without a reason."""
    for take in takes:
        if take.left < 1 or (take.arrived is not None and take.arrived < 1):
            raise NotUnderstood(
                "How many left and how many arrived are whole numbers from 1 up. Nothing was "
                "stored.",
                field="left" if take.left < 1 else "arrived",
            )
        if take.arrived is None and take.parent.unit != unit:
            raise NotUnderstood(
                f"Tray {take.parent.code} is counted in {take.parent.unit}: say how many {unit} "
                f"the {take.left} became.",
                field="arrived",
            )
        counted_alike = take.parent.unit == unit and take.parent.alive is not None
        if counted_alike and take.arrived is not None and take.arrived > take.left:
            raise LedgerDoesNotBalance(
                f"{take.left} {unit} left tray {take.parent.code} and {take.arrived} would have "
                "arrived. Nothing was stored; if the tray held more than its stock book says, "
                "count it first.",
                field="arrived",
            )


def require_continues(into: Tray, *, start: Stage, unit: str, parents: Sequence[Tray]) -> None:
    """Raise `NotPossibleNow` when a standing tray cannot take these plants as well."""
    if into.pk in {parent.pk for parent in parents}:
        raise NotPossibleNow(f"Tray {into.code} cannot be filled from itself.", field="into")
    if into.start_stage != start or into.unit != unit:
        raise NotPossibleNow(
            f"Tray {into.code} started as “{STAGE_WORDS[Stage(into.start_stage)]}”, counted in "
            f"{into.unit}; these would be “{STAGE_WORDS[start]}”, in {unit}. Nothing was stored; "
            "take a tray of its own for them.",
            field="into",
        )
    if into.alive is None and not was_emptied(into):
        raise NotPossibleNow(
            f"Tray {into.code} is not counted, so nobody could say what is in it afterwards. "
            "Nothing was stored; count it first.",
            field="into",
        )
    if into.pk in _ancestors(parents):
        raise NotPossibleNow(
            f"What stands in {parents[0].code} came out of {into.code}; it cannot go back into it. "
            "Nothing was stored; take another tray.",
            field="into",
        )


def was_emptied(tray: Tray) -> bool:
    """Tell whether all that was ever picked into a tray, and nothing else, was struck out."""
    rows = PlantMovement.objects.filter(to_tray=tray)
    return rows.exists() and not PlantMovement.objects.standing().touching(tray).exists()


def _ancestors(trays: Sequence[Tray]) -> set[int]:
    found: set[int] = set()
    front = {tray.pk for tray in trays}
    while front:
        rows = Parentage.objects.filter(child__in=front).values_list("parent", flat=True)
        front = set(rows) - found
        found |= front
    return found


def require_bigger_pot(new: str, parents: Sequence[Tray]) -> None:
    """Raise `NotPossibleNow` when a pot is no bigger than the old one, where both can be read."""
    size = _pot(new)
    for parent in parents:
        old = _pot(parent.pot_size)
        if size is not None and old is not None and size[1] == old[1] and size[0] <= old[0]:
            raise NotPossibleNow(
                f"Tray {parent.code} stands in {parent.pot_size} already; {new} is no bigger pot. "
                "Nothing was stored.",
                field="pot_size",
            )


def _pot(text: str) -> tuple[Decimal, str] | None:
    """Return a pot's number and unit: “9 cm”, “1.5L”; None when it is not written like that."""
    squeezed = text.replace(" ", "").replace(",", ".").lower()
    digits = squeezed.rstrip("abcdefghijklmnopqrstuvwxyz")
    try:
        return Decimal(digits), squeezed[len(digits) :]
    except InvalidOperation:
        return None
