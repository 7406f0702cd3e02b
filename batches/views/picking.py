"""Pricking out, patching out, potting up and potting on: lay out the labels, then fill."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.picking import FillForm, LayOutForm
from batches.models import LaidOutTray, Tray
from batches.services import picking
from batches.services.days import day_words
from batches.services.laid_out import hand_back, lay_out, waiting_for
from batches.services.picking_rules import UNIT_OF, start_stage_of
from batches.services.tray_life import require_standing
from batches.views import clock
from batches.views.access import for_hands


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedWords:
    """How a deed is called on its page; ``caution`` is read at the step."""

    deed: str
    title: str
    url_name: str
    verb: str
    caution: str


_MIX = (
    "Wet the mix before you open it: dry peat and perlite dust needs a respirator, and potting "
    "mixes can carry Legionella. Wash hands. Local rules and labels decide."
)
_BLADE = "Clean blades between lots and cut away from yourself. "
DEEDS = {
    "prick-out": DeedWords(
        deed="prick_out", title="Prick out", url_name="prick-out", verb="Prick out", caution=_MIX
    ),
    "patch-out": DeedWords(
        deed="patch_out", title="Patch out", url_name="patch-out", verb="Patch out",
        caution=_BLADE + _MIX,
    ),
    "pot-up": DeedWords(
        deed="pot_up", title="Pot up", url_name="pot-up", verb="Pot up", caution=_MIX
    ),
    "pot-on": DeedWords(
        deed="pot_on", title="Pot on", url_name="pot-on", verb="Pot on", caution=_MIX
    ),
}  # fmt: skip


@for_hands
@require_http_methods(["GET", "POST"])
def pick(request: HttpRequest, code: str, way: str) -> HttpResponse:
    """Show what waits to be filled from this tray; a POST lays out codes or fills them."""
    words = DEEDS[way]
    parent = get_object_or_404(Tray.objects.with_fern(), code=code)
    try:
        require_standing(parent)
        start = start_stage_of(words.deed, [parent])
    except NurseryError as error:
        messages.error(request, error.message)
        return redirect("batches:tray", code)
    laid_out = waiting_for(batch=parent.batch, deed=words.deed)
    standing = _standing(parent, str(start), words.deed)
    laying = request.method == "POST" and "lay-how_many" in request.POST
    lay = LayOutForm(request.POST if laying else None, deed=words.deed)
    fill = FillForm(
        request.POST if request.method == "POST" and not laying else None,
        deed=words.deed,
        parent=parent,
        laid_out=laid_out,
        standing=standing,
        today=clock.today(),
    )
    if laying and lay.is_valid() and _lay_out(request, parent, words, lay):
        return redirect(f"{request.path}#fill")
    if fill.is_bound and fill.is_valid() and _fill(request, parent, words, fill):
        return redirect("batches:tray", code)
    context = {
        "tray": parent, "words": words, "lay": lay, "fill": fill, "laid_out": laid_out,
        "today": clock.today(), "child_unit": UNIT_OF[words.deed],
        "unlabelled": sum(row.label_printed_on is None for row in laid_out),
    }  # fmt: skip
    bad = lay.errors or fill.errors
    status = HTTPStatus.UNPROCESSABLE_ENTITY if bad else HTTPStatus.OK
    return render(request, "batches/picking/page.html", context, status=status)


def _lay_out(request: HttpRequest, parent: Tray, words: DeedWords, form: LayOutForm) -> bool:
    found = form.cleaned_data
    try:
        rows = lay_out(
            batch=parent.batch,
            parents=[parent],
            deed=words.deed,
            how_many=found["how_many"],
            container=found["container"],
            cells=found.get("cells"),
            pot_size=found.get("pot_size", ""),
            by=request.user.get_username(),
            today=clock.today(),
        )
    except NurseryError as error:
        form.add_error(error.field if error.field in form.fields else None, error.message)
        return False
    messages.success(
        request, f"{len(rows)} codes laid out. Print their labels before you open {parent.code}."
    )
    return True


def _fill(request: HttpRequest, parent: Tray, words: DeedWords, form: FillForm) -> bool:
    deed = getattr(picking, words.deed)
    try:
        result = deed(
            fillings=form.fillings(),
            parents=[form.parent_after()],
            on=form.cleaned_data["on"],
            by=request.user.get_username(),
            now=clock.now(),
            record_id=form.cleaned_data["record_id"],
        )
    except NurseryError as error:
        form.add_error(error.field if error.field in form.fields else None, error.message)
        return False
    messages.success(request, result.message)
    return True


def _standing(parent: Tray, start: str, deed: str) -> tuple[Tray, ...]:
    """Return standing trays of the batch that a half-filled one of them may be continued."""
    rows = (
        Tray.objects.active()
        .filter(batch=parent.batch, start_stage=start, unit=UNIT_OF[deed], control=False)
        .exclude(pk=parent.pk)
        .filter(parentages__isnull=False)
        .distinct()
        .order_by("-started_on", "code")
    )
    return tuple(rows[:12])


@for_hands
@require_POST
def give_back(request: HttpRequest, code: str) -> HttpResponse:
    """Hand a laid-out code back that will not be filled; it is never given out again."""
    row = get_object_or_404(LaidOutTray.objects.select_related("parent"), code=code)
    try:
        hand_back(codes=[row.code], today=clock.today())
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"Code {row.code} was handed back. Throw its label away.")
    return redirect(_after(row))


@for_hands
@require_GET
def laid_out(request: HttpRequest, code: str) -> HttpResponse:
    """Open the deed that a laid-out code waits for: what its QR names before it is filled."""
    row = get_object_or_404(LaidOutTray.objects.select_related("parent", "filled_by"), code=code)
    if row.filled_by is not None:
        return redirect("batches:tray", row.filled_by.code)
    if row.handed_back_on is not None:
        text = (
            f"Code {row.code} was handed back on {day_words(row.handed_back_on)} and never filled."
        )
        messages.warning(request, f"{text} Throw this label away.")
    return redirect(_after(row))


def _after(row: LaidOutTray) -> str:
    if row.parent is None:
        return reverse("batches:batch", args=[row.batch.code])
    way = row.deed.replace("_", "-")
    return reverse(f"batches:{way}", args=[row.parent.code])
