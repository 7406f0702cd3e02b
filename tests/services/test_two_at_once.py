"""Two people do something to one tray at the same moment: is exactly one believed, and told so?

Real threads with connections of their own.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable

import pytest
from django.db import connection

from batches.core.errors import ChangedMeanwhile, LedgerDoesNotBalance, NurseryError
from batches.models import PlantMovement, Tray
from batches.services.dispatching import dispatch
from batches.services.laid_out import lay_out
from batches.services.moves import Spot
from batches.services.picking import Filling, ParentAfter, Take, pot_up
from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)
TODAY = make.TODAY


def at_once(*deeds: Callable[[], object]) -> Counter[str]:
    """Start all deeds at the same moment; count how they ended by the error's name or “done”."""
    start = threading.Barrier(len(deeds))
    ended: Counter[str] = Counter()

    def run(deed: Callable[[], object]) -> None:
        start.wait(timeout=20)
        try:
            deed()
            ended["done"] += 1
        except NurseryError as error:
            ended[type(error).__name__] += 1
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[deed]) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert ended.total() == len(deeds)
    return ended


def test_one_of_two_pickers_with_the_same_page_is_told_to_look_again():
    plugs = make.TrayFactory(cells_of_84=True, counted=84)
    shown = plugs.revision

    def pick() -> None:
        pot_up(
            fillings=[
                Filling(
                    takes=[Take(parent=plugs, left=40, arrived=40)],
                    container="carrier",
                    pot_size="9 cm",
                )
            ],
            parents=[ParentAfter(parent=plugs, revision=shown)],
            on=TODAY,
            by="Una Tarn",
            now=make.NOW,
        )

    ended = at_once(pick, pick)

    assert ended == {"done": 1, ChangedMeanwhile.__name__: 1}
    plugs.refresh_from_db()
    assert plugs.alive == 44
    assert Tray.objects.count() == 2


def test_two_dispatches_of_the_last_pots_never_send_more_than_there_are():
    carrier = make.TrayFactory(carrier=True, counted=40)

    def send() -> None:
        dispatch(
            tray=carrier, quantity=30, on=TODAY, by="Oonagh Pell", now=make.NOW, recipient="a shop"
        )

    ended = at_once(send, send, send)

    assert ended == {"done": 1, LedgerDoesNotBalance.__name__: 2}
    assert PlantMovement.objects.filter(kind="dispatch").count() == 1


def test_codes_given_out_at_once_are_all_different():
    batch = make.BatchFactory()
    given: list[str] = []

    def lay() -> None:
        rows = lay_out(
            batch=batch, deed="prick_out", how_many=5, container="cells", by="", today=TODAY
        )
        given.extend(row.code for row in rows)

    assert at_once(*[lay] * 4) == {"done": 4}

    assert len(set(given)) == 20


def test_one_place_is_given_to_one_of_two_trays():
    bench = make.BenchFactory()
    plugs = make.TrayFactory(cells_of_84=True, counted=84)

    def pot() -> None:
        pot_up(
            fillings=[
                Filling(
                    takes=[Take(parent=plugs, left=5, arrived=5)],
                    container="carrier",
                    pot_size="9 cm",
                    spot=Spot(bench=bench, row=1, column=1),
                )
            ],
            on=TODAY,
            by="Una Tarn",
            now=make.NOW,
        )

    assert at_once(pot, pot) == {"done": 1, "NotPossibleNow": 1}
    assert Tray.objects.filter(bench=bench, row=1, column=1).count() == 1
