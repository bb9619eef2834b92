"""A letter that PostgreSQL cannot hold, in any address, names nothing."""

import pytest

from survey.people.models import Person
from tests.factories import AreaFactory, PersonFactory

pytestmark = pytest.mark.django_db

PATHS = [
    "/survival/planting/a%00b/",
    "/survival/care/water%00/",
    "/photos/a%00b/small/",
    "/note/a%00b/",
    "/report/a%00b/where/",
    "/trees/a%00b/",
    "/%00",
]


@pytest.mark.parametrize("path", PATHS)
def test_it_is_not_found(client, path):
    AreaFactory(is_home=True)
    assert client.get(path).status_code in (302, 404)  # a page for staff asks who it is first
    client.force_login(PersonFactory(role=Person.Role.KEEPER))
    assert client.get(path).status_code == 404


def test_a_download_of_such_a_group_holds_no_row(client):
    AreaFactory(is_home=True)
    client.force_login(PersonFactory(role=Person.Role.LIAISON))
    answer = client.get("/downloads/survival.csv?by=planting&key=a%00b")
    assert answer.status_code == 200
    assert len(b"".join(answer.streaming_content).splitlines()) == 1
