"""What every page knows."""

from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from planner.materials.models import Workroom

#: Name on the page, address by URL name, path prefix that marks it as the current room.
ROOMS = [
    ("Today", "today", None),
    ("Orders", "order-list", "/orders/"),
    ("Styles", "style-list", "/styles/"),
    ("Materials", "fabric-list", "/materials/"),
    ("Batches", "batch-list", "/batches/"),
    ("Sewing", "sewing-board", "/sewing/"),
    ("Costs", "cost-list", "/costs/"),
]

#: Rooms that helpers have no business in.
FOR_MAKERS = {"cost-list"}


def workroom(request: HttpRequest) -> dict[str, Any]:
    """The rooms for the masthead, and the workroom, read once a request and only where a page asks for it."""
    user = getattr(request, "user", None)  # An error page can be asked for before anybody is known.
    if user is None or not user.is_authenticated:
        return {}
    rooms = []
    for name, url_name, prefix in ROOMS:
        if url_name in FOR_MAKERS and not request.user.is_staff:
            continue
        url = reverse(url_name)
        current = request.path == url if prefix is None else request.path.startswith(prefix)
        rooms.append({"name": name, "url": url, "current": current})
    return {"rooms": rooms, "workroom": SimpleLazyObject(Workroom.the)}
