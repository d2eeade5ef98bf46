"""The WSGI application, for `manage.py start` and for any other server."""

import os

from django.core.wsgi import get_wsgi_application

from planner.settings import settings_module

os.environ.setdefault("DJANGO_SETTINGS_MODULE", settings_module())

application = get_wsgi_application()
