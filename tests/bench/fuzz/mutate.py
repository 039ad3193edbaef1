"""Changes of a definition's tree, one function each: ``(tree, rng, world) -> None``, in place."""

from __future__ import annotations

import copy
import random
import string
from collections.abc import Callable
from typing import Any

from tests.bench.fuzz import by_schema, values
from tests.bench.fuzz.by_schema import Words
from tests.bench.fuzz.corpus import World
from tests.bench.fuzz.trees import Pairs, Raw, keys_of, places

__all__ = ["CHANGES", "change", "words_of"]

Tree = Any
Change = Callable[[Tree, random.Random, World], None]

_GEOMETRY = ("x", "y", "z")
_MOST_PLACES = 4000


def words_of(tree: Tree, world: World) -> Words:
    """Return the names that a definition's values may use."""
    panels = keys_of(tree.get("panels")) if isinstance(tree, Pairs) else []
    bought = keys_of(tree.get("bought")) if isinstance(tree, Pairs) else []
    parts = panels + bought
    for name in keys_of(tree.get("units")) if isinstance(tree, Pairs) else []:
        parts.append(name)
        for defined in tree.get("unit_definitions") or ():
            if isinstance(tree.get("unit_definitions"), Pairs) and isinstance(defined[1], Pairs):
                parts += [f"{name}.{inner}" for inner in keys_of(defined[1].get("panels"))]
    parameters = keys_of(tree.get("parameters")) if isinstance(tree, Pairs) else []
    lengths = parameters + [f"{p}.{a}{e}" for p in parts for a in "xyz" for e in "01"]
    return Words(
        parts=parts or ["nobody"],
        lengths=lengths or ["nothing"],
        boards=keys_of(tree.get("boards")) if isinstance(tree, Pairs) else [],
        fittings=world.fittings,
        materials=world.materials,
        items=world.items,
    )


def change(tree: Tree, rng: random.Random, world: World, times: int) -> list[str]:
    """Change a tree some times; return what was done."""
    done = []
    for _ in range(times):
        name, do = rng.choice(CHANGES)
        do(tree, rng, world)
        done.append(name)
    return done


def _places(tree: Tree) -> list[tuple[list[Any], int, tuple[Any, ...]]]:
    found = []
    for place in places(tree):
        found.append(place)
        if len(found) >= _MOST_PLACES:
            break
    return found


def _of(tree: Tree, rng: random.Random, wanted: Callable[[Any], bool]) -> Any:
    """Return one value that is wanted, with its place, or None."""
    found = [place for place in _places(tree) if wanted(place[0][place[1]])]
    return rng.choice(found) if found else None


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def drop(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: isinstance(v, Pairs | list) and bool(v))
    if place:
        inner = place[0][place[1]]
        del inner[rng.randrange(len(inner))]
    elif isinstance(tree, Pairs) and tree:
        del tree[rng.randrange(len(tree))]


def swap_keys(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: isinstance(v, Pairs) and len(v) > 1)
    if place:
        one, other = rng.sample(range(len(place[0][place[1]])), 2)
        pairs = place[0][place[1]]
        which = rng.randrange(2)
        pairs[one][which], pairs[other][which] = pairs[other][which], pairs[one][which]


def repeat(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: isinstance(v, Pairs | list) and bool(v))
    if place:
        inner = place[0][place[1]]
        again = copy.deepcopy(rng.choice(inner))
        if isinstance(inner, Pairs) and rng.random() < 0.7:
            again[0] = f"{again[0]}{rng.choice(('2', '_', 'x', ' ', '.a', '-b'))}"
        inner.insert(rng.randint(0, len(inner)), again)


def misspell(tree: Tree, rng: random.Random, world: World) -> None:
    pairs = [p for holder, index, _ in _places(tree) if isinstance(p := holder, list) and index == 1
             and len(holder) == 2 and isinstance(holder[0], str)]  # fmt: skip
    if pairs:
        pair = rng.choice(pairs)
        pair[0] = _typo(pair[0], rng)


