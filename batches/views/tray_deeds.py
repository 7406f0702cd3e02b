"""Deeds done to one tray: moved, isolated, its lid changed, cleared, thrown out, sent off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.tray_deeds import DiscardForm, DispatchForm, MoveForm
from batches.models import Tray
from batches.services.dispatching import dispatch
from batches.services.ending import clear, discard, needs_second_look, reopen
from batches.services.holds import held_now, who_may_lift
from batches.services.keeping import set_cover, set_isolated
from batches.services.moves import move
from batches.views import clock
from batches.views.access import for_hands


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedPage:
    """A deed with a form of its own: its words, its form, and what does it."""

    title: str
    button: str
    danger: bool
    lead: str
    caution: str
    form: type[forms.Form]
    do: Callable[[Tray, dict[str, Any], str], str]


def _move(tray: Tray, found: dict[str, Any], by: str) -> str:
    taken = found["taken"]
    return move(
        trays=[tray],
        bench=found["bench"],
        row=found["row"],
        column=found["column"],
        on=found["on"],
        by=by,
        now=clock.now(),
        swap=taken == "swap",
        stack=taken == "stack",
        record_id=found["record_id"],
        revisions={tray.pk: found["revision"]},
    ).message


def _discard(tray: Tray, found: dict[str, Any], by: str) -> str:
    return discard(
        tray=tray,
        cause=found["cause"],
        on=found["on"],
        by=by,
        now=clock.now(),
        second_look=found["second_look"],
        revision=found["revision"],
    ).message


def _dispatch(tray: Tray, found: dict[str, Any], by: str) -> str:
    return dispatch(
        tray=tray,
        quantity=found["quantity"],
        on=found["on"],
        by=by,
        now=clock.now(),
        recipient=found["recipient"],
        order=found["order"],
        record_id=found["record_id"],
        revision=found["revision"],
    ).message


DEED_PAGES = {
    "move": DeedPage(
        title="Move", button="Move it", danger=False, form=MoveForm, do=_move, caution="",
        lead="A tray keeps its label; the map and its history follow.",
    ),
    "discard": DeedPage(
        title="Throw out", button="Throw it out", danger=True, form=DiscardForm, do=_discard,
        lead="What is alive by the stock book is written off to the cause. History stays.",
        caution="Bag diseased trays where they stand. For a notifiable pest or disease, stop and "
        "ask the plant-health authority first; its rules decide.",
    ),
    "dispatch": DeedPage(
        title="Dispatch", button="Dispatch", danger=False, form=DispatchForm, do=_dispatch,
        lead="What leaves is written to the stock book with its recipient.",
        caution="Moving plants may need a plant passport, and protected species papers: only "
        "authorised operators issue passports; the authority decides.",
    ),
}  # fmt: skip


@for_hands
@require_http_methods(["GET", "POST"])
def deed(request: HttpRequest, code: str, what: str) -> HttpResponse:
    """Show a deed's form for a tray; a POST does it."""
    page = DEED_PAGES.get(what)
    if page is None:
        raise Http404
    tray = get_object_or_404(Tray.objects.with_fern(), code=code)
    make: Any = page.form
    form = make(request.POST or None, tray=tray, today=clock.today())
    for name in ("order", "quantity", "recipient"):
        if what == "dispatch" and request.GET.get(name):
            form.initial[name] = request.GET[name]
    if request.method == "POST" and form.is_valid():
        try:
            words = page.do(tray, form.cleaned_data, request.user.get_username())
        except NurseryError as error:
            form.add_error(error.field if error.field in form.fields else None, error.message)
        else:
            messages.success(request, words)
            return redirect("batches:tray", code)
    asks = what == "discard" and needs_second_look(tray=tray, cause="unknown", on=clock.today())
    context = {
        "tray": tray,
        "page": page,
        "what": what,
        "form": form,
        "asks_second_look": asks,
        "holds": held_now().filter(tray=tray),
        "ask": who_may_lift(),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/tray_deeds/page.html", context, status=status)


@for_hands
@require_POST
def small_deed(request: HttpRequest, code: str, what: str) -> HttpResponse:
    """Do what one button says: a lid, isolation, clearing, standing again."""
    tray = get_object_or_404(Tray.objects.with_fern(), code=code)
    try:
        words = _small(tray, what, by=request.user.get_username())
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, words)
    return redirect("batches:tray", code)


def _small(tray: Tray, what: str, *, by: str) -> str:
    if what in {"isolate", "rejoin"}:
        set_isolated(trays=[tray], isolated=what == "isolate", by=by, now=clock.now())
        apart = "isolated; it is looked at last." if what == "isolate" else "back among the others."
        return f"{tray.code}: {apart}"
    if what in {"closed", "vented", "off"}:
        set_cover(trays=[tray], cover=what, by=by, now=clock.now())
        return f"{tray.code}: the lid is {what}."
    if what == "clear":
        return clear(tray=tray, on=clock.today(), now=clock.now()).message
    if what == "reopen":
        return reopen(tray=tray, by=by, now=clock.now()).message
    raise Http404
