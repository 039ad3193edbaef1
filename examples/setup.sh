# Sourced by examples/quickstart.sh and tests/run.sh: what they install, and how.
# Works as root or with sudo; does nothing, and needs no network, when all is there.

say() { printf '%s\n' "$*"; }

as_root() {
  if [ "$(id -u)" -eq 0 ]; then "$@"
  elif command -v sudo >/dev/null 2>&1; then sudo "$@"
  else say "This needs root or sudo: $*" >&2; return 1
  fi
}

# need_system PACKAGE... : install the Debian packages that are missing.
need_system() {
  local missing=() package
  if ! command -v apt-get >/dev/null 2>&1; then
    say "No apt here; please make sure of: $*" >&2
    return 0
  fi
  for package in "$@"; do
    dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null | grep -qx installed \
      || missing+=("$package")
  done
  if [ "${#missing[@]}" -eq 0 ]; then
    say "System packages: all there."
    return 0
  fi
  say "System packages: installing ${missing[*]}"
  local quiet=(env DEBIAN_FRONTEND=noninteractive apt-get -qq -o Dpkg::Use-Pty=0)
  as_root "${quiet[@]}" update >/dev/null || say "(the package lists could not be renewed)" >&2
  as_root "${quiet[@]}" install -y --no-install-recommends "${missing[@]}" >/dev/null
}

# need_venv : make .venv with Python 3.11 or newer, unless it is there.
need_venv() {
  local python candidate
  if [ -x .venv/bin/python ]; then return 0; fi
  for candidate in python3.11 python3 python3.12 python3.13 python3.14; do
    if command -v "$candidate" >/dev/null 2>&1 \
      && "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
      python=$candidate
      break
    fi
  done
  if [ -z "${python:-}" ]; then
    say "kdkit needs Python 3.11 or newer." >&2
    return 1
  fi
  say "Virtual environment: making .venv with $("$python" --version)"
  "$python" -c 'import ensurepip' 2>/dev/null || need_system python3-venv
  "$python" -m venv .venv
}

# need_python STAMP CHECK PIP-ARGUMENT... : install with pip unless the same was done
# before; go on without a network if CHECK (a line of Python) already runs.
need_python() {
  local stamp=.venv/$1 check=$2 wanted
  shift 2
  wanted=$(sha256sum pyproject.toml tests/requirements.lock | sha256sum)
  if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$wanted" ] \
    && .venv/bin/python -c "$check" 2>/dev/null; then
    say "Python packages: all there."
    return 0
  fi
  say "Python packages: installing into .venv"
  if .venv/bin/python -m pip install -q --disable-pip-version-check \
      -c tests/requirements.lock "$@"; then
    printf '%s\n' "$wanted" > "$stamp"
  elif .venv/bin/python -c "$check" 2>/dev/null; then
    say "(pip failed; going on with what .venv holds)" >&2
  else
    say "The Python packages could not be installed; what pip says is above." >&2
    return 1
  fi
}

# What the PDF engine needs: text layout and font subsetting. The fonts come with kdkit
# (styles/plain/fonts); what the system has of them makes no difference.
PDF_PACKAGES=(libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0)

# Runs where kdkit is installed with all that its commands import (kdkit.cli alone imports little).
RUNS='import importlib.metadata as m; m.version("kdkit"); import kdkit.cli.commands, kdkit.publish.pdf'
