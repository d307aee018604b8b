"""Who may call what: the model permissions of the role, reading included."""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import MethodNotAllowed
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.views import APIView

ACT_OF_METHOD = {
    "GET": "view",
    "HEAD": "view",
    "POST": "add",
    "PUT": "change",
    "PATCH": "change",
    "DELETE": "delete",
}


class RolePermission(BasePermission):
    """Django's permission for the method and the view's model.

    A view may name others in ``needs``: action or method → permissions, any one of which is enough.
    """

    message = ""

    def has_permission(self, request: Request, view: APIView) -> bool:
        if request.user is None or not request.user.is_authenticated:
            return False
        if request.method not in ACT_OF_METHOD or request.method not in view.allowed_methods:
            raise MethodNotAllowed(str(request.method))
        wanted = self._wanted(request.method, view)
        if any(request.user.has_perm(permission) for permission in wanted):
            return True
        self.message = (
            f"Your role does not include this; it needs {' or '.join(wanted)}. An administrator gives roles."
        )
        return False

    @staticmethod
    def _wanted(method: str, view: APIView) -> tuple[str, ...]:
        needs: dict[str, tuple[str, ...]] = getattr(view, "needs", {})
        named = needs.get(getattr(view, "action", "")) or needs.get(method)
        if named:
            return named
        model: Any = view.queryset.model  # type: ignore[attr-defined]
        return (f"{model._meta.app_label}.{ACT_OF_METHOD[method]}_{model._meta.model_name}",)
