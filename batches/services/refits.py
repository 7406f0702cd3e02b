"""When records changed: what are the ferns' stage times now, and which due dates follow?

A fit is worked out before any transaction begins; the fits and the due dates that come from them
are then replaced together. A fern leans on what its relatives said when they were last reckoned,
so that only ferns that were touched are reckoned again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import F

from batches.core.durations import StageEstimate, estimate_stage
from batches.core.stage_prior import FernEvidence, fern_evidence, prior_from_relatives
from batches.core.stages import Route, Stage, Window
from batches.models import StageFit, Taxon, Tray
from batches.services.stage_times import Key, intervals_by_stage, windows_of
from batches.services.standing import refold

#: a change of less than this many days moves no due date worth a write
_DAYS_THAT_MATTER = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Refit:
    """What a reckoning changed."""

    ferns: int
    fits: int
    trays: int


def refit(*, on: date, now: datetime, taxon_ids: Iterable[int] | None = None) -> Refit:
    """Reckon the stage times of some ferns (all, when none are named) and store what changed.

    Parameters
    ----------
    on : date
        What was seen by the end of this day counts.
    """
    ferns = Taxon.objects.all()
    if taxon_ids is not None:
        ferns = ferns.filter(pk__in=list(taxon_ids))
    taxa = {fern.pk: fern for fern in ferns}
    if not taxa:
        return Refit(ferns=0, fits=0, trays=0)
    # Unmarked before anything is read: what is logged meanwhile marks its fern again.
    marked = list(ferns.filter(fit_due=True).values_list("pk", flat=True))
    Taxon.objects.filter(pk__in=marked).update(fit_due=False)
    try:
        return _replace(taxa, on=on, now=now)
    except BaseException:
        if not transaction.get_connection().needs_rollback:
            Taxon.objects.filter(pk__in=marked).update(fit_due=True)
        raise


def _replace(taxa: Mapping[int, Taxon], *, on: date, now: datetime) -> Refit:
    """Store what is reckoned fern by fern: whoever writes at the bench waits for one at most."""
    fits = _reckon(taxa, on=on)
    by_fern: defaultdict[int, dict[Key, _Reckoned]] = defaultdict(dict)
    for key, one in fits.items():
        by_fern[key[0]][key] = one
    ferns = moved = 0
    for pk, taxon in taxa.items():
        with transaction.atomic():
            if not _store(by_fern[pk], {pk: taxon}, on=on):
                continue
            ferns += 1
            trays = list(Tray.objects.active().filter(batch__taxon=pk).only("pk"))
            moved += refold(trays=trays, recorded_at=now) if trays else 0
    return Refit(ferns=ferns, fits=len(fits), trays=moved)


def refit_due(*, on: date, now: datetime) -> Refit:
    """Reckon the ferns whose trays moved on since; nothing when none did."""
    due = list(Taxon.objects.filter(fit_due=True).values_list("pk", flat=True))
    return refit(on=on, now=now, taxon_ids=due) if due else Refit(ferns=0, fits=0, trays=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reckoned:
    estimate: StageEstimate
    evidence: FernEvidence | None
    window: Window


def _reckon(taxa: Mapping[int, Taxon], *, on: date) -> dict[Key, _Reckoned]:
    rows = intervals_by_stage(on=on, taxon_ids=taxa)
    windows = windows_of(taxa, rows)
    spoken = {key: fern_evidence(rows[key], windows[key]) for key in rows}
    others = _stored_evidence(taxa)
    found: dict[Key, _Reckoned] = {}
    for key in rows:
        window = windows[key]
        relatives = [
            (taxa[other[0]].genus, said)
            for other, said in spoken.items()
            if other[1:] == key[1:] and other[0] != key[0] and windows[other] == window and said
        ]
        relatives += [
            (genus, said)
            for genus, route, stage, early, late, said in others
            if (route, stage, early, late) == (key[1], key[2], window.early, window.late)
        ]
        own_genus = taxa[key[0]].genus
        prior = prior_from_relatives(
            window,
            genus=[said for genus, said in relatives if genus == own_genus],
            route=[said for _, said in relatives],
        )
        estimate = estimate_stage(rows[key], window=window, prior=prior)
        found[key] = _Reckoned(estimate=estimate, evidence=spoken[key], window=window)
    return found


def _stored_evidence(
    taxa: Mapping[int, Taxon],
) -> list[tuple[str, Route, Stage, float, float, FernEvidence]]:
    """Return what ferns that are not reckoned now said when they were."""
    stored = (
        StageFit.objects.exclude(taxon__in=list(taxa))
        .filter(evidence_mean__isnull=False)
        .values_list(
            "taxon__genus", "route", "stage", "window_early", "window_late",
            "evidence_mean", "evidence_variance", "evidence_trays",
        )
    )  # fmt: skip
    return [
        (
            genus,
            Route(route),
            Stage(stage),
            early,
            late,
            FernEvidence(mean=mean or 0.0, variance=variance or 1.0, trays=trays or 0.0),
        )
        for genus, route, stage, early, late, mean, variance, trays in stored
    ]


def _store(fits: Mapping[Key, _Reckoned], taxa: Mapping[int, Taxon], *, on: date) -> set[int]:
    """Write the fits and return the ferns whose due dates move."""
    before = {
        (row.taxon_id, row.route, row.stage): row
        for row in StageFit.objects.filter(taxon__in=list(taxa))
    }
    changed: set[int] = set()
    for key, one in fits.items():
        estimate, said = one.estimate, one.evidence
        columns = {
            "trays": estimate.trays,
            "expected_days": estimate.expected_days,
            "late_days": estimate.late_after_days,
            "stalled_share": estimate.stalled_share,
            "own": estimate.rests_on_own,
            "basis": estimate.basis[:120],
            "window_early": one.window.early,
            "window_late": one.window.late,
            "evidence_mean": said.mean if said else None,
            "evidence_variance": said.variance if said else None,
            "evidence_trays": said.trays if said else None,
            "fitted_on": on,
        }
        old = before.pop((key[0], str(key[1]), str(key[2])), None)
        if old is None:
            StageFit.objects.create(
                taxon_id=key[0], route=str(key[1]), stage=str(key[2]), **columns
            )
            changed.add(key[0])
            continue
        moved = max(
            abs(old.expected_days - estimate.expected_days),
            abs(old.late_days - estimate.late_after_days),
        )
        if moved < _DAYS_THAT_MATTER:
            columns["expected_days"], columns["late_days"] = old.expected_days, old.late_days
        else:
            changed.add(key[0])
        StageFit.objects.filter(pk=old.pk).update(revision=F("revision") + 1, **columns)
    if before:
        # A stage that no tray was ever in (its only look was struck out) has no times any more.
        StageFit.objects.filter(pk__in=[row.pk for row in before.values()]).delete()
        changed |= {row.taxon_id for row in before.values()}
    return changed
