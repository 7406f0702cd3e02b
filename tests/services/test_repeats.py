"""Are repeats judged where a tolerance is published, and left alone where none is?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.services.repeats import repeats_in_words
from tests.factories import TODAY, GerminationTestFactory, SporeLotFactory
from tests.views.pages import page

pytestmark = pytest.mark.django_db
SOWN = TODAY - timedelta(days=30)


def samples(lot, *came_up: int, counted: int = 100, sown_on=SOWN):
    for germinated in came_up:
        GerminationTestFactory(
            lot=lot, sown_on=sown_on, counted_on=TODAY, counted=counted, germinated=germinated
        )


def said(lot) -> tuple[str, ...]:
    return repeats_in_words(tests=lot.germination_tests.all())


def test_the_worked_examples_agree_and_do_not():
    """Published table, 7 CFR 201.55; both examples recomputed by hand."""
    lot = SporeLotFactory()
    samples(lot, 92, 88, 95, 89)
    samples(lot, 97, 80, 92, 95, sown_on=SOWN + timedelta(days=1))
    good, bad = said(lot)
    assert "they part by 7, and 11 is allowed at a mean of 91 %: they agree" in good
    assert "they part by 17, and 11 is allowed" in bad
    assert "Sow the test again" in bad


@pytest.mark.parametrize(
    ("came_up", "counted"), [((90, 91, 92), 100), ((50, 51, 52, 53), 60), ((40, 44, 52, 48), 100)]
)
def test_where_nothing_is_published_nothing_is_judged(came_up, counted):
    lot = SporeLotFactory()
    samples(lot, *came_up, counted=counted)
    (words,) = said(lot)
    assert "no published tolerance" in words
    assert "agree" not in words


def test_one_sample_is_no_repeat():
    lot = SporeLotFactory()
    samples(lot, 92)
    samples(lot, 80, sown_on=SOWN - timedelta(days=5))
    assert said(lot) == ()


@pytest.mark.usefixtures("fixed_clock")
def test_the_lots_page_says_it(hand):
    lot = SporeLotFactory()
    samples(lot, 92, 88, 95, 89)
    assert "Four repeats sown on" in page(hand, "lot", lot.code)
