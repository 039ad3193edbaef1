"""Sheets that show how a panel is taken out and put in, drawn from the frozen definition.

Each is drawn by a run of kdkit of its own, one at a time, and kept for as long as the desk
runs. It is drawn by today's kdkit and says so; a definition that this kdkit refuses has no
sheet, and the reason is told.
"""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys
import threading
from collections import OrderedDict
from dataclasses import dataclass, field

from kdkit.archive import Archive, Revision, files_of
from kdkit.archive.issued import DEFINITION
from kdkit.issuing import frozen_request

__all__ = ["Sheet", "Sheets"]

_KEPT, _WAITING = 40, 10
_LONGEST = 600  # seconds that one may take
_TOLD = 2000  # signs of what a run says


@dataclass
class Sheet:
    """One sheet: ``waiting``, ``drawing``, ``ready`` or ``refused``, and why."""

    state: str = "waiting"
    why: str = ""
    files: dict[str, bytes] = field(default_factory=dict)


class Sheets:
    """The sheets that were asked for since the desk was opened."""

    def __init__(self, archive: Archive, folder: pathlib.Path) -> None:
        self._archive, self._folder = archive, folder
        self._lock, self._work = threading.Lock(), threading.Lock()
        self._sheets: OrderedDict[tuple[int, str], Sheet] = OrderedDict()
        self._running: subprocess.Popen[bytes] | None = None
        self._closed = False

    def get(self, revision: Revision, part: str) -> Sheet | None:
        """Return the sheet for a part, None if nobody asked for it."""
        with self._lock:
            return self._sheets.get((revision.number, part))

    def ask(self, revision: Revision, part: str) -> bool:
        """Have a sheet drawn; False if too many wait already."""
        at = (revision.number, part)
        with self._lock:
            if at in self._sheets and self._sheets[at].state != "refused":
                return True
            waiting = sum(s.state in ("waiting", "drawing") for s in self._sheets.values())
            if waiting >= _WAITING or self._closed:
                return False
            sheet = self._sheets[at] = Sheet()
            while len(self._sheets) > _KEPT:
                oldest = next(k for k, s in self._sheets.items() if s.state in ("ready", "refused"))
                del self._sheets[oldest]
        threading.Thread(target=self._draw, args=(revision, part, sheet), daemon=True).start()
        return True

    def close(self) -> None:
        """End what is being drawn."""
        with self._lock:
            self._closed = True
            if self._running is not None:
                self._running.kill()

    def _draw(self, revision: Revision, part: str, sheet: Sheet) -> None:
        with self._work:
            sheet.state = "drawing"
            try:
                self._run(revision, part, sheet)
            except Exception as fault:  # the thread has nobody to tell but the page
                sheet.why = f"it could not be drawn: {type(fault).__name__}"
                sheet.state = "refused"

    def _run(self, revision: Revision, part: str, sheet: Sheet) -> None:
        place = self._folder / f"sheet-{os.urandom(6).hex()}"
        place.mkdir()
        issued = files_of(self._archive, revision, (DEFINITION,))
        request = frozen_request(revision, issued, place / "definition")
        assert request.file is not None
        command = [sys.executable, "-m", "kdkit", "apart", str(request.file), "--part", part,
                   "--out", str(place / "sheet"),
                   "--paper", str(revision.settings.get("paper", "a4"))]  # fmt: skip
        if request.variant:
            command += ["--variant", request.variant]
        for name, value in request.parameters.items():
            command += ["--set", f"{name}={value!r}"]
        with self._lock:
            if self._closed:
                return
            self._running = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE, cwd=place,
            )  # fmt: skip
        running = self._running
        try:
            _, said = running.communicate(timeout=_LONGEST)
        except subprocess.TimeoutExpired:
            running.kill()
            _, said = running.communicate()
            said = b"it took too long\n" + said
        finally:
            with self._lock:
                self._running = None
        if running.returncode != 0:
            told = said.decode("utf-8", "replace").replace(f"{request.file.parent}{os.sep}", "")
            sheet.why = told[:_TOLD].strip() or "kdkit ended without a word"
            sheet.state = "refused"
            return
        for name in ("manual.html", "manual.pdf"):
            sheet.files[name] = (place / "sheet" / name).read_bytes()
        sheet.state = "ready"
