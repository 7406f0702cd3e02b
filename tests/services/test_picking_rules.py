"""What may be done with the plants of a tray?"""

from __future__ import annotations

import pytest

from batches.services.picking_rules import DEED_WORDS, deeds_open_to
from tests.factories import TrayFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("tray", "deeds"),
    [
        ({"stage": "sown"}, ("prick-out",)),
        ({"stage": "gametophyte"}, ("prick-out", "patch-out")),
        ({"stage": "first_frond"}, ("prick-out", "patch-out")),
        ({"stage": "first_frond", "control": True}, ()),
        ({"batch__bulbil": True}, ("prick-out",)),
        ({"batch__division": True}, ("pot-up",)),
        ({"cells_of_84": True, "batch__bought_in": True}, ("pot-up", "dispatch")),
        ({"carrier": True, "batch__bought_in": True, "stage": "ready"}, ("pot-on", "dispatch")),
    ],
)
def test_a_tray_offers_what_its_route_and_stage_allow(tray, deeds) -> None:
    assert deeds_open_to(TrayFactory(**tray)) == deeds
    assert set(deeds) <= set(DEED_WORDS)
