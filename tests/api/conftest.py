"""A client for each kind of person."""

import pytest
from rest_framework.test import APIClient

from tests.factories import PersonFactory

ROLES = ["volunteer", "crew", "staff", "liaison", "keeper"]


@pytest.fixture
def client_as(db):
    """`client_as("staff")` is signed in; `client_as("nobody")` is not."""

    def make(role):
        client = APIClient()
        if role != "nobody":
            client.force_authenticate(PersonFactory(role=role))
        return client

    return make
