"""Kinds of work that exist for tests alone."""

import pytest
from celery import current_app

from survey.chores import registry


@pytest.fixture
def kind():
    """Registers kinds for one test: `kind("sweep_floor", work)`; returns what `handles` returns."""
    known = dict(registry.handlers), dict(registry.rhythms), dict(registry.questions)

    def register(name, work, **options):
        return registry.handles(name, **options)(work)

    yield register
    for now, before in zip(
        (registry.handlers, registry.rhythms, registry.questions), known, strict=True
    ):
        for name in set(now) - set(before):
            current_app.tasks.pop(f"chores.{name}", None)
        now.clear()
        now.update(before)