def _typo(text: str, rng: random.Random) -> str:
    at = rng.randrange(len(text) + 1)
    letter = rng.choice(string.ascii_lowercase + "_-. 0é")
    return rng.choice(
        (text[:at] + text[at + 1 :], text[:at] + letter + text[at:], text.upper(), text + "s",
         text[:at] + letter + text[at + 1 :], values.any_text(rng)[:60], text.title())
    )  # fmt: skip


def typo_in_value(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: isinstance(v, str) and not isinstance(v, Raw))
    if place:
        place[0][place[1]] = _typo(place[0][place[1]], rng)


def scaled_extent(tree: Tree, rng: random.Random, world: World) -> None:
    """Make the whole wider, deeper or higher: every number of an axis, by one factor."""
    axis, factor = rng.choice(_GEOMETRY), rng.choice((0.2, 0.5, 0.7, 1.1, 1.5, 2, 3, 6, 10))
    for holder, index, path in _places(tree):
        if axis in path[-2:] and _is_number(holder[index]):
            holder[index] = round(holder[index] * factor, 1)


def other_thickness(tree: Tree, rng: random.Random, world: World) -> None:
    found = [p for p in _places(tree) if p[2] and p[2][-1] == "thickness"]
    if found:
        holder, index, _ = rng.choice(found)
        holder[index] = rng.choice(
            (3, 4, 6, 8, 10, 12, 15, 16, 18, 19, 21, 22, 25, 27, 30, 38, 45, 60)
        )


def other_value(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: True)
    if place:
        place[0][place[1]] = values.other_kind(rng)


def other_number(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, _is_number)
    if place:
        now = place[0][place[1]]
        odd = rng.random() < 0.25
        place[0][place[1]] = values.number(rng) if odd else values.near(rng, now)


def by_formula(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: _is_number(v) or (isinstance(v, str) and " " in v))
    if place:
        words = words_of(tree, world)
        now = place[0][place[1]]
        made = values.formula(rng, words.lengths)
        if rng.random() < 0.5 and not isinstance(now, Raw):
            made = f"{now} {rng.choice('+-')} ({made}) * {rng.choice((0, 0.01, 1e-9, 1))}"
        place[0][place[1]] = made


def other_name(tree: Tree, rng: random.Random, world: World) -> None:
    words = words_of(tree, world)
    known = set(words.parts) | set(words.boards)
    place = _of(tree, rng, lambda v: isinstance(v, str) and v in known)
    if place:
        pool = words.boards if place[0][place[1]] in words.boards else words.parts
        place[0][place[1]] = rng.choice(pool)


def other_list(tree: Tree, rng: random.Random, world: World) -> None:
    place = _of(tree, rng, lambda v: isinstance(v, list) and not isinstance(v, Pairs))
    if not place:
        return
    now = place[0][place[1]]
    kind = rng.randrange(7)
    if kind == 0:
        rng.shuffle(now)
    elif kind == 1:
        now.reverse()
    elif kind == 2:
        now.extend(copy.deepcopy(now[: rng.choice((1, 2, 9))]))
    elif kind == 3:
        place[0][place[1]] = [now]
    elif kind == 4:
        place[0][place[1]] = []
    elif kind == 5:
        place[0][place[1]] = now * rng.choice((2, 3, 40))
    elif now:
        place[0][place[1]] = now[0]


def other_fitting(tree: Tree, rng: random.Random, world: World) -> None:
    fittings, materials = set(world.fittings), set(world.materials)
    place = _of(tree, rng, lambda v: isinstance(v, str) and (v in fittings or v in materials))
    if place:
        pool = world.fittings if place[0][place[1]] in fittings else world.materials
        place[0][place[1]] = rng.choice(pool)


def other_extent(tree: Tree, rng: random.Random, world: World) -> None:
    found = [p for p in _places(tree) if p[2] and p[2][-1] in _GEOMETRY]
    if not found:
        return
    holder, index, path = rng.choice(found)
    value = holder[index]
    kind = rng.randrange(4)
    if kind == 0 and isinstance(value, list) and not isinstance(value, Pairs):
        value.reverse()
    elif kind == 1:
        same = [p for p in found if p[2][:-1] == path[:-1]]
        other = rng.choice(same)
        holder[index], other[0][other[1]] = other[0][other[1]], value
    elif kind == 2:
        other = rng.choice(found)
        holder[index] = copy.deepcopy(other[0][other[1]])
    elif isinstance(value, Pairs) and value:
        value[0][0] = "to" if value[0][0] == "from" else "from"


