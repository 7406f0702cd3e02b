"""How are days, ferns, stages and troubles worded on a page?"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, datetime

from django import template
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.formats import number_format
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

from batches.core.ledger import SINGLE
from batches.core.names import Run, runs_as_html
from batches.core.provenance import (
    PROPAGATION_WORDS,
    PROVENANCE_WORDS,
    batch_provenance,
    propagation_history,
)
from batches.core.signs import CAUSE_WORDS, SIGN_WORDS, Sign
from batches.core.stages import ROUTE_WORDS, STAGE_WORDS, Route, Stage
from batches.models import Batch, Taxon
from batches.services.language import catalogue_of, said
from batches.services.protection import protection_of

register = template.Library()


@register.filter(name="said")
def in_words(text: object) -> str:
    """Return a text as the reader's language says it; as it is where that is not known."""
    return said(str(text), language=get_language() or "")


@register.filter
def in_language(field: BoundField) -> SafeString:
    """Return a form's field; the words to choose from are in the reader's language."""
    choices = getattr(field.field.widget, "choices", None)
    if choices is not None and catalogue_of(get_language() or ""):
        field.field.widget.choices = [(value, in_words(word)) for value, word in choices]
    return field.as_widget()


@register.filter
def long_day(day: date | datetime | None) -> str:
    """Return “Tue 24 Nov 2026 (wk 48)”; a dash when there is no day."""
    if day is None or day == "":
        return "–"
    if isinstance(day, datetime):
        day = timezone.localtime(day).date()
    week = day.isocalendar().week
    return in_words(f"{day:%a} {day.day} {day:%b %Y} (wk {week})")


@register.filter
def short_day(day: date | datetime | None) -> str:
    """Return “24 Nov 2026”; a dash when there is no day."""
    if day is None or day == "":
        return "–"
    if isinstance(day, datetime):
        day = timezone.localtime(day).date()
    return in_words(f"{day.day} {day:%b %Y}")


@register.filter
def day_and_hour(moment: datetime | None) -> str:
    """Return “Tue 24 Nov 2026, 09:12” in the nursery's own time; a dash when there is none."""
    if moment is None or moment == "":
        return "–"
    local = timezone.localtime(moment)
    return in_words(f"{local:%a} {local.day} {local:%b %Y, %H:%M}")


@register.filter
def provenance_words(batch: Batch) -> str:
    """Return where a batch's plants come from and how they were raised, in words."""
    lot = batch.spore_lot
    origin = batch.source if lot is None else lot.source
    route, fern = Route(batch.route), batch.taxon
    provenance = batch_provenance("" if origin is None else origin.provenance, route)
    raised = propagation_history(route, genus=fern.genus, species=fern.species)
    return f"{in_words(PROVENANCE_WORDS[provenance])}; {in_words(PROPAGATION_WORDS[raised])}"


@register.filter
def protection_note(taxon: Taxon) -> str:
    """Return the reminder of papers a fern needs where it leaves; empty without any."""
    return protection_of(taxon)


@register.filter
def noted(value: str) -> str:
    """Return what a note of a change keeps as JSON, in words; a dash for nothing.

    What is no JSON was altered beside the program: it is shown as it stands.
    """
    if not value:
        return "–"
    try:
        kept = json.loads(value)
    except ValueError:
        return value
    if isinstance(kept, dict):
        kept = [f"{name}: {'–' if part in (None, '') else part}" for name, part in kept.items()]
    return ", ".join(map(str, kept)) if isinstance(kept, list) else str(kept)


@register.filter
def fern_html(taxon: Taxon) -> SafeString:
    """Return a fern's botanical name, set right, with its common name behind it."""
    name = f'<span class="fern">{taxon.name.html}</span>'
    if taxon.common_name:
        name += f' <span class="common">{escape(taxon.common_name)}</span>'
    return mark_safe(name)  # noqa: S308 - name.html escapes its parts


@register.filter
def name_html(taxon: Taxon) -> SafeString:
    """Return a fern's botanical name alone, set right."""
    return mark_safe(f'<span class="fern">{taxon.name.html}</span>')  # noqa: S308 - escaped parts


@register.filter
def runs_html(runs: Sequence[Run]) -> SafeString:
    """Return a name given as runs of roman and italic text."""
    return mark_safe(runs_as_html(tuple(runs)))  # noqa: S308 - escapes its parts


@register.filter
def stage_word(stage: str) -> str:
    """Return a stage as the trade says it; an unknown word as it is."""
    return in_words(STAGE_WORDS[Stage(stage)]) if stage in set(Stage) else stage


@register.filter
def route_word(route: str) -> str:
    """Return what a batch is raised from, in a word."""
    return in_words(ROUTE_WORDS[Route(route)]) if route in set(Route) else route


@register.filter
def trouble_word(sign: str) -> str:
    """Return a trouble (or heart shapes) in a word."""
    return in_words(SIGN_WORDS[Sign(sign)]) if sign in set(Sign) else sign


@register.filter
def trouble_words(signs: str) -> str:
    """Return troubles given as stored (spaces between), with commas; empty for none."""
    return ", ".join(trouble_word(sign) for sign in signs.split())


@register.filter
def cause_word(cause: str) -> str:
    """Return a cause of loss in a word; “no cause noted” for none."""
    return in_words(CAUSE_WORDS.get(cause, cause) if cause else "no cause noted")


@register.filter
def days_ago(day: date | None, today: date) -> str:
    """Return “today”, “yesterday”, “12 days ago” or “in 3 days”; “never” without a day."""
    if day is None:
        return in_words("never")
    days = (today - day).days
    if days in (0, 1):
        return in_words("yesterday" if days else "today")
    return in_words(f"{days} days ago" if days > 0 else f"in {-days} day{'s' if days < -1 else ''}")


@register.filter
def of_unit(count: int | None, unit: str) -> str:
    """Return “84 plants”, “1 pot”, or “uncounted”."""
    if count is None:
        return in_words("uncounted")
    word = SINGLE.get(unit, unit) if count == 1 else unit
    return f"{number_format(count, force_grouping=True)} {in_words(word)}"


@register.filter
def percent(share: float | None) -> str:
    """Return a share of 0 to 1 as “83 %”; a dash when there is none."""
    return "–" if share is None else f"{100 * share:.0f} %"


@register.filter
def share_of(shares: dict[str, str], key: str) -> str:
    """Return whose a line is; empty while it is nobody's."""
    return shares.get(key, "")


@register.filter
def degrees(celsius: float | None) -> str:
    """Return a temperature as “−1.5 °C”; a dash when it is not known."""
    return "–" if celsius is None else f"{number_format(f'{celsius:g}')} °C".replace("-", "−")
