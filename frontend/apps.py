"""Pages for people."""

from django.apps import AppConfig


class FrontendConfig(AppConfig):
    """Templates, drawings and views; it owns no tables."""

    name = "frontend"
    label = "frontend"
