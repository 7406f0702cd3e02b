"""Is the table of columns the published one, and does it fit the tables of the database?"""

from __future__ import annotations

import pytest
from django.db import models

from batches.models.code_register import KINDS
from batches.services.records_io import records_page
from batches.services.records_io.columns import FILES, NOUNS
from batches.services.records_io.kinds import Kind
from tests.running_nursery import ROOT

#: the published table of the records format, word for word; ★ marks required columns
PUBLISHED = """
taxa: code★ genus★ species infra_rank infra_epithet group cultivar hybrid common_name spore_kind★ form rest_from_week rest_to_week last_pot_up_week routes protection notes
sources: code★ taxon★ kind★ mothers bench provenance★ locality permit supplier passport ripe_from_week ripe_to_week notes
spore_lots: code★ taxon★ source★ collected_on★ collected_by method ripeness drying_since cleaned_on mass_mg storage notes
germination_tests: lot★ sown_on★ counted_on★ counted★ germinated★
media_batches: code★ recipe★ treatment temperature_c minutes made_on★ litres
houses: code★ name
benches: code★ house★ name rows columns walk_order
batches: code★ taxon★ route★ sold_as spore_lot source media_batch started_on★ notes
trays: code★ batch★ container★ cells started_on★ start_stage★ quantity bench row column parents media_batch unit pot_size container_state cover control isolated label_printed_on come_back_on ended_on end end_cause
checks: id★ tray★ seen_at★ by★ stage_seen count about signs opened glance note strikes_out recorded_at device device_seq source
transitions: id★ tray★ to_stage★ not_before seen_on★ by strikes_out
movements: id★ tray★ on★ kind★ quantity★ arrived cause to_tray recipient order by strikes_out
places: id★ tray★ on★ bench row column by strikes_out
orders: code★ taxon★ quantity★ pot_size wanted_on★ customer
treatments: id★ done_at★ product★ rate place_or_trays★ operator★ reentry_hours
house_readings: house★ on★ lowest_c highest_c
"""  # noqa: E501

WHOLE_BOUNDS = {
    models.PositiveSmallIntegerField: 32_767,
    models.PositiveIntegerField: 2_147_483_647,
    models.IntegerField: 2_147_483_647,
    models.BigIntegerField: 9_223_372_036_854_775_807,
}
COLUMNS = [(file, column) for file in FILES for column in file.columns]
IDS = [f"{file.name}.{column.name}" for file, column in COLUMNS]


def test_files_and_columns_are_the_published_ones_in_their_order():
    written = "\n".join(
        f"{file.name}: "
        + " ".join(f"{column.name}{'★' if column.required else ''}" for column in file.columns)
        for file in FILES
    )
    assert written == PUBLISHED.strip()


def test_the_description_for_people_is_the_one_made_from_the_table():
    written = (ROOT / "docs" / "records.md").read_text(encoding="utf-8")
    assert written == records_page(), (
        "docs/records.md is old: manage.py export_records --describe > docs/records.md"
    )


@pytest.mark.parametrize(("file", "column"), COLUMNS, ids=IDS)
def test_what_a_column_takes_fits_the_database(file, column):
    if not column.field:
        assert column.name in {"quantity", "parents"}
        return
    field = file.model._meta.get_field(column.field)
    if column.kind in {Kind.TEXT, Kind.WORDS} and not isinstance(field, models.TextField):
        assert column.longest == field.max_length
    if column.kind in {Kind.WORD, Kind.WORDS} and field.choices:
        assert set(column.words) == {word for word, _ in field.choices}
    if column.kind is Kind.WORD:
        assert max(map(len, column.words)) <= field.max_length
    if column.kind is Kind.WHOLE:
        assert column.most is not None
        assert column.most <= WHOLE_BOUNDS[type(field)]
        if isinstance(field, (models.PositiveIntegerField, models.PositiveSmallIntegerField)):
            assert column.least is not None
            assert column.least >= 0
    if column.required:
        assert not field.null or column.name in {"counted_on", "counted", "germinated"}
    elif column.kind not in {Kind.TEXT, Kind.WORD, Kind.WORDS, Kind.YES}:
        # What was not noted is recorded at the moment of the import.
        assert field.null or column.name == "recorded_at"


def test_every_kind_of_code_has_its_file():
    assert {file.code_kind for file in NOUNS} == set(KINDS)
