"""Which addresses of the demo nursery does a visit of every page go to?

An address is made from the name of its URL and a real code, found in the demo nursery's own
database. A URL name that no visit opens stands in `NOT_VISITED` with the reason;
tests/conventions/test_urls.py compares both with the URLs that there are.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

from django.urls import reverse

#: what is looked for in the demo nursery: one value, the first by code
_FINDS = {
    "sown": "select code from batches_tray "
    "where stage = 'sown' and ended_on is null and control = 0",
    "gametophyte": "select code from batches_tray "
    "where stage = 'gametophyte' and ended_on is null and control = 0",
    "first_frond": "select code from batches_tray "
    "where stage = 'first_frond' and ended_on is null and control = 0",
    "pricked_out": "select code from batches_tray "
    "where stage = 'pricked_out' and ended_on is null and control = 0",
    "potted_up": "select code from batches_tray "
    "where stage = 'potted_up' and ended_on is null and control = 0",
    "ready": "select code from batches_tray "
    "where stage = 'ready' and ended_on is null and control = 0",
    "late": "select code from batches_tray "
    "where late_on < date('now') and ended_on is null and control = 0",
    "control": "select code from batches_tray where control = 1 and ended_on is null",
    "ended": "select code from batches_tray where ended_on is not null",
    "batch": "select code from batches_batch where route = 'spore'",
    "bulbil_batch": "select code from batches_batch where route = 'bulbil'",
    "lot": "select code from batches_sporelot where ended_on is null order by collected_on desc",
    "drying": "select code from batches_sporelot where cleaned_on is null",
    "fern": "select code from batches_taxon where code = 'OSMREG'",
    "cultivar": "select code from batches_taxon where cultivar <> ''",
    "house": "select code from batches_house",
    "bench": "select code from batches_bench",
    "origin": "select code from batches_source where kind = 'stock_plant'",
    "wild": "select code from batches_source where kind = 'wild'",
    "medium": "select code from batches_mediumbatch",
    "order": "select code from batches_order",
    "treatment": "select id from batches_treatment",
    "person": "select id from batches_person",
    "sent": "select id from batches_plantmovement where kind = 'dispatch'",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A URL name, its variable parts (names of `_FINDS`, or words as they are) and a query."""

    url: str
    parts: tuple[str, ...] = ()
    query: str = ""

    def __str__(self) -> str:
        return " ".join((self.url, *self.parts, self.query)).strip()

    def address(self, found: dict[str, str]) -> str:
        """Give the address, with the codes found in the demo nursery."""
        parts = [found.get(part, part) for part in self.parts]
        query = self.query.format(**found)
        return reverse(f"batches:{self.url}", args=parts) + (f"?{query}" if query else "")


