"""The WSGI application for any server but that of `manage.py start`, which warms up beside its own."""

import os

from django.core.wsgi import get_wsgi_application

from planner.running.warm import warm_up_quietly
from planner.settings import settings_module

os.environ.setdefault("DJANGO_SETTINGS_MODULE", settings_module())

application = get_wsgi_application()
# Not in a thread: a server that forks after loading would hand its children locks that nobody opens any more.
warm_up_quietly()
