"""Who changes something by this request, and from where?"""

from __future__ import annotations

from typing import Any

from django.forms import Form
from django.http import HttpRequest

from batches.services.change_notes import note_change
from batches.views import clock
from batches.views.access import tablet_of


def note(
    request: HttpRequest,
    what: str,
    *,
    about: str = "",
    before: Any = None,
    after: Any = None,
    why: str = "",
    by: str | None = None,
) -> None:
    """Note a change made by the person behind a request (`by` where nobody is signed in yet)."""
    tablet = tablet_of(request)
    note_change(
        what=what,
        now=clock.now(),
        by=request.user.get_username() if by is None else by,
        device=str(request.META.get("REMOTE_ADDR", "")) if tablet is None else tablet.name,
        about=about,
        before=before,
        after=after,
        why=why,
    )


def form_changes(form: Form) -> dict[str, Any]:
    """Return before and after of what a form changes, as text by field, for `note`."""
    names = [name for name in form.changed_data if name != "record_id"]
    return {
        "before": {
            name: str(form.get_initial_for_field(form.fields[name], name)) for name in names
        },
        "after": {name: str(form.cleaned_data[name]) for name in names},
    }
