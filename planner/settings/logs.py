"""Where messages go: a file that is kept small while serving, the terminal for commands typed by hand."""

from pathlib import Path
from typing import Any


def logging_to(folder: Path, name: str) -> dict[str, Any]:
    """Django LOGGING: `<name>.log` in `folder`, at most four of 1 MB; no name: warnings to the terminal.

    Each process writes a file of its own, because two of them cannot turn over one file safely.
    """
    quiet: dict[str, Any] = {"level": "WARNING"}
    loggers: dict[str, Any] = {
        # A missing page is no news, and its warning would fill the file with every scanner in the network.
        "django.request": {"level": "ERROR"},
        "django.security.DisallowedHost": {"level": "CRITICAL"},
        "waitress": quiet,
        "django_tasks": {"level": "INFO" if name else "WARNING"},
        "django_tasks_db": {"level": "INFO" if name else "WARNING"},
        # The PDF and geometry libraries are talkative at INFO.
        "fontTools": quiet,
        "PIL": quiet,
    }
    handler: dict[str, Any] = {"class": "logging.StreamHandler", "level": "WARNING", "formatter": "line"}
    if name:
        handler = {
            "class": "logging.handlers.RotatingFileHandler",
            "filename": folder / f"{name}.log",
            "maxBytes": 1_000_000,
            "backupCount": 3,
            "encoding": "utf-8",
            "delay": True,
            "formatter": "line",
        }
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
        "handlers": {"out": handler},
        "root": {"handlers": ["out"], "level": "INFO" if name else "WARNING"},
        # Django's own default handlers write to the terminal and by mail; both are replaced by the one above.
        "loggers": {"django": {"handlers": [], "level": "INFO", "propagate": True}, **loggers},
    }
