"""How are days, shares and chances of the reckoned pages worded?"""

from __future__ import annotations

import math
from collections.abc import Iterable

from django import template
from django.utils.formats import number_format

from batches.services.lot_list import TestResult
from batches.services.repeats import repeats_in_words
from batches.templatetags.frond import in_words

register = template.Library()


@register.filter
def day_or_open(day: float) -> str:
    """Return a day as a whole number or with a half; “not yet” for one that lies open."""
    return in_words("not yet") if math.isinf(day) else number_format(f"{day:g}")


@register.filter
def whole(number: float | None) -> str:
    """Return a number rounded, with its thousands apart; a dash when there is none."""
    return "–" if number is None else number_format(f"{number:.0f}", force_grouping=True)


@register.filter
def chance(share: float | None) -> str:
    """Return a chance as “83 in 100”; a dash when there is none."""
    if share is None:
        return "–"
    in_100 = round(100 * share)
    if in_100 < 1:
        return in_words("under 1 in 100")
    return in_words("over 99 in 100" if in_100 > 99 else f"{in_100} in 100")


@register.filter
def repeats_words(results: Iterable[TestResult]) -> tuple[str, ...]:
    """Return whether samples sown and counted together agree, a sentence for each such set."""
    return repeats_in_words(tests=[result.test for result in results])
