"""A workroom's settings that wait a tenth of a second for a locked database, instead of twenty."""

from planner.settings.local import *  # noqa: F403
from planner.settings.local import DATABASES

DATABASES["default"]["OPTIONS"]["timeout"] = 0.1
