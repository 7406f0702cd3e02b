"""What lies ahead of some things: the batches and trays they became, and what was sent?

One statement: asked kind by kind, the largest lot of a nursery of 50,000 trays took fifteen times
as long as plain SQL, most of it for naming hundreds of trays to the database again and again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django.db import connection

#: the kinds a trail goes forward from, in the order in which the statement asks for their codes
_KINDS = ("source", "lot", "batch", "medium", "tray")
#: how a list of codes is handed over whole, however long
_ITEMS = {
    "sqlite": "SELECT value FROM json_each(%s)",
    "postgresql": "SELECT jsonb_array_elements_text(CAST(%s AS jsonb))",
}
# SQLite is kept from its indexes of kinds and strike-outs, by which it would read every movement
# (`models.events.Unindexed`): a CROSS JOIN holds the order, COALESCE hides the column.
_STANDS = """COALESCE(m.strikes_out_id, NULL) IS NULL AND NOT EXISTS (
    SELECT 1 FROM batches_plantmovement s WHERE s.strikes_out_id = m.id)"""
_STATEMENT = """
WITH
of_source(id) AS (SELECT id FROM batches_source WHERE code IN (ITEMS)),
of_lot(id) AS (
    SELECT id FROM batches_sporelot WHERE code IN (ITEMS)
    UNION SELECT id FROM batches_sporelot WHERE source_id IN (SELECT id FROM of_source)),
of_batch(id) AS (
    SELECT id FROM batches_batch WHERE code IN (ITEMS)
    UNION SELECT id FROM batches_batch WHERE spore_lot_id IN (SELECT id FROM of_lot)
    UNION SELECT id FROM batches_batch WHERE source_id IN (SELECT id FROM of_source)),
of_medium(id) AS (SELECT id FROM batches_mediumbatch WHERE code IN (ITEMS)),
filled(id, medium_id) AS (
    SELECT id, medium_batch_id FROM batches_tray
    WHERE medium_batch_id IN (SELECT id FROM of_medium)
    UNION ALL
    SELECT t.id, b.medium_batch_id FROM batches_batch b CROSS JOIN batches_tray t
    WHERE b.medium_batch_id IN (SELECT id FROM of_medium) AND t.batch_id = b.id
        AND COALESCE(t.medium_batch_id, NULL) IS NULL),
found(id) AS (
    SELECT id FROM batches_tray WHERE code IN (ITEMS)
    UNION SELECT id FROM batches_tray WHERE batch_id IN (SELECT id FROM of_batch)
    UNION SELECT id FROM filled)
SELECT 'tray', t.code, 'dispatch', CAST(m.id AS text), m.quantity, m.quantity,
    m."on", t.unit, m.recipient
FROM found CROSS JOIN batches_plantmovement m CROSS JOIN batches_tray t
WHERE m.tray_id = found.id AND m.kind = 'dispatch' AND STANDS AND t.id = found.id
UNION ALL
SELECT 'tray', t.code, 'tray', k.code, SUM(m.quantity), SUM(COALESCE(m.arrived, m.quantity)),
    NULL, NULL, NULL
FROM found CROSS JOIN batches_plantmovement m CROSS JOIN batches_tray t CROSS JOIN batches_tray k
WHERE m.tray_id = found.id AND m.to_tray_id = k.id AND STANDS AND t.id = found.id
GROUP BY t.code, k.code
UNION ALL
SELECT 'tray', t.code, 'tray', k.code, NULL, NULL, NULL, NULL, NULL
FROM found CROSS JOIN batches_parentage p CROSS JOIN batches_tray t CROSS JOIN batches_tray k
WHERE p.parent_id = found.id AND t.id = found.id AND k.id = p.child_id
UNION ALL
SELECT 'batch', b.code, 'tray', t.code, NULL, NULL, NULL, NULL, NULL
FROM of_batch CROSS JOIN batches_batch b CROSS JOIN batches_tray t
WHERE b.id = of_batch.id AND t.batch_id = b.id
UNION ALL
SELECT 'medium', f.code, 'tray', t.code, NULL, NULL, NULL, NULL, NULL
FROM filled CROSS JOIN batches_mediumbatch f CROSS JOIN batches_tray t
WHERE f.id = filled.medium_id AND t.id = filled.id
UNION ALL
SELECT 'lot', l.code, 'batch', b.code, NULL, NULL, NULL, NULL, NULL
FROM of_lot CROSS JOIN batches_sporelot l CROSS JOIN batches_batch b
WHERE l.id = of_lot.id AND b.spore_lot_id = l.id
UNION ALL
SELECT 'source', s.code, 'lot', l.code, NULL, NULL, NULL, NULL, NULL
FROM of_source CROSS JOIN batches_source s CROSS JOIN batches_sporelot l
WHERE s.id = of_source.id AND l.source_id = s.id
UNION ALL
SELECT 'source', s.code, 'batch', b.code, NULL, NULL, NULL, NULL, NULL
FROM of_source CROSS JOIN batches_source s CROSS JOIN batches_batch b
WHERE s.id = of_source.id AND b.source_id = s.id
""".replace("STANDS", _STANDS)

#: one step: kind and code of giver and of taker, how many left and arrived (None where nobody
#: counted); of a dispatch, whose code is its row's id, the day, the unit and the recipient too
Step = tuple[
    str, str, str, str, int | None, int | None, date | None, str | None, str | None
]  # fmt: skip


def steps_ahead(codes: Mapping[str, Iterable[str]]) -> list[Step]:
    """Return the steps ahead of some things, named by their codes by kind; one query.

    It goes from origins and lots on to their batches, from batches and media on to their trays,
    and from trays one step, to trays and dispatches. What was counted comes before what was named.
    """
    named = [json.dumps(sorted(codes.get(kind, ()))) for kind in _KINDS]
    with connection.cursor() as cursor:
        cursor.execute(_STATEMENT.replace("ITEMS", _ITEMS[connection.vendor]), named)
        rows = cursor.fetchall()
    return [row if row[6] is None else _sent(row) for row in rows]


def _sent(row: tuple[Any, ...]) -> Step:
    """Return a dispatch as Python knows it: SQLite keeps ids without dashes and days as text."""
    code, day = row[3], row[6]
    if len(code) == 32:
        code = f"{code[:8]}-{code[8:12]}-{code[12:16]}-{code[16:20]}-{code[20:]}"
    if isinstance(day, str):
        day = date.fromisoformat(day)
    return (row[0], row[1], row[2], code, row[4], row[5], day, row[7], row[8])
