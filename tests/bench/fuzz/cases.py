"""One case from a seed, a kind and a number: files, and the command that gets them."""

from __future__ import annotations

import copy
import random
from dataclasses import dataclass

from tests.bench.fuzz import by_schema, files, mutate, shop, spoil, values
from tests.bench.fuzz.corpus import Seed, World
from tests.bench.fuzz.trees import Pairs, emit, to_tree

__all__ = ["KINDS", "Case", "make_case"]

KINDS = ("check", "long", "files", "shop")
_SLOW = "wardrobe"
_FILE = "case.yaml"


@dataclass(frozen=True, kw_only=True)
class Case:
    """What one run gets.

    Args:
        name: kind and number, ``check:17``.
        argv: the command and its arguments; file names are those of ``files``.
        files: name in the case's folder → bytes.
        origin: which seed, and what was done to it.
        out: the folder that the command is to write, or "".
        before: what is there already: nothing, an earlier result, or somebody's letters.
    """

    name: str
    argv: tuple[str, ...]
    files: dict[str, bytes]
    origin: str
    out: str = ""
    before: str = ""

    @property
    def command(self) -> str:
        """Return the command's own name."""
        return self.argv[0]


def make_case(seed: int, kind: str, number: int, world: World) -> Case:
    """Return the case of a number; the same arguments and corpus give the same case."""
    rng = random.Random(f"kdkit {seed} {kind} {number}")
    make = {"check": _check, "long": _long, "files": _files, "shop": _shop}[kind]
    return make(f"{kind}:{number}", rng, world)


