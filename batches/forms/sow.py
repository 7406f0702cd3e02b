"""What is said when a batch is started, by each of the four ways?"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, ClassVar

from django import forms

from batches.core.stages import STAGE_WORDS, START_STAGES, Route
from batches.forms.lot import OriginChoiceField
from batches.forms.nursery_form import OnceForm, Rows, day_field, notes_field
from batches.models import Bench, MediumBatch, Source, SporeLot
from batches.models.tray import CONTAINER_STATES
from batches.services.days import day_words
from batches.services.free_places import BenchRoom
from batches.services.sowing import Trays

#: mixings of medium to choose from, the newest
MOST_MEDIA = 40


class LotChoiceField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A lot in store by its code, shown with its fern, age and what is left."""

    def label_from_instance(self, obj: SporeLot) -> str:
        left = "" if obj.remaining_mg is None else f", {obj.remaining_mg:g} mg"
        return f"{obj.taxon.name.text}: {obj.code}, {day_words(obj.collected_on)}{left}"


class MediumChoiceField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A mixing of medium by its code, shown with its recipe and day."""

    def label_from_instance(self, obj: MediumBatch) -> str:
        return f"{obj.code}: {obj.recipe}, {day_words(obj.made_on)}"


class StartForm(OnceForm):
    """What every way of starting a batch asks."""

    container_words: ClassVar[str] = "covered tray"
    units = {"cells": "cells", "each": "each"}

    on = day_field("Started on")
    how_many = forms.IntegerField(
        label="Trays", min_value=1, help_text="Each gets a code and a label of its own."
    )
    container = forms.CharField(
        label="Container", max_length=60, widget=forms.TextInput(attrs={"list": "containers"})
    )
    container_state = forms.ChoiceField(
        label="New or washed",
        required=False,
        choices=[("", "not noted"), *CONTAINER_STATES],
        help_text="Washed trays may carry spores; failing trays are compared by it.",
    )
    medium = MediumChoiceField(
        label="Medium",
        required=False,
        queryset=MediumBatch.objects.none(),
        to_field_name="code",
        empty_label="not noted",
    )
    bench = forms.ChoiceField(
        label="Set down on bench", required=False, help_text="Free places, in walking order."
    )
    go_on = forms.BooleanField(
        label="When it is full, go on with the next benches", required=False, initial=True
    )
    sold_as = forms.CharField(
        label="Sold as",
        required=False,
        max_length=160,
        help_text="What labels print. Empty: the fern's name; a cultivar from spores goes under "
        "its Group or as “ex”, until it is confirmed true.",
    )
    notes = notes_field()

    def __init__(self, *args: Any, rooms: Iterable[BenchRoom], today: date, **kwargs: Any) -> None:
        rooms = tuple(rooms)
        trays = _whole((kwargs.get("initial") or {}).get("how_many")) or 1
        initial = {
            "on": today,
            "container": self.container_words,
            "bench": suggested_bench(rooms, how_many=trays),
        }
        kwargs["initial"] = initial | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        choices = [("", "not set down yet")] + [(r.bench.code, _room_words(r)) for r in rooms]
        self.fields["bench"].choices = choices  # type: ignore[attr-defined]
        if "medium" in self.fields:
            newest = MediumBatch.objects.values_list("pk", flat=True)[:MOST_MEDIA]
            media = MediumBatch.objects.filter(pk__in=list(newest))
            self.fields["medium"].queryset = media  # type: ignore[attr-defined]

    def trays(self) -> Trays:
        """Return what the deed is told of the trays."""
        found = self.cleaned_data
        code = found["bench"]
        return Trays(
            how_many=found["how_many"],
            container=found["container"],
            cells=found.get("cells"),
            pot_size=found.get("pot_size", ""),
            unit=found.get("unit", "plants"),
            each=found.get("each"),
            container_state=found["container_state"],
            bench=Bench.objects.get(code=code) if code else None,
            go_on=found["go_on"],
            control=found.get("control", False),
        )

    def common(self) -> dict[str, Any]:
        """Return what every way of starting is told beside its origin."""
        found = self.cleaned_data
        names = ("on", "sold_as", "notes", "record_id")
        return {"trays": self.trays()} | {name: found[name] for name in names}


class SporesForm(StartForm):
    """Spores of a lot, sown into covered trays."""

    side_by_side: ClassVar[Rows] = (
        ("lot",), ("on", "sown_mg"), ("how_many", "control"), ("container", "container_state"),
        ("medium",), ("bench",), ("go_on",), ("sold_as",), ("notes",),
    )  # fmt: skip
    units = {"sown_mg": "mg"}

    lot = LotChoiceField(
        label="Lot",
        queryset=SporeLot.objects.none(),
        to_field_name="code",
        empty_label="choose a lot",
    )
    sown_mg = forms.FloatField(
        label="Spores sown", required=False, help_text="Taken off what is left of the lot."
    )
    control = forms.BooleanField(
        label="And one unsown control tray, which shows stray spores", required=False
    )
    planned = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lots = SporeLot.objects.in_store().select_related("taxon")
        self.fields["lot"].queryset = lots.order_by(  # type: ignore[attr-defined]
            "taxon__genus", "taxon__species", "taxon__cultivar", "-collected_on"
        )


class OriginStartForm(StartForm):
    """A batch that starts from an origin."""

    source = OriginChoiceField(label="Origin")


class BulbilsForm(OriginStartForm):
    """Fronds with bulbils, pegged down."""

    side_by_side: ClassVar[Rows] = (
        ("source",), ("on", "how_many"), ("container", "container_state"), ("medium",),
        ("bench",), ("go_on",), ("sold_as",), ("notes",),
    )  # fmt: skip


class DivisionForm(OriginStartForm):
    """Crowns or rhizomes, divided."""

    side_by_side: ClassVar[Rows] = (
        ("source",), ("on", "how_many"), ("each", "unit"), ("container", "container_state"),
        ("pot_size",), ("medium",), ("bench",), ("go_on",), ("sold_as",), ("notes",),
    )  # fmt: skip
    container_words = "carrier"

    each = forms.IntegerField(
        label="Divisions in each tray",
        required=False,
        min_value=1,
        help_text="Empty when they are not counted.",
    )
    unit = forms.ChoiceField(
        label="Counted in", choices=[("plants", "plants"), ("pots", "pots")], required=False
    )
    pot_size = forms.CharField(label="Pot size", required=False, max_length=20)

    def clean_unit(self) -> str:
        """Return plants where nothing was chosen."""
        return self.cleaned_data["unit"] or "plants"


class BoughtInForm(OriginStartForm):
    """Liners or lab plants, counted as they arrive."""

    side_by_side: ClassVar[Rows] = (
        ("source",), ("stage",), ("on", "how_many"), ("each", "unit"), ("container", "cells"),
        ("pot_size", "container_state"), ("bench",), ("go_on",), ("sold_as",), ("notes",),
    )  # fmt: skip
    container_words = "cell tray"
    tiles = frozenset({"stage"})

    stage = forms.ChoiceField(
        label="They arrive",
        choices=[(str(s), STAGE_WORDS[s]) for s in START_STAGES[Route.BOUGHT_IN]],
        initial=str(START_STAGES[Route.BOUGHT_IN][0]),
        widget=forms.RadioSelect,
    )
    each = forms.IntegerField(label="In each tray", min_value=1)
    unit = forms.ChoiceField(label="Counted in", choices=[("plants", "plants"), ("pots", "pots")])
    cells = forms.IntegerField(label="Cells in a tray", required=False, min_value=1)
    pot_size = forms.CharField(label="Pot size", required=False, max_length=20)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["medium"]
        bought = Source.objects.filter(kind__in=["purchase", "exchange"])
        self.fields["source"].queryset = bought.select_related("taxon")  # type: ignore[attr-defined]


def suggested_bench(rooms: Iterable[BenchRoom], *, how_many: int) -> str:
    """Return the first bench in walking order with room for all, else with any; empty for none."""
    free = [(room.bench.code, room.free or 0) for room in rooms]
    enough = [code for code, places in free if places >= how_many]
    some = [code for code, places in free if places > 0]
    return next(iter([*enough, *some]), "")


def _room_words(room: BenchRoom) -> str:
    name = f"{room.bench.code} {room.bench.name}".strip()
    places = "places not drawn" if room.free is None else f"{room.free} free"
    return f"{room.bench.house}: {name}, {places}"


def _whole(value: object) -> int | None:
    try:
        return int(str(value))
    except ValueError:
        return None
