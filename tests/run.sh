#!/usr/bin/env bash
# Everything that proves kdkit: sets up what the tests need (system packages, .venv),
# then ruff, mypy and pytest. Further arguments go to pytest.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. examples/setup.sh

# libatomic1: the browser driver's own runtime is linked to it. postgresql: archives that
# several desks share are tried in a database of their own, which ends with the tests.
need_system "${PDF_PACKAGES[@]}" chromium libatomic1 poppler-utils postgresql
need_venv
# The pip that comes with Python 3.11 does not know dependency groups yet.
.venv/bin/python -c 'import pip; major, minor = map(int, pip.__version__.split(".")[:2])
raise SystemExit((major, minor) < (25, 1))' \
  || .venv/bin/python -m pip install -q --disable-pip-version-check --upgrade 'pip>=25.1'
need_python kdkit-tested "$RUNS, pytest, hypothesis, playwright, build123d, trimesh" \
  --group dev -e .

status=0
say "ruff";  .venv/bin/ruff check kdkit tests || status=1
say "mypy";  .venv/bin/mypy || status=1

workers=()
[ "$(nproc)" -ge 2 ] && [ "$#" -eq 0 ] && workers=(-n 2 --dist worksteal)
say "pytest"; .venv/bin/python -m pytest -q "${workers[@]}" "$@" || status=1
[ "$status" -eq 0 ] || say "Something above failed." >&2
exit "$status"
