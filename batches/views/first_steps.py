"""Where does a new nursery go next, and may whoever looks go there?"""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from batches.services.first_steps import Step, first_steps, next_step
from batches.views.access import ROLE_ACCESS, access_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownStep:
    """A step as a page shows it; ``href`` is empty where somebody else has to do it."""

    step: Step
    href: str
    now: bool


def shown_steps(request: HttpRequest) -> tuple[ShownStep, ...]:
    """Return the first steps for this person; empty where the nursery is under way."""
    steps = first_steps()
    ahead = next_step(steps)
    return tuple(_shown(request, step, now=step is ahead) for step in steps)


def shown_next(request: HttpRequest, *, after: str) -> ShownStep | None:
    """Return the next step after the one whose page is open, once that one is done."""
    steps = first_steps()
    if not any(step.name == after and step.done for step in steps):
        return None
    ahead = next_step(steps, after=after)
    return None if ahead is None else _shown(request, ahead, now=True)


def _shown(request: HttpRequest, step: Step, *, now: bool) -> ShownStep:
    href = ""
    if access_of(request) >= ROLE_ACCESS[step.role]:
        href = reverse(f"batches:{step.page}", args=[step.argument] if step.argument else [])
        href += "?unlabelled=yes" if step.name == "labels" else ""
    return ShownStep(step=step, href=href, now=now)
