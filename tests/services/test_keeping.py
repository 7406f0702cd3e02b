"""Does every change of a lid, and every setting apart, say who did it and when?"""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.models import KeepingChange, Tray
from batches.services.keeping import set_cover, set_isolated
from batches.services.tray_page import log_of
from tests import factories as make

pytestmark = pytest.mark.django_db
LATER = make.NOW + timedelta(hours=3)


def history(tray: Tray) -> list[tuple[str, str]]:
    return [(one.words, one.by) for one in log_of(tray=tray) if one.kind == "keeping"]


def test_covers_and_isolation_are_set_for_several_at_once():
    trays = make.TrayFactory.create_batch(3)

    set_cover(trays=trays, cover="vented", by="Una Tarn", now=make.NOW)
    set_isolated(trays=trays[:2], isolated=True, by="Una Tarn", now=make.NOW)

    assert set(Tray.objects.values_list("cover", flat=True)) == {"vented"}
    assert set(Tray.objects.filter(isolated=True)) == set(trays[:2])
    assert KeepingChange.objects.count() == 5


def test_the_history_says_what_was_done_by_whom_newest_first():
    tray = make.TrayFactory(cover="closed")

    set_cover(trays=[tray], cover="vented", by="Una Tarn", now=make.NOW)
    set_isolated(trays=[tray], isolated=True, by="Bram Holt", now=LATER)
    set_isolated(trays=[tray], isolated=False, by="Una Tarn", now=LATER + timedelta(minutes=1))

    assert history(tray) == [
        ("Back among the others, no longer isolated.", "Una Tarn"),
        ("Isolated.", "Bram Holt"),
        ("Lid vented; it was closed.", "Una Tarn"),
    ]


def test_what_was_so_already_leaves_no_row_and_one_form_sent_twice_is_done_once():
    tray, form = make.TrayFactory(cover="closed"), uuid.uuid4()

    set_cover(trays=[tray], cover="closed", by="Una Tarn", now=make.NOW)
    assert history(tray) == []

    set_cover(trays=[tray], cover="off", by="Una Tarn", now=make.NOW, record_id=form)
    set_cover(trays=[tray], cover="closed", by="Bram Holt", now=LATER)
    set_cover(trays=[tray], cover="off", by="Una Tarn", now=LATER, record_id=form)

    tray.refresh_from_db()
    assert tray.cover == "closed"
    assert [words for words, _ in history(tray)] == [
        "Lid closed; it was off.", "Lid taken off; it was closed.",
    ]  # fmt: skip


def test_a_word_not_known_or_a_tray_that_has_ended_stores_nothing():
    standing, ended = make.TrayFactory(), make.TrayFactory(ended_on=make.TODAY, end="cleared")

    with pytest.raises(NotUnderstood):
        set_cover(trays=[standing], cover="ajar", by="Una Tarn", now=make.NOW)
    with pytest.raises(NotPossibleNow):
        set_isolated(trays=[standing, ended], isolated=True, by="Una Tarn", now=make.NOW)

    assert not KeepingChange.objects.exists()
    assert not Tray.objects.filter(isolated=True).exists()
