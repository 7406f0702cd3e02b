"""Which deeds may be done to a lot now, and what does the page hand to each?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from batches.core.errors import NurseryError
from batches.forms.lot import CleanForm, CountTestForm, EndLotForm, MendLotForm, SowTestForm
from batches.forms.nursery_form import NurseryForm
from batches.models import GerminationTest, SporeLot
from batches.services.germination_tests import count_test, sow_test
from batches.services.lots import LotStored, clean_lot, end_lot, mend_lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a deed answers: what was done, and what to know now (may be empty)."""

    said: str
    warning: str = ""


class LotDeeds:
    """The forms of a lot's page; one of them may be bound to what was sent."""

    def __init__(self, lot: SporeLot, *, today: date) -> None:
        self.lot = lot
        self.bound: NurseryForm | None = None
        self._deed = ""
        self._test: GerminationTest | None = None
        waiting = [test for test in lot.germination_tests.all() if test.counted_on is None]
        self.counts: list[tuple[GerminationTest, NurseryForm]] = [
            (test, CountTestForm(prefix=f"count-{test.pk}", initial={"counted_on": today}))
            for test in waiting
        ]
        mend = MendLotForm(prefix="mend", initial=_facts(lot))
        self.forms: dict[str, NurseryForm] = {"mend": mend}
        if lot.ended_on is None:
            if lot.cleaned_on is None:
                self.forms["clean"] = CleanForm(prefix="clean", initial={"cleaned_on": today})
            self.forms["sow_test"] = SowTestForm(prefix="test", initial={"sown_on": today})
            self.forms["end"] = EndLotForm(prefix="end", initial={"on": today})

    def bind(self, data: Any, *, deed: str, test: UUID | None) -> bool:
        """Bind the deed's form to what was sent; False when there is no such deed now."""
        self._deed = deed
        if deed == "count":
            for place, (waiting, form) in enumerate(self.counts):
                if waiting.pk == test:
                    self._test = waiting
                    self.bound = CountTestForm(data, prefix=form.prefix)
                    self.counts[place] = (waiting, self.bound)
            if self.bound is None:
                self._counted_before(data, test)
            return self.bound is not None
        form_before = self.forms.get(deed) or _late_forms(deed)
        if form_before is None:
            return False
        self.bound = type(form_before)(data, prefix=form_before.prefix)
        self.forms[deed] = self.bound
        return True

    def do(self, *, now: datetime) -> Said | None:
        """Do the bound deed; None when the form says what is wrong."""
        form = self.bound
        if form is None or not form.is_valid():
            return None
        try:
            return self._done(form.cleaned_data, now=now)
        except NurseryError as error:
            form.refuse(error)
            return None

    def _done(self, found: dict[str, Any], *, now: datetime) -> Said:
        if self._deed == "count" and self._test is not None:
            count_test(test=self._test, now=now, **found)
            return Said(said=f"The count of lot {self.lot.code} is stored.")
        if self._deed == "sow_test":
            sow_test(lot=self.lot, now=now, **found)
            return Said(said=f"A sample of lot {self.lot.code} is sown; Today says when to count.")
        if self._deed == "clean":
            return _said(clean_lot(lot=self.lot, now=now, **found))
        if self._deed == "end":
            return _said(end_lot(lot=self.lot, now=now, **found))
        return _said(mend_lot(lot=self.lot, sow_by_day=found.pop("sow_by"), **found))

    def _counted_before(self, data: Any, test: UUID | None) -> None:
        """Take a count that comes in after another one was stored, so that words refuse it."""
        stored = next((one for one in self.lot.germination_tests.all() if one.pk == test), None)
        if stored is not None:
            self._test = stored
            self.bound = CountTestForm(data, prefix=f"count-{stored.pk}")
            self.counts.append((stored, self.bound))


def _late_forms(deed: str) -> NurseryForm | None:
    """Return the form of a deed that is over, so that the service refuses it in words."""
    forms = {
        "clean": CleanForm(prefix="clean"),
        "sow_test": SowTestForm(prefix="test"),
        "end": EndLotForm(prefix="end"),
    }
    return forms.get(deed)


def _facts(lot: SporeLot) -> dict[str, object]:
    names = ("remaining_mg", "sow_by", "storage", "collected_by", "ripeness", "notes")
    return {name: getattr(lot, name) for name in names}


def _said(stored: LotStored) -> Said:
    return Said(said=stored.message, warning=stored.warning)
