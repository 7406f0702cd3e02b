"""How far is a new nursery on its way to the first printed label, and what comes next?"""

from __future__ import annotations

from dataclasses import dataclass

from batches.models import Bench, Device, House, Person, SporeLot, Taxon, Tray, TrayCheck


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step; ``page`` is the name of the URL where it is done, ``role`` who may do it."""

    name: str
    word: str
    text: str
    deed: str
    page: str
    argument: str = ""
    role: str
    done: bool


def first_steps() -> tuple[Step, ...]:
    """Return the steps in order; empty once a label was printed or a tray was looked at."""
    if Tray.objects.filter(label_printed_on__isnull=False).exists() or TrayCheck.objects.exists():
        return ()
    sown = Tray.objects.values_list("batch__code", flat=True).order_by("-pk").first()
    in_store = SporeLot.objects.in_store().exists()
    return (
        Step(
            name="houses", word="Houses and benches", page="house-new", role="office",
            deed="Draw the first house" if not House.objects.exists() else "Draw another house",
            text="Draw them as they stand: rows and columns of places, in walking order.",
            done=Bench.objects.exists(),
        ),
        Step(
            name="ferns", word="Ferns", page="starter-ferns", role="office",
            deed="Pick your ferns from the list",
            text="Tick what you raise on a list of common ferns; name by hand what it lacks.",
            done=Taxon.objects.exists(),
        ),
        Step(
            name="people", word="People and tablets", page="people", role="manager",
            deed="Add who works here",
            text="Everybody signs in under their own name; a bench tablet is enrolled once.",
            done=Person.objects.count() > 1 or Device.objects.exists(),
        ),
        Step(
            name="lot", word="The first lot", page="lot-new", role="hand",
            deed="Write down the first lot",
            text="One fern, one origin, one day: the fronds are cut and laid out to dry.",
            done=sown is not None or in_store,
        ),
        Step(
            name="sowing", word="The first sowing", page="sow-route", argument="spores",
            role="hand",
            deed="Sow it",
            text="Codes for the batch and each tray are given out as you sow.",
            done=sown is not None,
        ),
        Step(
            name="labels", word="The first labels", page="labels", role="hand",
            deed="Print the labels",
            text="Sown trays all look alike. From then on, Today says what to look at.",
            done=False,
        ),
    )  # fmt: skip


def next_step(steps: tuple[Step, ...], *, after: str = "") -> Step | None:
    """Return the first step not done, of those after the named one; None when there is none."""
    names = [step.name for step in steps]
    rest = steps[names.index(after) + 1 :] if after in names else steps
    return next((step for step in rest if not step.done), None)
