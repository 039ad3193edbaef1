"""A catalogue entry as one joint or fixture uses it: its options set."""

from __future__ import annotations

import difflib
from collections.abc import Mapping

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.catalogue.formulas import with_items
from kdkit.diagnostics import Path, Problem, error

__all__ = ["fitting_in_use"]


def fitting_in_use(
    catalogue: Catalogue,
    key: str,
    options: Mapping[str, float | str],
    kind: str,
    path: Path,
    where: str,
) -> tuple[str, Fitting | None, tuple[Problem, ...]]:
    """Return the fitting with its options set, and the name it goes by from here on.

    The name is the catalogue's key; options that differ from the entry's own follow it
    in brackets, in order: ``back-in-groove[clearance=2]``.

    Args:
        kind: ``joint`` or ``fixture``, as which it is used.
        path: of the use; ``fitting`` and ``options`` stand below it.
    """
    fitting = catalogue.fittings.get(key)
    if fitting is None:
        known = sorted(n for n, f in catalogue.fittings.items() if f.kind == kind)
        near = difflib.get_close_matches(key[:80], known, n=1)
        help = f"did you mean {near[0]}?" if near else f"known: {', '.join(known[:40])}"
        problem = error(
            "fitting-unknown",
            f"the catalogue has no fitting {key[:80]!r}",
            (*path, "fitting"),
            where=where,
            help=help,
        )
        return key, None, (problem,)
    if fitting.kind != kind:
        other = "`fixtures`" if fitting.kind == "fixture" else "`joints`"
        problem = error(
            "fitting-kind",
            f"{key} is a {fitting.kind}, not a {kind}",
            (*path, "fitting"),
            where=where,
            help=f"write it under {other}",
        )
        return key, None, (problem,)
    problems = []
    changed: dict[str, float] = {}
    for name in sorted(options):
        value = options[name]
        here = (*path, "options", name)
        if name not in fitting.options:
            near = difflib.get_close_matches(name, fitting.options, n=1)
            listed = ", ".join(fitting.options) or "none"
            help = f"did you mean {near[0]}?" if near else f"{key} has these options: {listed}"
            problems.append(
                error(
                    "fitting-option", f"{key} has no option {name!r}", here, where=where, help=help
                )
            )
        elif isinstance(value, str):
            listed = ", ".join(f"{size:g}" for size in fitting.choices.get(name, ()))
            problems.append(
                error(
                    "fitting-option",
                    f"{name} must be a number, found {value[:60]!r}",
                    here,
                    where=where,
                    help=f"{name} comes in {listed}"
                    if listed
                    else f"formulas have no place here: write it out, such as"
                    f" {fitting.options[name]:g}",
                )
            )
        elif name in fitting.choices and value not in fitting.choices[name]:
            sizes = ", ".join(f"{size:g}" for size in fitting.choices[name])
            problems.append(
                error(
                    "fitting-option",
                    f"{key} does not come with {name} {value:g}",
                    here,
                    where=where,
                    help=f"{name} comes in {sizes}",
                )
            )
        elif value != fitting.options[name]:
            changed[name] = float(value)
    if problems:
        return key, None, tuple(problems)
    in_use = with_items(fitting.model_copy(update={"options": {**fitting.options, **changed}}))
    if not changed:
        return key, in_use, ()
    shown = ", ".join(f"{name}={value:g}" for name, value in changed.items())
    return f"{key}[{shown}]", in_use, ()
