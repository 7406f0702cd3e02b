"""What grows in an unsown control tray, and into which trays may it have blown as well?

Nothing was sown in a control: whatever grows there came through the air of the house in which it
stood open, on the day it was made up. Trays sown there then may hold the same strays.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.signs import SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS, Stage
from batches.models import House, Place, Tray, TrayCheck
from batches.services.days import day_words, local_day
from batches.services.suspicion import batches_with_a_rogue

#: what a look at a control shows when something came through the air
GROWS = (Sign.MOULD, Sign.ALGAE, Sign.MOSS_LIVERWORT, Sign.ROGUE_FERN, Sign.HEART_SHAPES)
#: trays sown so many days before or after are under suspicion; common practice, no source
DAYS_AROUND = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class StraySpores:
    """Something grew in a control tray: what, where and when it blew in, and what else is suspect.

    ``house`` is None when nobody noted where the control stood; then only its sister trays are.
    """

    control: Tray
    seen_on: date
    what: str
    house: House | None
    around: date
    suspects: tuple[Tray, ...]


def stray_spores() -> tuple[StraySpores, ...]:
    """Return one entry for each standing control tray in which something grew, by code.

    A struck-out look lifts it, and so does the end of the control. Four queries.
    """
    controls = list(Tray.objects.active().filter(control=True).values_list("pk", flat=True))
    looks = (
        TrayCheck.objects.standing()
        .filter(tray__in=controls, glance=False)
        .select_related("tray__batch__taxon", "tray__bench__house")
        .order_by("tray__code", "seen_at")
    )
    found: dict[int, tuple[TrayCheck, str]] = {}
    for look in looks:
        what = _what_grew(look)
        if what and look.tray_id not in found:
            found[look.tray_id] = (look, what)
    if not found:
        return ()
    days = [look.tray.started_on for look, _ in found.values()]
    sown = list(
        Tray.objects.active()
        .filter(control=False, start_stage=Stage.SOWN)
        .filter(
            started_on__gte=min(days) - timedelta(days=DAYS_AROUND),
            started_on__lte=max(days) + timedelta(days=DAYS_AROUND),
        )
        .with_fern()
        .order_by("code")
    )
    houses = _first_houses([*sown, *(look.tray for look, _ in found.values())])
    return tuple(_entry(look, what, sown, houses) for look, what in found.values())


def why_suspected(*, tray: Tray, strays: Iterable[StraySpores] | None = None) -> tuple[str, ...]:
    """Return sentences that say why a tray may hold a fern that is not its own; empty for none."""
    reasons = []
    seen = batches_with_a_rogue()
    lot = tray.batch.spore_lot
    sisters = {tray.batch_id}
    if lot is not None and tray.batch.confirmed_true_on is None:
        sisters |= set(lot.batches.values_list("pk", flat=True))
    days = [day for batch, day in seen.items() if batch in sisters]
    if days and tray.is_active:
        whose = "its batch" if lot is None else f"its lot {lot.code}"
        reasons.append(f"A rogue fern was seen in a tray of {whose} on {day_words(max(days))}.")
    reasons += [
        f"The unsown control {stray.control.code}, made up around {day_words(stray.around)}, "
        f"showed {stray.what}: strays may have blown in here."
        for stray in (stray_spores() if strays is None else strays)
        if tray.pk in {one.pk for one in stray.suspects}
    ]
    return tuple(reasons)


def _what_grew(look: TrayCheck) -> str:
    """Return in words what a look at a control saw grow; empty for nothing."""
    words = []
    if look.stage_seen and look.stage_seen != Stage.SOWN:
        words.append(STAGE_WORDS[Stage(look.stage_seen)])
    words += [SIGN_WORDS[sign] for sign in GROWS if sign in look.sign_set]
    return ", ".join(words)


def _first_houses(trays: Iterable[Tray]) -> dict[int, House]:
    """Return the house in which each tray first stood, by tray id; its present one else."""
    found = {tray.pk: tray.bench.house for tray in trays if tray.bench is not None}
    rows = (
        Place.objects.standing()
        .filter(tray__in=[tray.pk for tray in trays], bench__isnull=False)
        .select_related("bench__house")
        .order_by("-on", "-recorded_at")
    )
    # The earliest comes last and stays.
    return found | {row.tray_id: row.bench.house for row in rows}


def _entry(look: TrayCheck, what: str, sown: list[Tray], houses: dict[int, House]) -> StraySpores:
    control = look.tray
    house = houses.get(control.pk)
    suspects = [
        tray
        for tray in sown
        if abs((tray.started_on - control.started_on).days) <= DAYS_AROUND
        and (tray.batch_id == control.batch_id or (house and houses.get(tray.pk) == house))
    ]
    return StraySpores(
        control=control,
        seen_on=local_day(look.seen_at),
        what=what,
        house=house,
        around=control.started_on,
        suspects=tuple(suspects),
    )
