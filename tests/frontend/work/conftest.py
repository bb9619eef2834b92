"""People who walk, and pages opened by them."""

import pytest

from tests.factories import AreaFactory, PersonFactory


@pytest.fixture(autouse=True)
def home(db):
    """The town that the pages are about."""
    return AreaFactory()


@pytest.fixture
def sign_in(client):
    """Sign in somebody of a role, and give their client back."""

    def signed_in(role="staff", **more):
        person = PersonFactory(role=role, **more)
        client.force_login(person)
        client.person = person
        return client

    return signed_in
