"""Which bench does the form of a sowing suggest?"""

from __future__ import annotations

from typing import Any

import pytest

from batches.forms.sow import SporesForm, suggested_bench
from batches.services.free_places import BenchRoom, bench_rooms
from tests.factories import TODAY, BenchFactory, HouseFactory, MediumBatchFactory, TrayFactory

pytestmark = pytest.mark.django_db


def rooms(**free) -> list[BenchRoom]:
    house = HouseFactory.build()
    return [
        BenchRoom(bench=BenchFactory.build(code=code, house=house), free=places)
        for code, places in free.items()
    ]


@pytest.mark.parametrize(
    ("free", "how_many", "code"),
    [
        ({"B1": 2, "B2": 9, "B3": 40}, 4, "B2"),
        ({"B1": 0, "B2": 2, "B3": 3}, 4, "B2"),
        ({"B1": None, "B2": 4}, 4, "B2"),
        ({"B1": 0, "B2": None}, 1, ""),
        ({}, 1, ""),
    ],
)
def test_the_first_with_room_for_all_else_with_any(free, how_many, code):
    assert suggested_bench(rooms(**free), how_many=how_many) == code


def test_benches_are_offered_in_walking_order_with_their_free_places():
    far = BenchFactory(walk_order=20, rows=None, columns=None)
    near = BenchFactory(walk_order=10, rows=1, columns=3, name="North")
    TrayFactory(bench=near, row=1, column=2)
    form = SporesForm(rooms=bench_rooms(), today=TODAY)
    bench: Any = form.fields["bench"]
    words = [str(word) for _, word in bench.choices]
    assert words == [
        "not set down yet",
        f"{near.house}: {near.code} North, 2 free",
        f"{far.house}: {far.code}, places not drawn",
    ]


def test_the_newest_mixings_are_offered():
    media = MediumBatchFactory.create_batch(45)
    form = SporesForm(rooms=(), today=TODAY)
    medium: Any = form.fields["medium"]
    offered = set(medium.queryset)
    assert len(offered) == 40
    assert offered <= set(media)
