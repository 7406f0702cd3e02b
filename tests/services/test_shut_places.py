"""Which places reopened and were not looked at since, in as many queries for one as for many?"""

from __future__ import annotations

import random
from datetime import timedelta

import pytest

from batches.models import Tray, TrayCheck, Treatment
from batches.services.shut_places import shut_places
from tests.factories import NOW, TODAY, BenchFactory, HouseFactory, TrayFactory

pytestmark = pytest.mark.django_db


def treated(code: str, *, days_ago: int) -> Treatment:
    return Treatment.objects.create(
        done_at=NOW - timedelta(days=days_ago), product="fatty-acid soap", place_or_trays=code,
        operator="Una Tarn", reentry_hours=24.0, recorded_at=NOW,
    )  # fmt: skip


def looked_at(tray: Tray, *, days_ago: float) -> TrayCheck:
    moment = NOW - timedelta(days=days_ago)
    return TrayCheck.objects.create(tray=tray, seen_at=moment, recorded_at=moment)


def to_go_back_to() -> set[str]:
    return {one.place for one in shut_places(on=TODAY, now=NOW).returns}


def stands_at(tray: Tray, code: str) -> bool:
    house = tray.bench.house.code if tray.bench else ""
    return code in {tray.code, tray.bench.code if tray.bench else "", house}


def test_against_a_plain_search_of_every_look() -> None:
    chance = random.Random(11)
    houses = [HouseFactory() for _ in range(3)]
    benches = [BenchFactory(house=chance.choice(houses)) for _ in range(7)]
    trays = [TrayFactory(bench=chance.choice([*benches, None])) for _ in range(14)]
    Tray.objects.filter(pk__in=[tray.pk for tray in trays[::5]]).update(
        ended_on=TODAY, end="cleared"
    )
    looks = [looked_at(chance.choice(trays), days_ago=chance.uniform(0, 12)) for _ in range(9)]
    struck = looks[0]
    TrayCheck.objects.create(tray=struck.tray, seen_at=NOW, recorded_at=NOW, strikes_out=struck)
    places = [*chance.sample(houses, 2), *benches, *trays]
    when = {place.code: treated(place.code, days_ago=chance.randint(2, 12)) for place in places}
    standing = list(Tray.objects.active().select_related("bench__house"))

    def seen_since(code: str, treatment: Treatment) -> bool:
        return any(
            stands_at(tray, code) and look.tray_id == tray.pk
            for tray in standing
            for look in looks[1:]
            if treatment.reentry_at is not None and look.seen_at >= treatment.reentry_at
        )

    wanted = {
        code
        for code, treatment in when.items()
        if any(stands_at(tray, code) for tray in standing) and not seen_since(code, treatment)
    }
    assert to_go_back_to() == wanted
    assert 0 < len(wanted) < len(when)


@pytest.mark.parametrize("how_many", [3, 30])
def test_many_places_are_asked_for_like_few(how_many: int, django_assert_num_queries) -> None:
    for _ in range(how_many):
        treated(TrayFactory(bench=BenchFactory()).bench.code, days_ago=3)
    with django_assert_num_queries(4):
        assert len(to_go_back_to()) == how_many
