"""How do a page's drawings come with the page itself, without a request of their own?"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from django import template
from django.contrib.staticfiles.finders import find
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


@register.simple_tag
@cache
def all_drawings() -> SafeString:
    """Return the sheet of drawings, unseen; `<use href="#glyph-…">` shows one of them."""
    sheet = Path(str(find("glyphs/sprite.svg"))).read_text(encoding="utf-8")
    packed = re.sub(r">\s+<", "><", re.sub(r"<!--.*?-->", "", sheet, flags=re.DOTALL)).strip()
    # The attribute, not a style: the policy forbids those.
    return mark_safe(packed.replace("<svg ", '<svg display="none" aria-hidden="true" ', 1))  # noqa: S308 - a file of our own
