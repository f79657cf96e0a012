"""Who acts: passed into every action, together with `now`."""

from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import PermissionDenied

from clinic.people.models import Staff
from clinic.people.rights import Right, Role, may


class NotAllowed(PermissionDenied):
    """The actor's roles do not hold the right; says which one. Uncaught, a page answers 403."""

    def __init__(self, right: Right) -> None:
        self.right = right
        super().__init__(f"This needs the right “{right.value}”.")


@dataclass(frozen=True)
class Actor:
    """A person at work, with the roles in force: a PIN gives no manager's rights.

    `grant_id` names the person's grant on this tablet; None for work without a page (tasks, the demo).
    """

    staff: Staff
    roles: frozenset[Role]
    grant_id: UUID | None = None
    by_pin: bool = False

    @classmethod
    def of(cls, staff: Staff, *, grant_id: UUID | None = None, by_pin: bool = False) -> "Actor":
        roles = staff.role_set - {Role.MANAGER} if by_pin else staff.role_set
        return cls(staff=staff, roles=roles, grant_id=grant_id, by_pin=by_pin)

    def may(self, right: Right) -> bool:
        return self.staff.is_active and may(self.roles, right)

    def would_in_full(self, right: Right) -> bool:
        """Whether only the PIN stands in the way: signed in with the password they would hold the right."""
        return self.by_pin and self.staff.is_active and may(self.staff.role_set, right)

    def require(self, right: Right) -> None:
        """Raise NotAllowed unless the actor holds the right."""
        if not self.may(right):
            raise NotAllowed(right)
