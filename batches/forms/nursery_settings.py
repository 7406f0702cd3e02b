"""What does the nursery set for itself?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlsplit

from django import forms

from batches.core.cares import CARE_WORDS, Care
from batches.core.local_names import address_in, is_name
from batches.core.stages import ROUTE_WORDS, Route
from batches.forms.nursery_form import NurseryForm
from batches.services.language import LANGUAGES


def reminder_field(route: str, care: str) -> str:
    """Return the name of a reminder's tick."""
    return f"care_{route}_{care}"


class SettingsForm(NurseryForm):
    """The nursery's name, its labels' address, its unusual nights and its reminders."""

    nursery_name = forms.CharField(label="Name of the nursery", max_length=80, required=False)
    language = forms.ChoiceField(
        label="Language of the tablets",
        choices=tuple(LANGUAGES.items()),
        help_text=(
            "Also of the sign-in page, of labels and calendars. People choose their own at the "
            "foot of any page."
        ),
    )
    label_address = forms.CharField(
        label="Address in the labels' QR codes",
        max_length=120,
        required=False,
        help_text="Like https://fernery.home.arpa; it should never change. Empty: where you print.",
    )
    lan_name = forms.CharField(
        label="Name by which tablets call this computer",
        max_length=120,
        required=False,
        help_text=(
            "Like fernery.home.arpa, as your router or this computer gives it. Holds from the "
            "next start."
        ),
    )
    lan_address = forms.CharField(
        label="Its fixed address",
        max_length=45,
        required=False,
        help_text="Like 192.168.1.20, where your router keeps it for this computer.",
    )
    frost_c = forms.FloatField(label="Frost heads Today below", min_value=-30, max_value=15)
    hot_c = forms.FloatField(label="Heat heads Today from", min_value=15, max_value=60)
    bench_idle_minutes = forms.IntegerField(
        label="A bench tablet asks again who you are after", min_value=5, max_value=1_440
    )
    bench_pin_needed = forms.BooleanField(
        label="Who taps a name at a bench tablet proves it by PIN or badge", required=False
    )

    side_by_side = (
        ("nursery_name",),
        ("language",),
        ("label_address",),
        ("lan_name",),
        ("lan_address",),
        ("frost_c", "hot_c"),
    )
    units = {"frost_c": "°C", "hot_c": "°C", "bench_idle_minutes": "minutes untouched"}

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, initial: Mapping[str, Any]
    ) -> None:
        super().__init__(data, initial=dict(initial))
        for route in Route:
            for care in Care:
                self.fields[reminder_field(route, care)] = forms.BooleanField(
                    label=f"{ROUTE_WORDS[route]}: {CARE_WORDS[care]}", required=False
                )

    def clean_label_address(self) -> str:
        """Take an address of scheme and host, without anything behind it."""
        text = str(self.cleaned_data["label_address"]).strip().rstrip("/")
        parts = urlsplit(text)
        if text and (parts.scheme not in {"http", "https"} or not parts.netloc or parts.path):
            raise forms.ValidationError(
                "Write it like https://fernery.home.arpa, with nothing behind the name."
            )
        return text

    def clean_lan_name(self) -> str:
        """Take a host's name alone, without scheme, port and path."""
        text = str(self.cleaned_data["lan_name"]).strip().lower()
        if text and not is_name(text):
            raise forms.ValidationError(
                "Write the name alone, like fernery.home.arpa: letters, digits, hyphens and dots."
            )
        return text

    def clean_lan_address(self) -> str:
        """Take one numeric address."""
        text = str(self.cleaned_data["lan_address"]).strip()
        address = address_in(text)
        if text and address is None:
            raise forms.ValidationError("Write the address alone, like 192.168.1.20.")
        return "" if address is None else str(address)
