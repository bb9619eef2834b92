"""Each part of a public service can be asked whether it does its work."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from survey.chores import clock
from survey.chores.actions import write_chore


def ask(part):
    said = StringIO()
    call_command("ask_health", part, stdout=said)
    return said.getvalue().strip()


@pytest.mark.django_db
def test_workers_are_well_until_work_lies_for_half_an_hour():
    write_chore(kind="dust", key="1", due_at=timezone.now() - timedelta(minutes=29))
    assert ask("work") == "well"
    write_chore(kind="dust", key="2", due_at=timezone.now() - timedelta(minutes=31))
    with pytest.raises(CommandError, match="1 chores should have been done"):
        ask("work")


@pytest.mark.django_db
def test_the_clock_is_well_when_every_period_has_begun():
    with pytest.raises(CommandError, match="forget_chores"):
        ask("clock")
    clock.tick(timezone.now())
    assert ask("clock") == "well"


def test_a_web_server_that_does_not_answer_is_not_well():
    with pytest.raises(CommandError, match="does not answer"):
        call_command("ask_health", "web", port=1)


@pytest.mark.django_db(transaction=True)
def test_a_web_server_that_takes_reports_is_well(live_server):
    said = StringIO()
    call_command("ask_health", "web", port=live_server.thread.port, stdout=said)
    assert said.getvalue().strip() == "well"
