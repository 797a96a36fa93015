"""Who is doing something: a person, on a page or through a bench token."""

from __future__ import annotations

from dataclasses import dataclass

from qc.errors import NotAllowed
from qc.models.people import BenchToken, Person, Role, powers


@dataclass(frozen=True)
class Actor:
    person: Person
    token: BenchToken | None = None

    @property
    def role(self) -> Role:
        """The person's role, or the token's where that reaches less far."""
        own = Role(self.person.role)
        if self.token is None:
            return own
        return min(own, Role(self.token.role), key=powers)

    def may(self, role: Role) -> bool:
        return powers(self.role) >= powers(role)

    def must_be(self, role: Role, *, to: str) -> None:
        """Raise NotAllowed unless this actor reaches as far as `role`."""
        if not self.may(role):
            raise NotAllowed(role=self.role, what=to)
