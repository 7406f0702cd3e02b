"""What has this nursery set for itself: its name, its labels' address, its frost limit?"""

from __future__ import annotations

from typing import Any

from batches.core.errors import NurseryError
from batches.models import NurserySetting

#: name → (what it holds until the nursery says otherwise, what it is in words)
KNOWN: dict[str, tuple[Any, str]] = {
    "nursery_name": ("", "the nursery's name on prints"),
    "language": ("en-gb", "the language of tablets, and of who has chosen none"),
    "label_address": ("", "the address in labels' QR codes, like https://nursery.home.arpa"),
    "lan_name": ("", "the name by which tablets call this computer, like fernery.home.arpa"),
    "lan_address": ("", "this computer's fixed address on the nursery's network"),
    # Hardy ferns and young growth; common practice, no source.
    "frost_c": (0.0, "a night this cold (°C) heads Today"),
    "hot_c": (32.0, "a day this hot (°C) heads Today"),
    # Plant passports: off until a manager writes the nursery's registration down.
    "passport_form": ("", "the form of plant passports printed here: EU, GB or none"),
    "passport_title": ("", "“Plant Passport” in the country's own official language"),
    "passport_member_state": ("", "two letters of the member state of registration"),
    "passport_registration": ("", "the registration number as a professional operator"),
    "passport_origin": ("", "country of origin on passports, where a print says no other"),
    "passport_gb_ni": (False, "part E of the GB form says GB(NI)"),
    "bench_idle_minutes": (240, "a tablet forgets who stands there after so long without a tap"),
    "bench_pin_needed": (False, "who taps a name at a tablet proves it by PIN or badge"),
}


class UnknownSetting(NurseryError):
    """There is no setting of this name."""


def own_setting(name: str) -> Any:
    """Return a setting, or what it holds until the nursery says otherwise; one query."""
    if name not in KNOWN:
        raise UnknownSetting(f"There is no setting “{name}”.")
    row = NurserySetting.objects.filter(pk=name).first()
    return KNOWN[name][0] if row is None else row.value


def set_own(*, name: str, value: Any) -> None:
    """Store a setting."""
    if name not in KNOWN:
        raise UnknownSetting(f"There is no setting “{name}”.")
    NurserySetting.objects.update_or_create(pk=name, defaults={"value": value})
