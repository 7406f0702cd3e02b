"""How is a list given out as a file for a spreadsheet?"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse


def csv_file(rows: Iterable[Sequence[str]], *, name: str) -> HttpResponse:
    """Return rows as a CSV file (UTF-8 with a mark, so that spreadsheets read it rightly)."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows(rows)
    answer = HttpResponse("\ufeff" + text.getvalue(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
