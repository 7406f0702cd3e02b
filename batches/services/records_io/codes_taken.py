"""How is no code that was imported ever given out again?

Every imported code enters the register. Where it is one that Frondbook itself would give out, the
series that would give it moves past it.
"""

from __future__ import annotations

from batches.core.codes import CodeReading, read_code, with_check
from batches.models import Batch, CodeCounter, CodeEntry
from batches.services.records_io.columns import BATCHES, NOUNS, TRAYS
from batches.services.records_io.inserting import insert
from batches.services.records_io.stored import CHUNK
from batches.services.records_io.world import Fresh

_ENTRY = ("code", "folded", "kind", "given_out_here")
Entry = tuple[str, str, str, bool]


def _ours(code: str) -> CodeReading | None:
    """Return the reading of a code that Frondbook would give out; None for an own code."""
    reading = read_code(code)
    return reading if reading.shape and reading.fits else None


def register(fresh: Fresh) -> None:
    """Write the codes of all new rows into the register and move the series past them."""
    entries = []
    series: dict[str, int] = {}
    for file in NOUNS:
        for row in fresh.rows.get(file.name, ()):
            reading = _ours(row.code)
            entries.append(_entry(row.code, file.code_kind, given_out=reading is not None))
            if reading is not None:
                name, serial = _series(row.code.upper())
                series[name] = max(series.get(name, 0), serial)
    taken = {entry[0] for entry in entries}
    entries += [entry for entry in _lend_stems(fresh) if entry[0] not in taken]
    insert(CodeEntry, entries, fields=_ENTRY)
    _raise_counters(series)


def _entry(code: str, kind: str, *, given_out: bool) -> Entry:
    return code, code.casefold(), kind, given_out and code == code.upper()


def _series(code: str) -> tuple[str, int]:
    """Return the series and the serial in it: ``26W14-073-05-P`` holds 73 of ``26W14``."""
    name, serial, *_ = code.split("-")
    return name, int(serial)


def _raise_counters(series: dict[str, int]) -> None:
    held = dict(CodeCounter.objects.filter(series__in=series).values_list("series", "last"))
    new = [CodeCounter(series=name, last=last) for name, last in series.items() if name not in held]
    CodeCounter.objects.bulk_create(new, batch_size=CHUNK)
    higher = [
        CodeCounter(series=name, last=last)
        for name, last in series.items()
        if name in held and last > held[name]
    ]
    CodeCounter.objects.bulk_update(higher, ["last"], batch_size=CHUNK)


def _lend_stems(fresh: Fresh) -> list[Entry]:
    """Move each batch's tray numbers past the imported ones; return register entries for stems.

    A batch with the nursery's own code lends its trays the groups of a batch code (its stem).
    Where imported trays carry such groups and no batch does, they are their batch's stem.
    """
    highest: dict[str, int] = {}
    batches: dict[str, set[str]] = {}
    for row in fresh.rows.get(TRAYS.name, ()):
        reading = _ours(row.code)
        if reading is None or reading.shape != "tray":
            continue
        week, serial, number, _ = row.code.upper().split("-")
        stem = with_check(f"{week}-{serial}")
        highest[stem] = max(highest.get(stem, 0), int(number))
        batches.setdefault(stem, set()).add(row.batch)
    if not highest:
        return []
    found = _batches_of(highest, {code for codes in batches.values() for code in codes})
    by_stem = {batch.code.upper(): batch for batch in found}
    by_stem |= {batch.code_stem: batch for batch in found if batch.code_stem}
    by_code = {batch.code: batch for batch in found}
    entries, changed = [], []
    for stem, number in sorted(highest.items()):
        batch = by_stem.get(stem)
        if batch is None:
            batch = _lender(batches[stem], by_code)
            if batch is None:
                continue
            batch.code_stem = stem
            if not CodeEntry.objects.filter(code=stem).exists():
                entries.append(_entry(stem, BATCHES.code_kind, given_out=True))
        if number > batch.trays_given:
            batch.trays_given = number
        changed.append(batch)
    Batch.objects.bulk_update(changed, ["code_stem", "trays_given"], batch_size=200)
    return entries


def _batches_of(stems: dict[str, int], codes: set[str]) -> list[Batch]:
    found: dict[int, Batch] = {}
    wanted = sorted({*stems, *codes})
    for start in range(0, len(wanted), CHUNK):
        chunk = wanted[start : start + CHUNK]
        for query in (
            Batch.objects.filter(code__in=chunk),
            Batch.objects.filter(code_stem__in=chunk),
        ):
            found |= {batch.pk: batch for batch in query}
    return list(found.values())


def _lender(codes: set[str], by_code: dict[str, Batch]) -> Batch | None:
    """Return the one batch whose trays carry some groups, if it has no groups of its own."""
    if len(codes) != 1:
        return None
    batch = by_code[next(iter(codes))]
    return None if batch.code_stem or _ours(batch.code) is not None else batch
