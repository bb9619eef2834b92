"""Rights for the interface: the domain's predicates, and a door that is closed unless opened."""

from collections.abc import Callable

from rest_framework.permissions import BasePermission


class Closed(BasePermission):
    """The default: nobody. A view that forgets to say who may come in lets nobody in."""

    def has_permission(self, request, view):
        return False


def only(may: Callable[..., bool]) -> type[BasePermission]:
    """A permission class for one predicate of `survey.people.policy`."""

    class Only(BasePermission):
        def has_permission(self, request, view):
            return may(request.user)

    Only.__name__ = f"Only_{may.__name__}"
    return Only
