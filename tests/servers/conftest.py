"""One HAPI for all tests that ask no other of it: a start takes longer than most of them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.servers.lane import hapi


@pytest.fixture(scope="session")
def base() -> Iterator[str]:
    with hapi(PAGE_SIZE="20", EXPORT="1") as (url, _):
        yield url
