"""Runners are killed without pause while work keeps coming; nothing is lost or done twice."""

import os

import pytest

from tests.survey.chores.test_kill import in_a_city, perform


def assert_all_was_done_once(outcome):
    print(outcome)
    assert outcome["written"] > outcome["kills"]
    assert outcome["lost"] == outcome["never asked for"] == outcome["not done"] == []


KILLS = int(os.environ.get("CHAOS_ROUNDS", "40"))


def test_a_storm_over_the_embedded_runner(tmp_path):
    assert_all_was_done_once(
        perform("tests.chaos.storm", "embedded", str(KILLS), data=tmp_path / "data")
    )


@pytest.mark.postgres
@pytest.mark.redis
def test_a_storm_over_workers_on_redis(tmp_path):
    with in_a_city() as env:
        assert_all_was_done_once(
            perform("tests.chaos.storm", "city", str(KILLS), data=tmp_path / "data", **env)
        )
