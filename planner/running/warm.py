"""Does before the first request what the first request would otherwise have to wait for. Needs Django to be set up."""

import gc
import logging
from importlib import import_module
from threading import Thread

logger = logging.getLogger(__name__)

#: Objects made before the garbage collector looks at them. The rows of one page stay below it, so that they are
#: gone with their request; at the usual 700 they pile up, and every fifth page waits for all of them to be sorted.
YOUNG_OBJECTS = 50_000

#: Those that a first press leads to; each brings along the templates it extends, a page also its tags.
TEMPLATES = (
    "web/today.html",
    "orders/order_list.html",
    "orders/order_form.html",
    "orders/_estimate.html",
    "cutting/batch_detail.html",
    "sewing/board.html",
)


#: What a page imports only when somebody presses for it, because it is slow to load.
LATER = ("planner.core.pattern_files.dxf", "planner.core.pattern_files.write_dxf")


def warm_up_beside() -> Thread:
    """Warms up in a thread of its own: neither a start nor a request waits for it, nor fails with it."""
    thread = Thread(target=warm_up_quietly, name="warm-up", daemon=True)
    thread.start()
    return thread


def warm_up_quietly() -> None:
    """Warms up, and only notes what goes wrong; for the thread that loads a server."""
    from django.db import connection

    try:
        warm_up()
    except Exception:
        logger.exception("Warming up failed; pages come all the same, the first of each a little later.")
    finally:
        connection.close()  # a thread has one of its own


def warm_up() -> None:
    """Loads all views, the templates of the main pages and the units that the first typed length would wait for, and
    measures the newest style that is sold.

    What is loaded by then stays as long as the server runs. It is taken out of the sight of the garbage collector,
    which would look through all of it again and again, for some 80 ms in the middle of a request.
    """
    from django.conf import settings
    from django.template.loader import get_template

    from planner.core import units

    import_module(settings.ROOT_URLCONF)
    for name in TEMPLATES:
        get_template(name)
    _measure_newest_style()
    units.warm_up()
    for name in LATER:
        import_module(name)
    gc.collect()
    gc.freeze()
    gc.set_threshold(YOUNG_OBJECTS, *gc.get_threshold()[1:])


def _measure_newest_style() -> None:
    """Works out one garment of it in every size, as an order will; that measures its sewing lines."""
    from planner.core.spec import Demand, Garment, make_options
    from planner.orders.estimate import estimate_needs
    from planner.styles.models import Style
    from planner.styles.specs import workshop

    number = Style.objects.sold().order_by("-pk").values_list("number", flat=True).first()
    if number is None:
        return
    shop = workshop([number])
    style = shop.styles[number]
    options = make_options((detail, names[0]) for detail, names in style.details.items() if names)
    for colourway in style.colourways:
        estimate_needs([Demand(Garment(number, options, colourway, size), 1) for size in style.sizes], shop)
