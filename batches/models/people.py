"""Who may sign in, from which tablet, and by which one-time link?"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar, Self

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models import Q

ROLES = (("manager", "manager"), ("office", "office"), ("hand", "nursery hand"))


class PersonManager(BaseUserManager["Person"]):
    """Makes people; nobody gets a password unless one is chosen."""

    def create_user(self, name: str, *, role: str, password: str | None = None) -> Person:
        """Make a person of a role; without a password only one-time links sign in."""
        person = self.model(name=name.strip(), role=role)
        person.set_password(password)
        person.full_clean(exclude=["password"])
        person.save(using=self._db)
        return person


class Person(AbstractBaseUser, PermissionsMixin):
    """Somebody of the nursery: manager, office or nursery hand."""

    name = models.CharField(max_length=80, unique=True)
    role = models.CharField(max_length=8, choices=ROLES)
    is_active = models.BooleanField(default=True)
    pin_hash = models.CharField(max_length=128, blank=True, default="")
    badge_hash = models.CharField(max_length=64, blank=True, default="")
    joined_at = models.DateTimeField(auto_now_add=True)
    #: in which they read the pages; empty is the language of the texts
    language = models.CharField(max_length=8, blank=True, default="")

    USERNAME_FIELD = "name"
    objects: ClassVar[PersonManager] = PersonManager()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"
        constraints = [
            models.CheckConstraint(
                condition=Q(role__in=["manager", "office", "hand"]), name="person_role_known"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="person_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_staff(self) -> bool:
        """Managers may open the plain table pages."""
        return self.role == "manager"


class SignInLinkQuerySet(models.QuerySet["SignInLink"]):
    """One-time links in words."""

    def usable(self, now: datetime) -> Self:
        """Links not used and not yet out of time."""
        return self.filter(used_at__isnull=True, expires_at__gt=now)


class SignInLink(models.Model):
    """A one-time link that signs a person in; only the hash of its secret is stored."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="signin_links")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects = SignInLinkQuerySet.as_manager()

    def __str__(self) -> str:
        return f"link for {self.person_id}"


class DeviceQuerySet(models.QuerySet["Device"]):
    """Tablets in words."""

    def enrolled(self) -> Self:
        """Tablets that were not revoked."""
        return self.filter(revoked_at__isnull=True)

    def revoked(self) -> Self:
        """Tablets that a manager revoked."""
        return self.filter(revoked_at__isnull=False)


class Device(models.Model):
    """An enrolled bench tablet."""

    name = models.CharField(max_length=80)
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_by = models.CharField(max_length=80)
    enrolled_at = models.DateTimeField()
    last_seen_at = models.DateTimeField(null=True, blank=True)
    #: what it said it holds and has not sent: looks and deeds, and photos
    waiting = models.PositiveIntegerField(default=0)
    photos_waiting = models.PositiveIntegerField(default=0)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = DeviceQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class EnrolmentCode(models.Model):
    """A single-use code with which a tablet enrols; only the hash of its secret is stored."""

    tablet_name = models.CharField(max_length=80)
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.CharField(max_length=80)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"code for {self.tablet_name}"


class FailedSignIn(models.Model):
    """A wrong password, PIN or link, counted to slow guessing down."""

    who = models.CharField(max_length=120, db_index=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.who} at {self.at}"
