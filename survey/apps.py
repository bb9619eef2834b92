"""The domain as one Django app."""

import importlib
import pkgutil
from importlib.util import find_spec

from django.apps import AppConfig
from django.conf import settings

import survey


class SurveyConfig(AppConfig):
    """Makes the data folder, and loads the Celery application and all the rooms' tasks."""

    name = "survey"
    label = "survey"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        settings.DATA.mkdir(mode=0o700, parents=True, exist_ok=True)  # it holds what people told us
        settings.LOG_FOLDER.mkdir(mode=0o700, exist_ok=True)
        importlib.import_module("survey.worker")
        for room in pkgutil.iter_modules(survey.__path__):
            tasks = f"survey.{room.name}.tasks"
            if room.ispkg and find_spec(tasks):
                importlib.import_module(tasks)