VISITS = (
    Visit(url="today"),
    Visit(url="today", query="by=bench"),
    Visit(url="today", query="kind=stage"),
    Visit(url="today", query="mine=yes"),
    Visit(url="search", query="q=male+fern"),
    Visit(url="search", query="q=nothing-of-the-kind"),
    Visit(url="bench-map"),
    Visit(url="bench-map", query="late=yes"),
    Visit(url="round-sheet-enter"),
    Visit(url="round-sheet-enter", query="on=2026-11-20&by=Bryn+Hale&code={sown}"),
    Visit(url="look-over", parts=("bench",)),
    Visit(url="tray", parts=("sown",)),
    Visit(url="tray", parts=("gametophyte",)),
    Visit(url="tray", parts=("first_frond",)),
    Visit(url="tray", parts=("pricked_out",)),
    Visit(url="tray", parts=("potted_up",)),
    Visit(url="tray", parts=("ready",)),
    Visit(url="tray", parts=("late",)),
    Visit(url="tray", parts=("control",)),
    Visit(url="tray", parts=("ended",)),
    Visit(url="prick-out", parts=("first_frond",)),
    Visit(url="patch-out", parts=("gametophyte",)),
    Visit(url="pot-up", parts=("pricked_out",)),
    Visit(url="pot-on", parts=("potted_up",)),
    Visit(url="tray-deed", parts=("sown", "move")),
    Visit(url="tray-deed", parts=("sown", "discard")),
    Visit(url="tray-deed", parts=("ready", "dispatch")),
    Visit(url="lots"),
    Visit(url="lots", query="show=all"),
    Visit(url="lot-new"),
    Visit(url="lot", parts=("lot",)),
    Visit(url="lot", parts=("drying",)),
    Visit(url="sow"),
    Visit(url="sow-route", parts=("spores",)),
    Visit(url="sow-route", parts=("spores",), query="lot={lot}"),
    Visit(url="sow-route", parts=("bulbils",)),
    Visit(url="sow-route", parts=("division",)),
    Visit(url="sow-route", parts=("bought-in",)),
    Visit(url="batches"),
    Visit(url="batch", parts=("batch",)),
    Visit(url="batch", parts=("bulbil_batch",)),
    Visit(url="ferns"),
    Visit(url="fern-new"),
    Visit(url="starter-ferns"),
    Visit(url="fern", parts=("fern",)),
    Visit(url="fern", parts=("cultivar",)),
    Visit(url="fern-edit", parts=("fern",)),
    Visit(url="fern-windows", parts=("fern",)),
    Visit(url="houses"),
    Visit(url="house-new"),
    Visit(url="house-edit", parts=("house",)),
    Visit(url="bench-new"),
    Visit(url="bench", parts=("bench",)),
    Visit(url="bench-edit", parts=("bench",)),
    Visit(url="stock-plants"),
    Visit(url="stock-plant-new"),
    Visit(url="stock-plant", parts=("origin",)),
    Visit(url="stock-plant", parts=("wild",)),
    Visit(url="stock-plant-edit", parts=("origin",)),
    Visit(url="media"),
    Visit(url="medium-new"),
    Visit(url="orders"),
    Visit(url="order-new"),
    Visit(url="treatments"),
    Visit(url="treatment-new"),
    Visit(url="treatment-mend", parts=("treatment",)),
    Visit(url="examinations"),
    Visit(url="examination-new"),
    Visit(url="readings"),
    Visit(url="durations"),
    Visit(url="durations", query="fern={fern}"),
    Visit(url="survival"),
    Visit(url="survival", query="by=house"),
    Visit(url="forecast"),
    Visit(url="forecast", query="fern={fern}"),
    Visit(url="forecast-back-test"),
    Visit(url="sowing-plan"),
    Visit(url="sowing-plan", query="fern={fern}&pots=200&by=2029-05-01"),
    Visit(url="shared-causes"),
    Visit(url="reckon", parts=("suspension",)),
    Visit(url="reckon", parts=("density",)),
    Visit(url="reckon", parts=("mix",)),
    Visit(url="reckon", parts=("feed",)),
    Visit(url="dispatches"),
    Visit(url="availability"),
    Visit(url="select-form", parts=("pricked_out",)),
    Visit(url="to-settle"),
    Visit(url="settings"),
    Visit(url="help"),
    Visit(url="words"),
    Visit(url="about"),
    Visit(url="weekly-note"),
    Visit(url="backups"),
    Visit(url="prove"),
    Visit(url="passport-settings"),
    Visit(url="passports"),
    Visit(url="tablets"),
    Visit(url="changes"),
    Visit(url="people"),
    Visit(url="person-badge", parts=("person",)),
    Visit(url="person-rename", parts=("person",)),
    Visit(url="reckon", parts=("suspension",)),
    Visit(url="reckon", parts=("density",)),
    Visit(url="reckon", parts=("mix",)),
    Visit(url="reckon", parts=("feed",)),
    Visit(url="labels"),
    Visit(url="labels", query="tray={sown}&tray={ready}"),
    Visit(url="labels", query="lot={lot}"),
    Visit(url="labels-log"),
    Visit(url="label-stocks"),
    Visit(url="label-stock-new"),
    Visit(url="label-stock-new", query="from=a4-24"),
    Visit(url="trace-start"),
    Visit(url="trace", parts=("ready",)),
    Visit(url="trace", parts=("lot",)),
    Visit(url="trace", parts=("medium",)),
    Visit(url="trace", parts=("ended",)),
    Visit(url="trace", parts=("origin",)),
    Visit(url="trace-start", query="bench={bench}"),
    Visit(url="trace-start", query="sent={sent}"),
    Visit(url="holds"),
    Visit(url="hold-new", query="code={origin}"),
    Visit(url="drills"),
    Visit(url="records"),
    Visit(url="sowing-book"),
    Visit(url="my-password"),
    Visit(url="my-calendar"),
    Visit(url="my-pin"),
)

#: pages that answer with an error, and the status they answer with
REFUSED = (
    ("/trays/no-such-tray/", 404),
    ("/lots/no-such-lot/", 404),
    ("/trace/no-such-code/", 404),
    ("/no-such-page/", 404),
)

#: pages for people who are not signed in
BEFORE_SIGN_IN = (Visit(url="sign-in"), Visit(url="enrol-typed"), Visit(url="setup"))

