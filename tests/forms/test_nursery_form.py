"""Do forms stand in rows, take refusals where they belong, and carry an id of their own?"""

from __future__ import annotations

from datetime import date, datetime
from typing import ClassVar

from django import forms

from batches.core.errors import NotUnderstood
from batches.forms.nursery_form import NurseryForm, OnceForm, Rows, day_field, moment_field


class Packet(OnceForm):
    """A form with a row, a unit, and one field that no row names."""

    side_by_side: ClassVar[Rows] = (("name", "mass"), ("gone",))
    units = {"mass": "mg"}

    note = forms.CharField(required=False)
    name = forms.CharField()
    mass = forms.FloatField(required=False)


def test_fields_stand_in_their_rows_and_the_rest_below():
    rows = [[(piece.field.name, piece.unit) for piece in row] for row in Packet().by_rows()]
    assert rows == [[("name", ""), ("mass", "mg")], [("note", "")]]


def test_every_form_shown_has_an_id_of_its_own_and_keeps_it_when_it_comes_back():
    first, second = Packet(), Packet()
    assert first["record_id"].value() != second["record_id"].value()
    sent = Packet({"name": "", "record_id": str(first["record_id"].value())})
    assert not sent.is_valid()
    assert str(sent["record_id"].value()) == str(first["record_id"].value())


def test_a_form_without_its_id_is_not_stored():
    assert "record_id" in Packet({"name": "x"}).errors


def test_a_refusal_goes_to_its_field_or_to_the_whole_form():
    for field, place in (("mass", "mass"), ("elsewhere", "__all__"), ("", "__all__")):
        form = Packet({"name": "x", "record_id": "0" * 32})
        assert form.is_valid()
        form.refuse(NotUnderstood("Weigh it again.", field=field))
        assert form.errors == {place: ["Weigh it again."]}


def test_a_form_that_stands_alone_has_no_id():
    assert list(NurseryForm().by_rows()) == []


def test_days_and_moments_are_written_as_browsers_want_them():
    class Day(NurseryForm):
        on = day_field("On")
        at = moment_field("At")

    words = Day(initial={"on": date(2026, 6, 10), "at": datetime(2026, 6, 10, 8, 5)}).as_p()  # noqa: DTZ001
    assert 'type="date"' in words
    assert 'value="2026-06-10"' in words
    assert 'value="2026-06-10T08:05"' in words