def other_text(tree: Tree, rng: random.Random, world: World) -> None:
    named = {
        "title",
        "product",
        "revision",
        "batch",
        "date",
        "name",
        "address",
        "contact",
        "use",
        "introduction",
        "care",
        "disposal",
        "spares",
        "purpose",
        "language",
        "variant",
    }
    found = [p for p in _places(tree) if p[2] and p[2][-1] in named]
    if found and rng.random() < 0.6:
        holder, index, _ = rng.choice(found)
        holder[index] = values.any_text(rng)
    elif isinstance(tree, Pairs):
        panels = tree.get("panels")
        if isinstance(panels, Pairs) and panels and isinstance(panels[0][1], Pairs):
            rng.choice(panels)[1].put("title", values.any_text(rng)) if all(
                isinstance(p[1], Pairs) for p in panels
            ) else None


def other_joint(tree: Tree, rng: random.Random, world: World) -> None:
    joints = tree.get("joints") if isinstance(tree, Pairs) else None
    if not isinstance(joints, list) or not joints:
        return
    joint = copy.deepcopy(rng.choice(joints))
    if not isinstance(joint, Pairs):
        return
    kind = rng.randrange(4)
    if kind == 0:
        joints.append(joint)
    elif kind == 1:
        for pair in joint:
            pair[0] = {"join": "to", "to": "join"}.get(pair[0], pair[0])
        joints.append(joint)
    elif kind == 2:
        chosen = rng.choice(joints)
        for pair in chosen if isinstance(chosen, Pairs) else ():
            pair[0] = {"join": "to", "to": "join"}.get(pair[0], pair[0])
    else:
        words = words_of(tree, world)
        joint.put("join", rng.choice(words.parts))
        joint.put("to", rng.choice(words.parts))
        joint.put("fittings", [rng.choice(world.fittings)])
        joints.append(joint)


def an_order(tree: Tree, rng: random.Random, world: World) -> None:
    if not isinstance(tree, Pairs):
        return
    parts = words_of(tree, world).parts[:40]
    row: list[Any] = rng.sample(parts, rng.randint(1, len(parts)))
    for _ in range(rng.randint(0, 3)):
        kind = rng.randrange(4)
        if kind == 0 and len(row) > 2:
            at = rng.randrange(len(row) - 1)
            row[at : at + 2] = [row[at : at + 2]]
        elif kind == 1:
            row.append(Pairs([["before", rng.choice(parts)], ["after", rng.choice(parts)]]))
        elif kind == 2:
            row.append(rng.choice(parts))
        else:
            row.append([rng.choice(parts), [rng.choice(parts)]])
    tree.put("order", row)


def as_unit(tree: Tree, rng: random.Random, world: World) -> None:
    """Make the whole a unit of another product, turned and moved."""
    if not isinstance(tree, Pairs) or len(_places(tree)) > 400:
        return
    inner = copy.deepcopy(tree)
    inner.put("product", "Inner")
    angle = rng.choice((0, 90, 180, 270, -90, 45, 30, 360, 0.001, 89.9999, 720, "slope"))
    unit = Pairs([["define", "inner"], ["at", [rng.choice((0, 100, -50, 0.1)) for _ in range(3)]]])
    if rng.random() < 0.7:
        about = [rng.choice((0, 100)) for _ in range(3)]
        turn = [["axis", rng.choice("xyz")], ["angle", angle], ["about", about]]
        unit.append(["turns", [Pairs(turn) for _ in range(rng.choice((1, 1, 2, 11)))]])
    if rng.random() < 0.3:
        unit.append(["workshop", True])
    units = Pairs([["u", unit]])
    if rng.random() < 0.4:
        second = copy.deepcopy(unit)
        second.put("at", [rng.choice((300, 500, 0, 1e6)), 0, 0])
        units.append(["v", second])
    keep = [p for p in tree if p[0] in ("kdkit", "product", "safety")]
    tree[:] = [*keep, ["unit_definitions", Pairs([["inner", inner]])], ["units", units]]


