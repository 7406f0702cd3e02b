"""The same three people of every access test, and a tablet."""

from __future__ import annotations

import factory
from factory.django import DjangoModelFactory

from batches.models import Device, Person
from tests.factories.days import NOW


class PersonFactory(DjangoModelFactory):
    """A nursery hand; the traits make the manager and the office. Nobody has a password."""

    class Meta:
        model = Person
        skip_postgeneration_save = True

    class Params:
        office = factory.Trait(role="office", name="Oonagh Pell")
        manager = factory.Trait(role="manager", name="Maeve Corrin")

    name = factory.Sequence(lambda n: f"Una Tarn {n}")
    role = "hand"
    password = "!"


class DeviceFactory(DjangoModelFactory):
    """An enrolled bench tablet."""

    class Meta:
        model = Device
        skip_postgeneration_save = True

    name = factory.Sequence(lambda n: f"bench tablet {n}")
    token_hash = factory.Sequence(lambda n: f"{n:064x}")
    enrolled_by = "Maeve Corrin"
    enrolled_at = NOW
