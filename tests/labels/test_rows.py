"""Is a label's row whole after its journey, and refused when its QR would lead astray?"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from batches.labels.errors import LabelRefused
from batches.labels.rows import LabelRow, as_plain, check_row, from_plain
from tests.labels.examples import every_kind, label, passport, pot


@pytest.mark.parametrize("row", [*every_kind(), pot(passport=passport())], ids=lambda row: row.kind)
def test_a_row_comes_back_whole_from_plain_text(row: LabelRow) -> None:
    assert from_plain(json.loads(json.dumps(as_plain(row)))) == row
    check_row(row)


@pytest.mark.parametrize("code", ["A", "aB.9_c-d", "x" * 32, "3-26W14-073-K"])
def test_a_nursery_s_own_codes_are_welcome(code: str) -> None:
    check_row(label(code=code))


@pytest.mark.parametrize(
    "code", ["", "-A", "A-", "x" * 33, "a b", "ä", "a/b", "a\n", "<b>", "A?x=1"]
)
def test_a_code_that_is_none_is_refused(code: str) -> None:
    with pytest.raises(LabelRefused):
        check_row(label(code=code))


@pytest.mark.parametrize(
    "url",
    [
        "",
        "http://host/t/OTHER",
        "http://host/trays/A1",
        "ftp://host/t/A1",
        "javascript:/t/A1",
        "http://höst/t/A1",
        "http://ho st/t/A1",
        "http://" + "h" * 300 + "/t/A1",
        "http://host/t/A1\n",
    ],
)
def test_an_address_that_does_not_lead_back_is_refused(url: str) -> None:
    with pytest.raises(LabelRefused, match="lead back"):
        check_row(replace(label(code="A1"), url=url))


def test_a_label_never_says_what_goes_stale() -> None:
    # The design's rule: no stage and no count on a label.
    fields = set(as_plain(label()))
    assert not {field for field in fields if "stage" in field or "count" in field}
