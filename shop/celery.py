"""The queue. Redis in production; a folder of files where no server is installed.

The queue only nudges: what must happen stands as a row in the database, and beat picks up
what a lost nudge left behind. So a request never fails because the queue is down.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from celery import Celery
from celery.signals import setup_logging

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")

app = Celery("curewright")

# Planning takes a worker half a minute: on the common queue mail and dates would wait for it.
PLANNING = "plan"
PLANNING_TASKS = ("jobs.tasks.plan_shop", "jobs.tasks.rescue_job", "jobs.tasks.date_plan")


def redis_settings(url: str) -> dict[str, Any]:
    return {
        "broker_url": url,
        "broker_transport_options": {
            "visibility_timeout": 300,
            "socket_connect_timeout": 1,
            "socket_timeout": 2,
            "retry_on_timeout": False,
            "max_retries": 1,
            "unacked_restore_interval": 5,
            "unacked_restore_throttle": 1,
        },
        "task_acks_late": True,
        "task_reject_on_worker_lost": True,
    }


def folder_settings(folder: Path) -> dict[str, Any]:
    for part in ("messages", "control"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    return {
        # A folder has no host, but kombu warns at every connection that names none.
        "broker_url": "filesystem://localhost",
        "broker_transport_options": {
            "data_folder_in": str(folder / "messages"),
            "data_folder_out": str(folder / "messages"),
            "control_folder": str(folder / "control"),
            "store_processed": False,
        },
        "worker_pool": "solo",
    }


def configuration() -> dict[str, Any]:
    from django.conf import settings

    broker = (
        redis_settings(settings.REDIS_URL)
        if settings.REDIS_URL
        else folder_settings(settings.QUEUE_DIR)
    )
    return {
        "task_ignore_result": True,
        "task_publish_retry_policy": {"max_retries": 1, "interval_start": 0.1},
        "broker_connection_retry_on_startup": True,
        "worker_hijack_root_logger": False,
        "task_soft_time_limit": 120,
        "task_time_limit": 180,
        "task_routes": {task: {"queue": PLANNING} for task in PLANNING_TASKS},
        "timezone": "UTC",
        "beat_schedule_filename": str(settings.VAR_DIR / "beat-schedule"),
        # Without an end to them, the clock's nudges would pile up while no worker runs.
        "beat_schedule": {
            "readiness": {
                "task": "jobs.tasks.recompute",
                "schedule": 180.0,
                "options": {"expires": 170},
            },
            "left-behind": {
                "task": "jobs.tasks.pick_up",
                "schedule": 20.0,
                "options": {"expires": 60},
            },
            "plan-dates": {
                "task": "jobs.tasks.date_plan",
                "schedule": 300.0,
                "options": {"expires": 290},
            },
        },
        **broker,
    }


@setup_logging.connect
def use_django_logging(**_: Any) -> None:
    import logging.config

    from django.conf import settings

    logging.config.dictConfig(settings.LOGGING)


# Given as a function, it is called on first use: by then Django's settings are complete.
app.add_defaults(configuration)
app.autodiscover_tasks()
