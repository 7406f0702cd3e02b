"""What can be sold: which ferns in which size stand ready, what is promised, what comes when?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from batches.core.stages import Stage
from batches.models import Order, Taxon, Tray
from batches.services.holds import held_now
from batches.services.orders import progress_of
from batches.services.records_io.guarding import guarded

HEADER = (
    "fern",
    "common_name",
    "size",
    "ready",
    "promised",
    "free",
    "growing_on",
    "expected",
    "held",
)


@dataclass(slots=True, kw_only=True)
class _Heap:
    taxon: Taxon
    ready: int = 0
    coming: int = 0
    held: int = 0
    expected: list[date] = field(default_factory=list)
    promised: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Available:
    """One fern in one size: pots ready now, promised in open orders, and potted ones growing on.

    ``expected_from`` is the first day on which some of those are expected; None where no day is
    known. Isolated trays are not counted: nothing leaves them. ``held`` pots, ready or
    growing on, are not counted either until a manager lets them go.
    """

    taxon: Taxon
    size: str
    ready: int
    promised: int
    coming: int
    expected_from: date | None
    held: int = 0

    @property
    def free(self) -> int:
        """Ready pots that nobody is promised; below 0 when more is promised than stands ready."""
        return self.ready - self.promised


def availability(*, today: date) -> tuple[Available, ...]:
    """Return what is ready, promised or coming, by fern and size; five queries.

    An expected day that is over counts as today.
    """
    heaps: dict[tuple[str, str], _Heap] = {}
    trays = Tray.objects.active().filter(
        stage__in=[str(Stage.READY), str(Stage.POTTED_UP)],
        isolated=False,
        control=False,
        alive__gt=0,
    )
    kept_back = set(held_now().values_list("tray", flat=True))
    ferns = {fern.pk: fern for fern in Taxon.objects.filter(pk__in=trays.values("batch__taxon"))}
    # Bare columns: of a nursery of 50,000 trays some ten thousand stand here.
    columns = ("pk", "batch__taxon", "pot_size", "stage", "alive", "expected_on")
    for pk, fern, size, stage, alive, expected_on in trays.order_by().values_list(*columns):
        taxon = ferns[fern]
        heap = heaps.setdefault((taxon.code, size), _Heap(taxon=taxon))
        if pk in kept_back:
            heap.held += alive
            continue
        if stage == Stage.READY:
            heap.ready += alive
            continue
        heap.coming += alive
        if expected_on is not None:
            heap.expected.append(max(expected_on, today))
    for (code, size), (taxon, pots) in _promised().items():
        heaps.setdefault((code, size), _Heap(taxon=taxon)).promised += pots
    return tuple(
        Available(
            taxon=heap.taxon,
            size=size,
            ready=heap.ready,
            promised=heap.promised,
            coming=heap.coming,
            expected_from=min(heap.expected, default=None),
            held=heap.held,
        )
        for (_, size), heap in sorted(heaps.items(), key=lambda one: one[0])
    )


def availability_rows(found: tuple[Available, ...]) -> Iterator[list[str]]:
    """Yield the list as rows of text that a spreadsheet does not run, the header first."""
    yield list(HEADER)
    for one in found:
        cells = (
            one.taxon.name.text,
            one.taxon.common_name,
            one.size,
            str(one.ready),
            str(one.promised),
            str(max(one.free, 0)),
            str(one.coming),
            "" if one.expected_from is None else one.expected_from.isoformat(),
            str(one.held),
        )
        yield [guarded(cell) for cell in cells]


def _promised() -> dict[tuple[str, str], tuple[Taxon, int]]:
    pots: defaultdict[tuple[str, str], int] = defaultdict(int)
    ferns: dict[str, Taxon] = {}
    orders = Order.objects.open().select_related("taxon")
    for progress in progress_of(orders=orders):
        order = progress.order
        if progress.still_open:
            ferns[order.taxon.code] = order.taxon
            pots[order.taxon.code, order.pot_size] += progress.still_open
    return {key: (ferns[key[0]], count) for key, count in pots.items()}
