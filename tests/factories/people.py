"""The same three people of every access test, and a tablet."""

from __future__ import annotations

from factory.declarations import Sequence, Trait
from factory.django import DjangoModelFactory

from batches.models import Device, Person
from tests.factories.days import NOW


class PersonFactory(DjangoModelFactory[Person]):
    """A nursery hand; the traits make the manager and the office. Nobody has a password."""

    class Meta:
        model = Person
        skip_postgeneration_save = True

    class Params:
        office = Trait(role="office", name="Oonagh Pell")
        manager = Trait(role="manager", name="Maeve Corrin")

    name = Sequence(lambda n: f"Una Tarn {n}")
    role = "hand"
    password = "!"


class DeviceFactory(DjangoModelFactory[Device]):
    """An enrolled bench tablet."""

    class Meta:
        model = Device
        skip_postgeneration_save = True

    name = Sequence(lambda n: f"bench tablet {n}")
    token_hash = Sequence(lambda n: f"{n:064x}")
    enrolled_by = "Maeve Corrin"
    enrolled_at = NOW
