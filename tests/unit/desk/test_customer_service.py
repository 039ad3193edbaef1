"""The example of customer service over one issued revision: no number is lost on its way."""

from __future__ import annotations

import importlib.util
import pathlib
import random

from kdkit.archive import Archive, all_revisions, log_sent, sent_for

SCRIPT = pathlib.Path(__file__).parents[3] / "examples" / "customer_service.py"


def test_every_number_is_conserved(archive: Archive, tmp_path: pathlib.Path) -> None:
    spec = importlib.util.spec_from_file_location("customer_service", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    (before,) = sent_for(archive)
    revisions = all_revisions(archive)
    noted = script.fill(archive, revisions, tmp_path / "own.yaml", draw=random.Random(4))
    noted[before.product, before.batch, before.item] += before.quantity
    assert sum(noted.values()) > 20
    assert script.differences(archive, noted) == []
    instead = {note.item: note.instead for note in sent_for(archive) if note.instead}
    assert instead.items() <= dict(script.SUPERSEDED).items()
    assert instead
    log_sent(archive, revisions[0], None, [before])  # and one that nobody counted is seen
    assert len(script.differences(archive, noted)) == 2
