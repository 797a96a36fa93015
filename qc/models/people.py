"""People with a role, and the tokens by which bench tools act for them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from qc.models.columns import one_of, unit_column
from qc.units import Unit


class Role(models.TextChoices):
    OPERATOR = "operator", "operator"
    LEAD = "lead", "lead"
    VIEWER = "viewer", "viewer"


class PersonManager(BaseUserManager["Person"]):
    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(username__iexact=username)


class Person(AbstractBaseUser):
    username = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    gets_flag_mail = models.BooleanField(default=False)
    role = models.CharField(max_length=10, choices=Role.choices)
    unit = unit_column(default=Unit.MM.value)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField()

    objects: ClassVar[PersonManager] = PersonManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        ordering = ["username"]
        constraints = [one_of("role", Role, "person_role_known")]

    def __str__(self) -> str:
        return self.name or self.username

    def get_username(self) -> str:
        return str(self.username)


class BenchToken(models.Model):
    """A bench tool's key. Only its hash is kept; `hint` is the start of it, to tell keys apart."""

    name = models.CharField(max_length=80)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="tokens")
    role = models.CharField(max_length=10, choices=Role.choices)
    key_hash = models.CharField(max_length=64, unique=True)
    hint = models.CharField(max_length=12)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="tokens_made")
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [one_of("role", Role, "token_role_known")]

    def __str__(self) -> str:
        return f"{self.name} ({self.hint}…)"


class FailedSignIns(models.Model):
    """Wrong passwords for one name, known or not, in a series that began at `since`."""

    name_hash = models.CharField(max_length=64, unique=True)
    since = models.DateTimeField()
    failures = models.PositiveIntegerField()

    class Meta:
        ordering = ["since"]
        verbose_name_plural = "failed sign-ins"

    def __str__(self) -> str:
        return f"{self.failures} since {self.since:%Y-%m-%d %H:%M}"


def powers(role: Any) -> int:
    """How far a role reaches: a viewer reads, an operator records, a lead decides."""
    return {Role.VIEWER: 0, Role.OPERATOR: 1, Role.LEAD: 2}[Role(role)]
