"""What stands round every page: the pages one can go to, the search box, the cookie's name?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.translation import get_language

from batches.services.language import LANGUAGES
from batches.views.access import Access, access_of


@dataclass(frozen=True, slots=True, kw_only=True)
class NavItem:
    """A page in the header; ``apart`` begins a second group."""

    href: str
    word: str
    current: bool
    apart: bool


#: URL name, word, from which access on, whether it begins the second group
_PAGES: tuple[tuple[str, str, Access, bool], ...] = (
    ("today", "Today", Access.HAND, False),
    ("bench-map", "Bench map", Access.HAND, False),
    ("batches", "Batches", Access.HAND, False),
    ("lots", "Lots", Access.HAND, False),
    ("sow", "Sow", Access.HAND, False),
    ("labels", "Labels", Access.HAND, False),
    ("orders", "Orders", Access.OFFICE, False),
    ("durations", "Durations", Access.HAND, False),
    ("survival", "Survival", Access.HAND, False),
    ("forecast", "Forecast", Access.OFFICE, False),
    ("sowing-plan", "Sowing plan", Access.OFFICE, False),
    ("ferns", "Ferns", Access.HAND, True),
    ("stock-plants", "Stock plants", Access.HAND, False),
    ("media", "Media", Access.HAND, False),
    ("houses", "Houses", Access.HAND, False),
    ("treatments", "Treatments", Access.HAND, False),
    ("trace-start", "Trace", Access.HAND, False),
    ("shared-causes", "Shared causes", Access.HAND, False),
    ("weekly-note", "Weekly note", Access.HAND, False),
    ("records", "Records", Access.OFFICE, False),
    ("people", "People", Access.MANAGER, False),
    ("backups", "Backups", Access.MANAGER, False),
    ("tablets", "Tablets", Access.OFFICE, False),
    ("changes", "Changes", Access.MANAGER, False),
    ("settings", "Settings", Access.MANAGER, False),
)


def page_frame(request: HttpRequest) -> dict[str, Any]:
    """Return what the base template shows on every page; pages that do not exist are left out."""
    return {
        "nav": _nav(request) if hasattr(request, "user") else [],
        "csrf_cookie_name": settings.CSRF_COOKIE_NAME,
        "search_text": request.GET.get("q", ""),
        "languages": _languages(request) if hasattr(request, "user") else [],
    }


def _languages(request: HttpRequest) -> list[tuple[str, str]]:
    """Return the languages that are not the person's, by code and own name."""
    if not request.user.is_authenticated:
        return []
    now = get_language() or ""
    return [(code, name) for code, name in LANGUAGES.items() if code != now]


def _nav(request: HttpRequest) -> list[NavItem]:
    if not request.user.is_authenticated:
        return []
    has = access_of(request)
    items: list[NavItem] = []
    apart_waits = False
    for name, word, needed, apart in _PAGES:
        apart_waits = apart_waits or apart
        if has < needed:
            continue
        try:
            href = reverse(f"batches:{name}")
        except NoReverseMatch:
            continue
        current = request.path == href or (href != "/" and request.path.startswith(href))
        items.append(NavItem(href=href, word=word, current=current, apart=apart_waits))
        apart_waits = False
    return items
