"""Log lines on standard error: JSON for machines in production, text for people in the demo."""

from __future__ import annotations

import logging
from typing import Any

import structlog
from django.core.exceptions import ImproperlyConfigured


def logging_settings(level: str, *, as_json: bool) -> dict[str, Any]:
    """The LOGGING setting: what our code and the libraries log, through structlog, to standard error."""
    if level not in logging.getLevelNamesMapping():
        raise ImproperlyConfigured(f"LOG_LEVEL is {level!r}; DEBUG, INFO, WARNING or ERROR was expected.")
    before = [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.stdlib.ExtraAdder(),
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    last = (
        [_tracebacks(), structlog.processors.JSONRenderer()]
        if as_json
        else [structlog.dev.ConsoleRenderer(colors=False)]
    )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "line": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": before,
                "processors": [structlog.stdlib.ProcessorFormatter.remove_processors_meta, *last],
            }
        },
        "handlers": {
            "output": {"class": "logging.StreamHandler", "formatter": "line", "stream": "ext://sys.stderr"}
        },
        "root": {"handlers": ["output"], "level": level},
        # Django's own handlers would print every line a second time.
        "loggers": {"django": {"handlers": [], "propagate": True}, "django.server": {"propagate": True}},
    }


def _tracebacks() -> structlog.processors.ExceptionRenderer:
    """Tracebacks without the values of variables, which may be passwords."""
    return structlog.processors.ExceptionRenderer(
        structlog.tracebacks.ExceptionDictTransformer(show_locals=False)
    )
