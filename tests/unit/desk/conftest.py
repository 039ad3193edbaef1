"""A desk over an archive that was really issued: the one that an earlier kdkit wrote."""

from __future__ import annotations

import pathlib
import re
import shutil
from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from kdkit.archive import Archive, open_archive
from kdkit.desk.app import make_app
from kdkit.desk.shared import Desk

ISSUED = pathlib.Path(__file__).parents[2] / "golden" / "archive" / "first.sqlite"


@pytest.fixture
def archive(tmp_path: pathlib.Path) -> Iterator[Archive]:
    """Return an archive with ``Peg shelf`` A, its batch PG-31 of 12, and one note."""
    file = tmp_path / "w.sqlite"
    shutil.copy(ISSUED, file)
    file.chmod(0o644)
    found, _ = open_archive(str(file))
    assert found is not None
    yield found
    found.close()


@pytest.fixture
def desk(archive: Archive, tmp_path: pathlib.Path) -> Iterator[Desk]:
    made = Desk(archive=archive, folder=tmp_path)
    yield made
    made.sheets.close()


class Caller:
    """A browser at the desk: keeps cookies, and fills the forms of the last page."""

    def __init__(self, desk: Desk) -> None:
        self.client: FlaskClient = make_app(desk).test_client()
        self.last: TestResponse | None = None

    def get(self, address: str, **more: object) -> TestResponse:
        self.last = self.client.get(address, **more)  # type: ignore[arg-type]
        return self.last

    def hidden(self, name: str) -> str:
        assert self.last is not None
        found = re.search(rf'name="{name}" value="([^"]*)"', self.last.text)
        assert found, self.last.text
        return found[1]

    def send(self, address: str, **said: str) -> TestResponse:
        """Send the form of the last page, with its hidden fields."""
        assert self.last is not None
        known = {"token": self.hidden("token")}
        known |= {n: self.hidden(n) for n in ("once", "with") if f'name="{n}"' in self.last.text}
        return self.client.post(address, data={**known, **said})


@pytest.fixture
def caller(desk: Desk) -> Caller:
    return Caller(desk)