NOT_VISITED = {
    "bench-page": "the tablet's page; its own browser tests open it",
    "tablet-enrol": "a code that is made; tests/views/test_tablets.py",
    "tablet-file": "a deed; tests/views/test_tablets.py",
    "tablet-revoke": "a deed; tests/views/test_tablets.py",
    "settle-correct": "something that waits; tests/views/test_to_settle.py",
    "sync-photo": "a deed of the bench page; tests/views/test_sync_photos.py",
    "sync-person": "JSON for the bench page; tests/views/test_sync.py",
    "bench-day": "JSON for the bench page; tests/views/test_bench.py",
    "service-worker": "a script; tests/browser/test_bench_offline.py runs it",
    "photo-small": "a picture; tests/views/test_bench.py",
    "sign-in-link": "every signed-in test comes in by it",
    "sign-out": "a deed, not a page; test_sign_in does it",
    "enrol": "a link that is good once; tests/views/test_enrol.py opens it",
    "today-nothing-new": "a deed; test_at_the_benches does it",
    "today-undo-look": "a deed; test_at_the_benches does it",
    "today-give": "a deed; tests/views/test_today.py does it",
    "bench-card": "a piece of the bench map; test_at_the_benches opens it there",
    "bench-move": "a deed; test_at_the_benches does it",
    "tray-short": "leads to the tray's page; tests/views/test_tray.py follows it",
    "tray-strike": "a deed; tests/views/test_tray.py does it",
    "tray-small-deed": "a deed; tests/views/test_tray_deeds.py does it",
    "laid-out": "leads to the picking it waits for; tests/views/test_picking.py follows it",
    "give-back": "a deed; tests/views/test_picking.py does it",
    "durations-adopt": "a deed; tests/views/test_numbers.py does it",
    "sowing-drop": "a deed; tests/views/test_numbers.py does it",
    "photo": "a picture; tests/views/test_tray.py asks for it",
    "sow-about": "a piece of the sowing form; test_main_walk sees it there",
    "bench-drawing": "a piece of the form of bench-new; test_first_hour sees it there",
    "order-close": "a deed; tests/views/test_registers.py does it",
    "treatments-csv": "a file; tests/views/test_registers.py",
    "examinations-csv": "a file; tests/views/test_registers.py",
    "records-preview": "a deed with a file; tests/views/test_records.py does it",
    "sowing-book-columns": "a step with a file; tests/browser/test_sowing_book.py does it",
    "sowing-book-ferns": "a step with a file; tests/browser/test_sowing_book.py does it",
    "my-language": "a deed; tests/views/test_language.py does it",
    "records-export": "a file; tests/views/test_records.py",
    "health": "an answer for programs",
    "setup-authority": "a file; tests/views/test_setup.py",
    "setup-profile": "a file; tests/views/test_setup.py",
    "sync": "an answer for tablets",
    "sync-hello": "an answer for tablets",
    "today-care": "a deed; tests/views/test_today.py does it",
    "person-link": "a deed; tests/views/test_people.py does it",
    "person-stop": "a deed; tests/views/test_people.py does it",
    "label-stock-edit": "the form of label-stock-new; the demo nursery has no stock of its own",
    "label-stock-use": "a deed; tests/views/test_label_stocks.py does it",
    "label-stock-calibration": "a PDF; tests/labels/test_calibration.py",
    "label-stock-test": "a PDF; tests/views/test_label_stocks.py",
    "labels-run": "a print that runs; tests/views/test_labels.py watches it",
    "labels-run-pdf": "a PDF; tests/views/test_labels.py",
    "labels-run-state": "a piece of the page of a print that runs",
    "labels-sheet": "a piece of the labels' page",
    "weekly-print": "a PDF; tests/views/test_weekly_note.py",
    "weekly-text": "a file; tests/views/test_weekly_note.py",
    "morning-list": "a PDF; tests/views/test_prints.py",
    "sowing-list": "a PDF; tests/views/test_prints.py",
    "round-sheet": "a PDF; tests/views/test_prints.py",
    "changes-csv": "a file; tests/views/test_changes.py",
    "backup-now": "a deed; tests/views/test_backups.py does it",
    "restore-card": "a PDF; tests/views/test_backups.py",
    "batch-card": "a PDF; tests/views/test_prints.py",
    "trace-print": "a PDF; tests/views/test_prints.py",
    "trace-print-asked": "a PDF; tests/views/test_trace.py",
    "darwin-core-csv": "a file; tests/external/test_darwin_core.py",
    "darwin-core-archive": "a file; tests/external/test_darwin_core.py",
    "calendar": "a file for calendars; tests/views/test_calendars.py",
    "passports-csv": "a file; tests/views/test_passports.py",
    "passports-print": "a PDF; tests/views/test_passports.py",
    "passport-spoiled": "a deed; tests/views/test_passports.py does it",
    "hold": "nothing is held in the demo nursery; tests/browser/test_every_page.py holds some",
    "hold-lift": "a deed; tests/views/test_holds.py does it",
    "drill": "a drill that runs; tests/browser/test_every_page.py begins one",
    "treatments-print": "a PDF; tests/views/test_prints.py",
    "treatments-pdf": "a PDF; tests/views/test_register_pdf.py",
    "dispatches-csv": "a file; tests/views/test_dispatches.py",
    "dispatches-print": "a PDF; tests/views/test_prints.py",
    "availability-csv": "a file; tests/views/test_dispatches.py",
    "availability-print": "a PDF; tests/views/test_prints.py",
}


def codes_of(database: Path) -> dict[str, str]:
    """Find one real code of each kind; a kind that the nursery lacks is an error that names it."""
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as connection:
        found = {}
        for name, asked in _FINDS.items():
            ordered = asked if " order by " in asked else f"{asked} order by 1"
            row = connection.execute(ordered).fetchone()
            if row is None:
                raise LookupError(f"the demo nursery has no {name}")
            found[name] = str(UUID(row[0])) if name in {"treatment", "sent"} else str(row[0])
    return found
