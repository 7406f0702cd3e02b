"""May plant passports be printed here, what do they say, and which were issued and received?

Only operators that their plant-health authority has authorised issue plant passports; Frondbook
prints none until a manager has written the nursery's registration down, and gives no legal advice.
Parts: Annex VII A of Regulation (EU) 2016/2031 and its form kept for Great Britain. What was
issued is kept word for word; rows are only ever added (Article 69 asks for three years and more).
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.models import Batch, LaidOutTray, PassportIssue, Source, Tray
from batches.services.days import day_bounds
from batches.services.own_settings import own_setting, set_own

EU_WORDS, GB_WORDS = "Plant Passport", "UK Plant Passport"
FORMS = (("", "none: this nursery issues no passports"), ("EU", "EU form"), ("GB", "GB form"))
#: years that the law asks for (from memory: Article 69(4)), and a margin
YEARS_KEPT = 3
_CHUNK = 400
CAUTION = (
    "Only operators that their plant-health authority has authorised may issue plant passports; "
    "its rules decide what must be on them and which plants need one."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PassportTerms:
    """What is the same on every passport of this nursery; ``form`` is EU or GB."""

    form: str
    title: str
    b: str
    origin: str
    e: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A passport as it stands on the labels of one code, and on how many."""

    form: str
    title: str
    a: str
    b: str
    c: str
    d: str
    e: str
    labels: int


def passport_terms() -> PassportTerms | None:
    """Return what passports of this nursery say; None while it issues none."""
    form = own_setting("passport_form")
    registration = own_setting("passport_registration")
    if form not in {"EU", "GB"} or not registration:
        return None
    if form == "GB":
        return PassportTerms(
            form="GB", title=GB_WORDS, b=registration, origin=own_setting("passport_origin"),
            e="GB(NI)" if own_setting("passport_gb_ni") else "",
        )  # fmt: skip
    own = own_setting("passport_title")
    return PassportTerms(
        form="EU",
        title=f"{own} / {EU_WORDS}" if own and own.casefold() != EU_WORDS.casefold() else EU_WORDS,
        b=f"{own_setting('passport_member_state')}-{registration}",
        origin=own_setting("passport_origin"),
        e="",
    )


def set_passport_terms(
    *, form: str, title: str, member_state: str, registration: str, origin: str, gb_ni: bool
) -> None:
    """Store the nursery's terms; an empty form turns passports off.

    Raises
    ------
    NotUnderstood
        When a part is missing that the form asks for, or a country is no two-letter code.
    """
    state, country = member_state.strip().upper(), origin.strip()
    if form and not registration.strip():
        raise NotUnderstood("A passport names the registration number.", field="registration")
    if form == "EU" and not (len(state) == 2 and state.isascii() and state.isalpha()):
        raise NotUnderstood("The member state is two letters, like IE.", field="member_state")
    if form and not country:
        raise NotUnderstood("A passport names the country of origin.", field="origin")
    with transaction.atomic():
        for name, value in (
            ("passport_form", form),
            ("passport_title", title.strip()),
            ("passport_member_state", state),
            ("passport_registration", registration.strip()),
            ("passport_origin", country.upper() if len(country) == 2 else country),
            ("passport_gb_ni", gb_ni),
        ):
            set_own(name=name, value=value)


def botanical_name(batch: Batch) -> str:
    """Return part A: the botanical name, without cultivar or Group, which part A may leave out."""
    name = batch.taxon.name
    plain = type(name)(
        genus=name.genus, species=name.species, infra_rank=name.infra_rank,
        infra_epithet=name.infra_epithet, hybrid=name.hybrid,
    )  # fmt: skip
    return plain.text


def received_with(batch: Batch) -> str:
    """Return the passport with which a batch's material came; empty when it was raised here."""
    origin = origin_of(batch)
    return origin.passport if origin is not None else ""


def origin_of(batch: Batch) -> Source | None:
    """Return where a batch came from, through its lot where it has one."""
    return batch.spore_lot.source if batch.spore_lot is not None else batch.source


def note_issued(*, printed: Sequence[Printed], run: UUID, by: str, now: datetime) -> int:
    """Write into the register what was printed; the same run is written once. Returns how many."""
    batches = _batches_of([one.c for one in printed])
    rows = [
        PassportIssue(
            id=uuid.uuid5(run, one.c),
            issued_at=now,
            batch=batches[one.c],
            form=one.form,
            title=one.title,
            a=one.a,
            b=one.b,
            c=one.c,
            d=one.d,
            e=one.e,
            labels=one.labels,
            replaces=received_with(batches[one.c]),
            by=by.strip()[:80],
            recorded_at=now,
        )
        for one in printed
    ]
    with transaction.atomic():
        known = set(
            PassportIssue.objects.filter(pk__in=[row.pk for row in rows]).values_list(
                "pk", flat=True
            )
        )
        new = [row for row in rows if row.pk not in known]
        PassportIssue.objects.bulk_create(new, batch_size=400)
    return len(new)


def _batches_of(codes: Sequence[str]) -> dict[str, Batch]:
    """Return the batch of each traceability code, a tray's or one laid out ahead."""
    found: dict[str, Batch] = {}
    for start in range(0, len(codes), _CHUNK):
        some = codes[start : start + _CHUNK]
        for model in (LaidOutTray, Tray):
            rows = model._default_manager.filter(code__in=some)
            for row in rows.select_related("batch__spore_lot__source", "batch__source"):
                found[row.code] = row.batch
    return found


def note_spoiled(*, issue: PassportIssue, by: str, now: datetime) -> PassportIssue:
    """Note that the labels of an entry were spoiled and destroyed; both rows stay.

    Raises
    ------
    NotPossibleNow
        When that was noted before.
    """
    with transaction.atomic():
        if PassportIssue.objects.filter(strikes_out=issue).exists() or issue.strikes_out_id:
            raise NotPossibleNow("These labels are noted as destroyed already.")
        return PassportIssue.objects.create(
            issued_at=now, batch=issue.batch, form=issue.form, title=issue.title, a=issue.a,
            b=issue.b, c=issue.c, d=issue.d, e=issue.e, labels=issue.labels,
            replaces=issue.replaces, by=by.strip()[:80], recorded_at=now, strikes_out=issue,
        )  # fmt: skip


def issued_between(*, first: date | None, last: date | None) -> QuerySet[PassportIssue]:
    """Return the register's entries of these days, newest first; spoiled ones stay among them."""
    found: QuerySet[PassportIssue] = PassportIssue.objects.filter(strikes_out__isnull=True)
    if first is not None:
        found = found.filter(issued_at__gte=day_bounds(first)[0])
    if last is not None:
        found = found.filter(issued_at__lte=day_bounds(last)[1])
    found = found.select_related("struck_by", "batch__taxon")
    return found.order_by("-issued_at", "c", "id")


def years_back(today: date) -> date:
    """Return the first day of the years that must be kept, and half a year more."""
    year, month = today.year - YEARS_KEPT, today.month - 6
    return date(year, month, 1) if month >= 1 else date(year - 1, month + 12, 1)
