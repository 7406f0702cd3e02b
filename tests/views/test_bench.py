"""Does a tablet get everything it needs for the day in one answer, and nothing into its shell?"""

from __future__ import annotations

import io
import json
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from batches.services.checks import record_check
from batches.services.photos import keep_photo
from batches.services.standing import refold
from tests.factories import NOW, TODAY, BenchFactory, HouseFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

#: what every tray of the answer says, as the page reads it
TRAY_KEYS = {
    "code", "fern", "fern_html", "bench", "row", "column", "stage", "stage_label", "route",
    "next_stages", "unit", "alive", "capacity", "last_look", "last_by", "last_words", "signs",
    "due_on", "late", "why", "cover", "isolated", "control", "shut_until", "unlabelled", "photo",
    "held",
}  # fmt: skip


def day(client, **headers):
    return client.get(reverse("batches:bench-day"), headers=headers)


def make_trays(count: int):
    bench = BenchFactory(house=HouseFactory(), rows=20, columns=20)
    trays = [TrayFactory(bench=bench, counted=40) for _ in range(count)]
    refold(trays=trays, recorded_at=NOW)
    return trays


def test_the_shell_is_the_same_for_everybody_and_holds_no_names(tablet, hand, hand_person):
    pages = [client.get(reverse("batches:bench-page")) for client in (tablet, hand)]
    assert pages[0].content == pages[1].content
    text = pages[0].content.decode()
    assert hand_person.name not in text
    assert "csrfmiddlewaretoken" not in text


def test_the_day_holds_people_words_places_and_trays(tablet, hand_person):
    [tray] = make_trays(1)
    answer = day(tablet).json()
    assert answer["server_time"] == NOW.isoformat()
    assert (answer["generation"], answer["idle_minutes"], answer["pin_needed"]) == (1, 240, False)
    assert {"name": hand_person.name, "pin": False} in answer["people"]
    assert answer["stages"]["gametophyte"] == "prothalli (gametophyte)"
    assert {"word": "mould", "label": "mould"} in answer["signs"]
    assert {"word": "no_germination", "label": "no germination"} in answer["causes"]
    assert set(answer["bench_names"]) == {tray.bench.code}
    [one] = answer["trays"]
    assert set(one) == TRAY_KEYS
    assert one["next_stages"] == ["gametophyte", "first_frond"]
    assert (one["alive"], one["unit"], one["last_look"], one["photo"]) == (40, "plants", None, None)
    assert one["why"]


def test_a_look_changes_what_the_card_says_and_its_photo_is_small(tablet, hand):
    [tray] = make_trays(1)
    look = record_check(tray=tray, seen_at=NOW, now=NOW, by="Wilf", signs=["mould"], count=38,
                        about=True).check  # fmt: skip
    picture = io.BytesIO()
    Image.new("RGB", (1400, 900), "green").save(picture, "JPEG")
    keep_photo(check=look, data=picture.getvalue(), folder=Path(settings.MEDIA_ROOT), now=NOW)
    [one] = day(tablet).json()["trays"]
    assert (one["last_by"], one["last_words"]) == ("Wilf", "mould; about 38 plants")
    assert (one["last_look"], one["signs"], one["why"]) == (TODAY.isoformat(), ["mould"], "")
    for client in (tablet, hand):
        small = client.get(one["photo"])
        with Image.open(io.BytesIO(b"".join(small.streaming_content))) as shown:
            assert max(shown.size) == 480


def test_the_round_goes_clean_then_opened_then_isolated(tablet):
    trays = make_trays(3)
    for tray, changes in zip(trays, ({"isolated": True}, {"opened_on": TODAY}, {}), strict=True):
        type(tray).objects.filter(pk=tray.pk).update(**changes)
    codes = [one["code"] for one in day(tablet).json()["trays"]]
    assert codes == [trays[2].code, trays[1].code, trays[0].code]


def test_the_same_day_is_not_sent_twice(tablet, monkeypatch):
    [tray] = make_trays(1)
    etag = day(tablet)["ETag"]
    from batches.views import clock

    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(minutes=5))
    again = day(tablet, if_none_match=etag)
    assert (again.status_code, again.content) == (304, b"")
    record_check(tray=tray, seen_at=NOW, now=NOW, by="Wilf")
    assert day(tablet, if_none_match=etag).status_code == 200


def test_a_day_of_many_trays_takes_no_more_queries(tablet):
    counts = []
    for count in (3, 27):
        make_trays(count)
        with CaptureQueriesContext(connection) as queries:
            answer = day(tablet)
        counts.append(len(queries))
    assert len(json.loads(answer.content)["trays"]) == 30
    assert counts[0] == counts[1]
