"""What every room's tests share: the people of an invented workroom and a day that does not move."""

from datetime import date

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.test import Client

PASSWORD = "long enough for tests"


@pytest.fixture
def today() -> date:
    """A Tuesday."""
    return date(2031, 3, 4)


@pytest.fixture
def maker(db: None) -> User:
    """Runs the workroom."""
    return get_user_model().objects.create_user("Mira", password=PASSWORD, is_staff=True)


@pytest.fixture
def helper(db: None) -> User:
    """Cuts and sews, may not see costs or change styles."""
    return get_user_model().objects.create_user("Hale", password=PASSWORD)


@pytest.fixture
def maker_client(maker: User) -> Client:
    """A browser without JavaScript in which the maker is signed in."""
    client = Client()
    client.force_login(maker)
    return client


@pytest.fixture
def helper_client(helper: User) -> Client:
    """A browser without JavaScript in which a helper is signed in."""
    client = Client()
    client.force_login(helper)
    return client
