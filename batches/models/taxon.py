"""Which ferns does the nursery raise, how are they named and when do they rest?"""

from __future__ import annotations

from functools import cached_property
from typing import Self

from django.db import models
from django.db.models import F, Q

from batches.core.names import BotanicalName
from batches.core.stages import FernKind, Route, fern_kind

RANK_CHOICES = (("subsp.", "subsp."), ("var.", "var."), ("f.", "f."))
HYBRID_CHOICES = (("species", "hybrid species"), ("genus", "hybrid genus"))
SPORE_KINDS = (("green", "green"), ("not_green", "not green"))
FORMS = (("fern", "fern"), ("tree_fern", "tree fern"))


class TaxonQuerySet(models.QuerySet["Taxon"]):
    """Ferns in words."""

    def tender(self) -> Self:
        """Ferns that need a frost-free place in winter (per-object twin: `Taxon.is_tender`)."""
        return self.filter(Q(tender=True) | Q(tender__isnull=True, form="tree_fern"))

    def named_like(self, words: str) -> Self:
        """Ferns of whose code, botanical or common name every word is a part."""
        found = self
        for word in words.split():
            found = found.filter(
                Q(code__icontains=word)
                | Q(genus__icontains=word)
                | Q(species__icontains=word)
                | Q(infra_epithet__icontains=word)
                | Q(group__icontains=word)
                | Q(cultivar__icontains=word)
                | Q(common_name__icontains=word)
            )
        return found


class Taxon(models.Model):
    """A fern as named under the codes of nomenclature; *fern* on every screen."""

    code = models.CharField(max_length=32, unique=True)
    genus = models.CharField(max_length=60)
    species = models.CharField(max_length=120, blank=True, default="")
    infra_rank = models.CharField(max_length=8, choices=RANK_CHOICES, blank=True, default="")
    infra_epithet = models.CharField(max_length=60, blank=True, default="")
    group = models.CharField(max_length=60, blank=True, default="")
    cultivar = models.CharField(max_length=80, blank=True, default="")
    hybrid = models.CharField(max_length=8, choices=HYBRID_CHOICES, blank=True, default="")
    common_name = models.CharField(max_length=80, blank=True, default="")
    spore_kind = models.CharField(max_length=10, choices=SPORE_KINDS)
    form = models.CharField(max_length=10, choices=FORMS, default="fern")
    rest_from_week = models.PositiveSmallIntegerField(null=True, blank=True)
    rest_to_week = models.PositiveSmallIntegerField(null=True, blank=True)
    last_pot_up_week = models.PositiveSmallIntegerField(null=True, blank=True)
    #: needs a frost-free place in winter; None where nobody noted it: tree ferns do, others do not
    tender = models.BooleanField(null=True, blank=True)
    routes = models.CharField(max_length=40, blank=True, default="spore")
    sow_by_days = models.PositiveIntegerField(null=True, blank=True)
    #: what pot labels say of growing it, where a print asks for it
    care_line = models.CharField(max_length=160, blank=True, default="")
    protection = models.CharField(max_length=200, blank=True, default="")
    notes = models.TextField(blank=True, default="")
    #: a passage or an ending was stored since its stage times were last reckoned
    fit_due = models.BooleanField(default=False)

    objects = TaxonQuerySet.as_manager()

    class Meta:
        ordering = ["genus", "species", "infra_epithet", "group", "cultivar", "code"]
        verbose_name_plural = "taxa"
        constraints = [
            models.CheckConstraint(
                condition=Q(spore_kind__in=["green", "not_green"]), name="taxon_spore_kind_known"
            ),
            models.CheckConstraint(
                condition=Q(form__in=["fern", "tree_fern"]), name="taxon_form_known"
            ),
            models.CheckConstraint(
                condition=Q(rest_from_week__isnull=True, rest_to_week__isnull=True)
                | Q(rest_from_week__isnull=False, rest_to_week__isnull=False)
                & Q(rest_from_week__range=(1, 53), rest_to_week__range=(1, 53)),
                name="taxon_rest_has_both_ends",
            ),
            models.CheckConstraint(
                condition=Q(last_pot_up_week__isnull=True) | Q(last_pot_up_week__range=(1, 53)),
                name="taxon_last_pot_up_is_a_week",
            ),
            models.CheckConstraint(
                condition=Q(infra_rank="", infra_epithet="")
                | (~Q(infra_rank="") & ~Q(infra_epithet="")),
                name="taxon_rank_with_epithet",
            ),
            models.CheckConstraint(condition=~Q(genus=""), name="taxon_has_a_genus"),
        ]

    def __str__(self) -> str:
        return self.name.text

    @cached_property
    def name(self) -> BotanicalName:
        """The name in parts, as stored (it was tidied at the door)."""
        return BotanicalName(
            genus=self.genus,
            species=self.species,
            infra_rank=self.infra_rank,
            infra_epithet=self.infra_epithet,
            group=self.group,
            cultivar=self.cultivar,
            hybrid=self.hybrid,
        )

    @property
    def is_tender(self) -> bool:
        """Whether it needs a frost-free place in winter (QuerySet twin: `TaxonQuerySet.tender`)."""
        return self.form == "tree_fern" if self.tender is None else self.tender

    @property
    def kind(self) -> FernKind:
        """Which column of the default windows this fern reads."""
        return fern_kind(spore_kind=self.spore_kind, form=self.form)

    @property
    def rest_weeks(self) -> tuple[int, int] | None:
        """The first and last ISO week of its rest, which may run over New Year; None without."""
        if self.rest_from_week is None or self.rest_to_week is None:
            return None
        return self.rest_from_week, self.rest_to_week

    @property
    def raised_by(self) -> tuple[Route, ...]:
        """The routes it is raised by."""
        return tuple(Route(word) for word in self.routes.split())


class OwnWindow(models.Model):
    """A fern's own days from one stage to the next, in place of the default window."""

    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="own_windows")
    route = models.CharField(max_length=10)
    stage = models.CharField(max_length=12)
    early = models.FloatField()
    usual = models.FloatField()
    late = models.FloatField()
    look_every = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["taxon", "route", "stage"], name="own_window_once_per_stage"
            ),
            models.CheckConstraint(
                condition=Q(early__gt=0, early__lte=F("usual"), usual__lte=F("late")),
                name="own_window_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.taxon_id} {self.stage}: {self.early}-{self.late}"
