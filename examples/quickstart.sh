#!/usr/bin/env bash
# From a fresh machine (Debian or Ubuntu with Python 3.11 or newer) to a printed manual:
# installs what kdkit needs and builds the bookcase. May be run again and again.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. examples/setup.sh

need_system "${PDF_PACKAGES[@]}"
need_venv
need_python kdkit-installed "$RUNS" -e .

say "Building examples/bookcase.yaml"
.venv/bin/kdkit build examples/bookcase.yaml --out examples/out/bookcase >/dev/null

say ""
say "Done. In examples/out/bookcase:"
say "  manual.pdf, manual.html   the assembly instructions, to print and for a screen"
say "  cutlist.csv               every panel: finished and cut sizes, banding"
say "  drilling.csv              every bore of every panel, from its datum corner"
say "  hardware.csv              every fitting, in all and per step"
say "  plan.json                 the order of assembly with the reason for each step"
say "  figures/                  the drawings as SVG"
say ""
say "Next: .venv/bin/kdkit new open-case my-shelf.yaml"