def another_word(tree: Tree, rng: random.Random, world: World) -> None:
    """Add a key that the language has and this mapping has not."""
    found = [(tree, ())] if isinstance(tree, Pairs) else []
    found += [(p[0][p[1]], p[2]) for p in _places(tree) if isinstance(p[0][p[1]], Pairs)]
    if found:
        mapping, path = rng.choice(found)
        words = words_of(tree, world)
        more = by_schema.missing_key(rng, path, keys_of(mapping), words)
        if more is not None:
            mapping.append(list(more))


def value_by_schema(tree: Tree, rng: random.Random, world: World) -> None:
    found = _places(tree)
    if found:
        holder, index, path = rng.choice(found)
        kinds = by_schema.kind_at(path)
        if kinds:
            key = str(path[-1])
            words = words_of(tree, world)
            holder[index] = by_schema.value_of(rng, rng.choice(kinds), words, key)


def grafted(tree: Tree, rng: random.Random, world: World) -> None:
    """Take a section, or entries of it, from another definition."""
    other = copy.deepcopy(rng.choice(world.small).tree)
    if not isinstance(tree, Pairs) or not isinstance(other, Pairs) or not other:
        return
    key, value = rng.choice(other)
    mine = tree.get(key)
    if isinstance(mine, list) and isinstance(value, list) and type(mine) is type(value):
        mine.extend(value[: rng.randint(1, 4)])
        if isinstance(mine, Pairs):
            known = dict.fromkeys(p[0] for p in mine)
            mine[:] = [next(p for p in mine if p[0] == k) for k in known]
    else:
        tree.put(key, value)


def moved(tree: Tree, rng: random.Random, world: World) -> None:
    """Put a value where another one stands."""
    found = _places(tree)
    if len(found) > 1:
        one, other = rng.sample(found, 2)
        one[0][one[1]] = copy.deepcopy(other[0][other[1]])


def set_up(tree: Tree, rng: random.Random, world: World) -> None:
    """Name one of a fitting's options, openings, numbers or offsets."""
    place = _of(tree, rng, lambda v: isinstance(v, str) and v in world.options)
    if place is None:
        return
    fitting = place[0][place[1]]
    key = place[2][-1]
    inside = key == "fitting"
    use = Pairs([["fitting", fitting]])
    for word in ("opens", "count", "ends", "pitch", "grid", "across", "at", "options"):
        if rng.random() < 0.25:
            kinds = by_schema.kind_at(("joints", 0, "fittings", 0, word))
            if word == "options":
                names = world.options[fitting] or ["way"]
                use.append([word, Pairs([[n, values.number(rng)] for n in names[:2]])])
            elif kinds:
                value = by_schema.value_of(rng, rng.choice(kinds), words_of(tree, world), word)
                use.append([word, value])
    if not inside:
        place[0][place[1]] = use
        return
    for holder, index, path in _places(tree):
        if path == place[2][:-1]:
            holder[index] = use
            return


CHANGES: tuple[tuple[str, Change], ...] = tuple(
    (do.__name__, do)
    for do in (
        drop, swap_keys, repeat, misspell, typo_in_value, scaled_extent, other_thickness,
        other_value, other_number, other_number, other_number,
        by_formula, other_name, other_list, other_fitting, other_fitting, other_extent, other_text,
        other_joint, an_order, as_unit, another_word, another_word, value_by_schema, grafted,
        moved, set_up,
    )
)  # fmt: skip
GENTLE: tuple[tuple[str, Change], ...] = tuple(
    (do.__name__, do)
    for do in (
        other_number, other_number, other_fitting, other_text, other_text, other_joint, an_order,
        as_unit, another_word, another_word, another_word, set_up, set_up, other_name, by_formula,
        scaled_extent, other_thickness, value_by_schema, other_fitting,
    )
)  # fmt: skip
"""Changes after which a product often still has a plan."""
