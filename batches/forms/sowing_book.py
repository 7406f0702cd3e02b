"""How is an old sowing book chosen, which column is what, and which fern is meant?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from batches.forms.nursery_form import NurseryForm
from batches.services.sowing_book.ferns import LEFT_OUT, NEW, NamedFern
from batches.services.sowing_book.matching import FIELDS, Matching
from batches.services.sowing_book.reading import Book

ENDS = (
    ("cleared", "all moved on: cleared"),
    ("discarded", "thrown out, cause unknown"),
)


class BookForm(NurseryForm):
    """The upload of a spreadsheet."""

    book = forms.FileField(
        label="The sowing book as CSV",
        help_text="In the spreadsheet program: Save as, CSV (UTF-8). One line names the columns, "
        "each line below is one sowing. Nothing is stored before you have seen what is in it.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv"}),
        error_messages={
            "required": "Choose the file.",
            "empty": "This file is empty. Nothing was stored; choose another.",
        },
    )


class ColumnsForm(NurseryForm):
    """Which column is what, and how its days and ends are meant."""

    day_first = forms.BooleanField(
        label="Days are written day first, like 24/11/2026 or 24.11.26", required=False
    )
    end = forms.ChoiceField(
        label="A row with a day of its end was",
        choices=ENDS,
        initial="cleared",
        widget=forms.RadioSelect,
        help_text="Where its reason is a trouble or cause known here, like mould, it counts as "
        "thrown out for that.",
    )

    def __init__(self, *args: Any, book: Book, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "not used"), *((one.name, one.word) for one in FIELDS)]
        for place, header in enumerate(book.headers):
            self.fields[f"column_{place}"] = forms.ChoiceField(
                label=header, choices=choices, required=False
            )
        self.book = book

    def columns(self) -> list[tuple[Any, tuple[str, ...]]]:
        """Return each column's field with the first cells of the column."""
        return [
            (self[f"column_{place}"], self.book.samples(place))
            for place in range(len(self.book.headers))
        ]

    def matching(self) -> Matching:
        """Return what was chosen, column by column."""
        chosen = ((at, self.cleaned_data[f"column_{at}"]) for at in range(len(self.book.headers)))
        return {place: name for place, name in chosen if name}


class FernsForm(NurseryForm):
    """Which fern each name of the book is."""

    def __init__(
        self,
        *args: Any,
        named: Sequence[NamedFern],
        offered: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.named = named
        for place, fern in enumerate(named):
            new = [(NEW, "a new fern of this name, spores not green")] if fern.may_be_new else []
            many = f"{fern.rows} row{'' if fern.rows == 1 else 's'}"
            self.fields[f"fern_{place}"] = forms.ChoiceField(
                label=f"{fern.words} ({many})",
                choices=[("", "choose"), *new, (LEFT_OUT, "leave these rows out"), *offered],
                initial=fern.answer,
                error_messages={"required": "Say which fern it is, or leave its rows out."},
                help_text="" if fern.sure or not fern.answer else "Spelt alike: is it this one?",
            )

    def answers(self) -> dict[str, str]:
        """Return the answer to each name of the book."""
        return {
            fern.words: self.cleaned_data[f"fern_{place}"] for place, fern in enumerate(self.named)
        }
