"""Is a form stored once, whatever it makes and however often it is sent?"""

from __future__ import annotations

import uuid

import pytest
from django.db import transaction

from batches.core.errors import AlreadyTaken, ChangedMeanwhile
from batches.models import StoredForm
from batches.services.stored_forms import made_before, note_made
from tests.factories import NOW

pytestmark = pytest.mark.django_db


def test_a_form_answers_with_what_it_made():
    record_id = uuid.uuid4()
    assert made_before(record_id=record_id, kind="lot") == ""
    note_made(record_id=record_id, kind="lot", code="L26-001-X", now=NOW)
    assert made_before(record_id=record_id, kind="lot") == "L26-001-X"
    with pytest.raises(AlreadyTaken, match="L26-001-X"):
        made_before(record_id=record_id, kind="batch")


def test_a_form_without_an_id_leaves_nothing():
    note_made(record_id=None, kind="lot", code="L26-001-X", now=NOW)
    assert made_before(record_id=None, kind="lot") == ""
    assert StoredForm.objects.count() == 0


def test_of_the_same_form_at_once_the_second_is_refused_and_undone():
    record_id = uuid.uuid4()
    note_made(record_id=record_id, kind="lot", code="L26-001-X", now=NOW)
    with pytest.raises(ChangedMeanwhile, match="sent twice at once"), transaction.atomic():
        note_made(record_id=record_id, kind="lot", code="L26-002-Y", now=NOW)
    assert StoredForm.objects.get().code == "L26-001-X"
