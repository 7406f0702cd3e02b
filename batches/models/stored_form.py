"""Which forms were stored already, and what came of each?"""

from __future__ import annotations

from django.db import models


class StoredForm(models.Model):
    """A form that made a thing with a code; its id was made where it was filled in.

    Sent again, because no answer came, it makes nothing and answers with what it made.
    """

    id = models.UUIDField(primary_key=True, editable=False)
    kind = models.CharField(max_length=12)
    code = models.CharField(max_length=36)
    recorded_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.kind} {self.code}"