def _encode(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _pick(rng: random.Random, world: World, large: float) -> Seed:
    pick = rng.random()
    if pick < large:
        seed = rng.choice(world.large)
        if _SLOW not in seed.name or rng.random() < 0.03:
            return seed
    own = len(world.small) - len(world.samples)
    if pick < 0.55:
        return rng.choice(world.small[:own])
    return rng.choice(world.small[own:])


def _check(name: str, rng: random.Random, world: World) -> Case:
    pick = rng.random()
    argv = ["check", _FILE]
    if rng.random() < 0.1:
        argv += [rng.choice(("--json", "--strict", "--variant=narrow", "--set=width=250"))]
    if pick < 0.08:
        made, origin = _with_catalogue(rng, world)
    elif pick < 0.11:
        made, origin = _with_unit_file(rng, world)
    else:
        text, origin = _definition(rng, world, large=0.01)
        made = {_FILE: text}
    return Case(name=name, argv=tuple(argv), files=made, origin=origin)


def _definition(rng: random.Random, world: World, large: float) -> tuple[bytes, str]:
    pick = rng.random()
    seed = _pick(rng, world, large)
    if pick < 0.36:
        tree, done = copy.deepcopy(seed.tree), []
        for _ in range(rng.choice((1, 1, 1, 2, 3))):
            word, do = rng.choice(mutate.GENTLE)
            do(tree, rng, world)
            done.append(word)
        return _encode(emit(tree, rng)), f"{seed.name}: {', '.join(done)}"
    if pick < 0.70:
        tree = copy.deepcopy(seed.tree)
        done = mutate.change(tree, rng, world, rng.choice((1, 1, 1, 1, 2, 2, 3, 5, 8)))
        return _encode(emit(tree, rng)), f"{seed.name}: {', '.join(done)}"
    if pick < 0.86:
        text = seed.text
        for _ in range(rng.choice((1, 1, 1, 2, 3))):
            text = spoil.spoil_yaml(text, rng)
        return _encode(text), f"{seed.name}: spoilt as text"
    if pick < 0.90:
        other = _pick(rng, world, large)
        return _encode(spoil.crossed(seed.text, other.text, rng)), f"{seed.name} × {other.name}"
    if pick < 0.94:
        return spoil.spoil_bytes(_encode(seed.text), rng), f"{seed.name}: spoilt as bytes"
    if pick < 0.97:
        tree = copy.deepcopy(seed.tree)
        for _ in range(3):
            mutate.grafted(tree, rng, world)
        return _encode(emit(tree, rng)), f"{seed.name}: grafted"
    words = mutate.words_of(seed.tree, world)
    tree = by_schema.value_of(rng, {"$ref": "#/$defs/Product"}, words)
    return _encode(emit(tree, rng)), f"by the schema, with the names of {seed.name}"


def _with_catalogue(rng: random.Random, world: World) -> tuple[dict[str, bytes], str]:
    """A definition with a catalogue file of its own, in which something was changed."""
    fitting = rng.choice(world.fittings)
    entry = to_tree(world.entries["fittings"][fitting])
    own = Pairs([["fittings", Pairs([[fitting, entry]])]])
    items = [r["item"] for r in world.entries["fittings"][fitting].get("items", ())]
    if items and items[0] in world.entries["items"]:
        item = to_tree(world.entries["items"][items[0]])
        own.append(["items", Pairs([[items[0], item]])])
    if rng.random() < 0.3:
        material = rng.choice(world.materials)
        own.append(["boards", Pairs([[material, to_tree(world.entries["boards"][material])]])])
    if rng.random() < 0.2:
        tool = rng.choice(sorted(world.entries["tools"]))
        own.append(["tools", Pairs([[tool, to_tree(world.entries["tools"][tool])]])])
    if rng.random() < 0.2:
        own[0][1].append(["mine", Pairs([["like", rng.choice((fitting, "mine", "cam-and-bolt"))]])])
    changes = rng.choice((0, 1, 1, 1, 2, 4))
    done = []
    for _ in range(changes):
        word, do = rng.choice(_FOR_CATALOGUES)
        do(own, rng, world)
        done.append(word)
    text = emit(own, rng)
    if rng.random() < 0.1:
        text = spoil.spoil_yaml(text, rng)
    tree = copy.deepcopy(world.samples[fitting].tree)
    tree.append(["catalogues", ["own.yaml"]])
    made = {_FILE: _encode(emit(tree)), "own.yaml": _encode(text)}
    return made, f"catalogue with {fitting}: {', '.join(done)}"


_FOR_CATALOGUES = tuple(
    (name, do)
    for name, do in mutate.CHANGES
    if name
    in ("drop", "swap_keys", "repeat", "misspell", "other_value", "other_number", "other_list",
        "moved", "by_formula")
)  # fmt: skip


def _with_unit_file(rng: random.Random, world: World) -> tuple[dict[str, bytes], str]:
    """A definition that uses another file as a unit; one of the two is spoilt."""
    inner, origin = _definition(rng, world, large=0.0)
    file = rng.choice(("inner.yaml",) * 6 + ("./inner.yaml", "case.yaml", "none.yaml", "a/b.yaml",
                       "../x.yaml", "/etc/passwd"))  # fmt: skip
    unit = Pairs([["file", file], ["at", [0, 0, rng.choice((0, 18, "h"))]]])
    if rng.random() < 0.4:
        turn = [
            ["axis", rng.choice("xyz")],
            ["angle", rng.choice((90, 180, 33))],
            ["about", [0, 0, 0]],
        ]
        unit.append(["turns", [Pairs(turn)]])
    outer = to_tree({"kdkit": 1, "product": "Outer", "parameters": {"h": 5}})
    outer.append(["units", Pairs([["u", unit]])])
    if rng.random() < 0.3:
        outer.append(
            [
                "joints",
                [Pairs([["join", "u.shelf"], ["to", "u.side"], ["fittings", ["dowel-8x35"]]])],
            ]
        )
    return {_FILE: _encode(emit(outer)), "inner.yaml": inner}, f"unit file, {origin}"


def _long(name: str, rng: random.Random, world: World) -> Case:
    seed = _pick(rng, world, 0.01)
    while _SLOW in seed.name:
        seed = _pick(rng, world, 0.01)
    tree = copy.deepcopy(seed.tree)
    done = []
    for _ in range(rng.choice((0, 1, 1, 1, 2, 3))):
        word, do = rng.choice(mutate.GENTLE if rng.random() < 0.85 else mutate.CHANGES)
        do(tree, rng, world)
        done.append(word)
    made = {_FILE: _encode(emit(tree, rng))}
    command = rng.choices(("plan", "build", "workshop", "apart", "choose"), (34, 14, 16, 20, 16))[0]
    argv, out = [command, _FILE], ""
    parts = mutate.words_of(tree, world).parts
    if command == "plan":
        argv += rng.choice(
            ([], [], ["--json"], ["--why", rng.choice(parts), rng.choice(parts)], ["--out", "out"])
        )
    elif command == "build":
        argv += ["--out", "out", *rng.choice(([], ["--paper", "letter"]))]
    elif command == "workshop":
        argv += ["--out", "out"]
        argv += rng.choice(([], ["--files", "dxf,programs"], ["--files", "dxf,programs,xlsx"],
                            ["--files", "programs,order"], ["--paper", "a3"],
                            ["--files", "order", "--kerf", "0", "--trim", "100"],
                            ["--files", "gltf,drawings"], ["--pre-mill", "0.5"]))  # fmt: skip
    elif command == "apart":
        argv += rng.choice(
            (
                ["--to-carry"],
                ["--to-carry", "--largest", "250x200x150"],
                ["--part", rng.choice(parts)],
                ["--part", rng.choice(parts), "--json"],
            )
        )
        if rng.random() < 0.15:
            argv += ["--out", "out"]
    else:
        argv += [rng.choice(parts), rng.choice(parts)][: rng.choice((1, 2, 2, 2, 2, 2, 2))]
        argv += rng.choice(([], ["--json"], ["--csv"]))
    if "--out" in argv:
        out = "out"
    before = rng.choice(("", "", "", "result", "letters")) if out else ""
    return Case(
        name=name, argv=tuple(argv), files=made, out=out, before=before,
        origin=f"{seed.name}: {', '.join(done) or 'as it is'}",
    )  # fmt: skip


def _files(name: str, rng: random.Random, world: World) -> Case:
    pick = rng.random()
    if pick < 0.5:
        file, raw = files.a_panel_list(rng)
        argv = ["start", file, "out.yaml"]
        if rng.random() < 0.3:
            argv += rng.choice((["--unit", "cm"], ["--sheet", "Sheet"], ["--band", "1"],
                                ["--product", values.any_text(rng).replace("\0", "")]))  # fmt: skip
        return Case(name=name, argv=tuple(argv), files={file: raw}, origin="a panel list")
    if pick < 0.8:
        file, raw = files.a_drawing(rng)
        argv = ["outline", file]
        if rng.random() < 0.4:
            argv += rng.choice(
                (
                    ["--face", "-y"],
                    ["--at", "18,80"],
                    ["--turn", "90"],
                    ["--layer", "CUT"],
                    ["--unit", "in"],
                    ["--tolerance", "0.01"],
                )
            )
        return Case(name=name, argv=tuple(argv), files={file: raw}, origin="a drawing")
    text, proof = world.certificate
    origin = "a certificate"
    if rng.random() < 0.3:
        text, said = _definition(rng, world, large=0.0)
        origin += f" for {said}"
    made = {_FILE: text, "proof.json": files.a_certificate(proof, rng)}
    return Case(name=name, argv=("verify", _FILE, "proof.json"), files=made, origin=origin)


def _shop(name: str, rng: random.Random, world: World) -> Case:
    pick = rng.random()
    if pick < 0.2:
        empty, packed = shop.an_import(rng)
        made = {"w.sqlite": empty, "a.zip": packed}
        argv = ["archive", "import", "a.zip", "--archive", "w.sqlite"]
        return Case(name=name, argv=tuple(argv), files=made, origin="an exported revision")
    if pick < 0.45:
        made = {"w.sqlite": shop.an_archive(rng)}
        argv = list(
            rng.choice(
                (["reprint", "PG-31"], ["reprint", "Peg shelf", "--json"], ["history"],
                 ["reprint", "PG-31", "--out", "out"], ["history", "Peg shelf", "--json"],
                 ["archive", "verify"], ["replace", "PG-31", "--send", "part A", "--because",
                                         "missing", "--out", "out"],
                 ["replace", "PG-31", "--send", "cam-lock-15=2", "--because", "lost"])
            )
        )  # fmt: skip
        out = "out" if "out" in argv else ""
        argv += ["--archive", "w.sqlite"]
        return Case(name=name, argv=tuple(argv), files=made, origin="a forged archive", out=out)
    seed = _pick(rng, world, 0.0)
    tree, done = copy.deepcopy(seed.tree), []
    for _ in range(rng.choice((0, 0, 1, 1, 2))):
        word, do = rng.choice(mutate.GENTLE)
        do(tree, rng, world)
        done.append(word)
    made = {_FILE: _encode(emit(tree, rng))}
    before = "letters" if rng.random() < 0.08 else ""
    if pick < 0.7:
        argv = ["pack", _FILE, "--out", "out", *shop.pack_options(rng)]
    else:
        made |= {"run.yaml": shop.a_run(rng, world), "stock.csv": shop.a_stock(rng)}
        argv = ["run", "run.yaml", "--out", "out"]
    return Case(
        name=name, argv=tuple(argv), files=made, out="out", before=before,
        origin=f"{seed.name}: {', '.join(done) or 'as it is'}",
    )  # fmt: skip
