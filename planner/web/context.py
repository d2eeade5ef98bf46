"""What every page knows."""

from typing import Any

from django.http import HttpRequest

from planner.materials.models import Workroom


def workroom(request: HttpRequest) -> dict[str, Any]:
    """The workroom, for its name, units and currency; read once a request and only where a page asks for it."""
    return {"workroom": Workroom.the} if request.user.is_authenticated else {}
