"""Changed inputs without end, through the real commands, and what must never come of them.

Run it with (``--out`` is made; run the same line again and it goes on where it stopped)::

    python -m tests.bench.fuzz --check 200000 --long 5000 --seed 1 --workers 2 --out /tmp/fuzz
    python -m tests.bench.fuzz --check 50000:80000 --long 0 --files 0 --seed 1 --out /tmp/some
    python -m tests.bench.fuzz --show check:1234 --seed 1          # write the case's files
    python -m tests.bench.fuzz --again check:1234 --seed 1         # run it, with its traceback

``--check`` counts cases of `check`; ``--long`` cases of `plan`, `build`, `workshop`, `apart`
and `choose`; ``--files`` cases of `start`, `outline` and `verify` (as many as ``--long``, if
left out); ``--shop`` cases of `pack`, `run` and what reads an archive. Each takes a number or
a range ``FROM:TO``. A case follows from the seed, its kind and its number alone (and from the
corpus, whose digest the summary names).

What counts as failing stands in ``judge.py``; the cases are made in ``cases.py``. Failures
are grouped by what happened and where in kdkit; a folder for each group holds the first
input, made smaller, with its command and traceback. It measures and is no part of the suite;
``tests/test_fuzz_sample.py`` runs a few hundred cases and the corpus of what failed once.
"""
