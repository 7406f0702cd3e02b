"""Are the nursery's own settings stored, and refused in words?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import CareReminder
from batches.services.own_settings import own_setting

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
PLAIN = {"nursery_name": "Hollowmere Ferns", "label_address": "https://ferns.home.arpa/",
         "frost_c": "1.5", "hot_c": "30", "bench_idle_minutes": "60",
         "language": "en-gb"}  # fmt: skip


def test_settings_and_reminders_are_stored(manager):
    manager.post(reverse("batches:settings"), PLAIN | {"care_spore_feed": "on"})
    assert own_setting("label_address") == "https://ferns.home.arpa"
    assert own_setting("frost_c") == 1.5
    assert (own_setting("bench_idle_minutes"), own_setting("bench_pin_needed")) == (60, False)
    assert CareReminder.objects.filter(enabled=True).count() == 1
    manager.post(reverse("batches:settings"), PLAIN)
    assert CareReminder.objects.filter(enabled=True).count() == 0


@pytest.mark.parametrize("address", ["ferns", "javascript:alert(1)", "https://a/b/c"])
def test_an_address_that_is_none_is_refused(manager, address):
    answer = manager.post(reverse("batches:settings"), PLAIN | {"label_address": address})
    assert answer.status_code == 422
    assert "Write it like" in answer.content.decode()
    assert own_setting("label_address") == ""
