"""Hardware in bags: by stage, by kind, as said; lookalikes, safety, spares, weighing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.catalogue.alike import are_lookalikes
from kdkit.catalogue.bagging import HardwareKind, Scale
from kdkit.catalogue.entries import Item
from kdkit.joinery import Joinery
from kdkit.model.says import Product
from kdkit.plan.plan import Plan
from kdkit.schedule import advise_on_bags
from kdkit.schedule.bagging import fill_bags, with_bags
from kdkit.schedule.bags import Bag
from kdkit.schedule.hardware import list_hardware
from kdkit.schedule.stages import stages_of
from tests import handmade

SOURCE = ("common practice, no source",)


def shipped() -> Catalogue:
    catalogue, _ = load_catalogue()
    assert catalogue is not None
    return catalogue


def with_kinds(kinds: Mapping[str, str], **items: Item) -> Catalogue:
    """Return the hand-made catalogue with shipped kinds and scales."""
    made, data = handmade.catalogue(), shipped()
    known = {
        key: items.get(key.replace("-", "_"), item).model_copy(
            update={"kind": kinds.get(key, "other")}
        )
        for key, item in made.items.items()
    }
    update = {"items": known, "hardware_kinds": data.hardware_kinds, "scales": data.scales}
    return made.model_copy(update=update)


KINDS = {
    "cam-15": "cam",
    "cam-bolt-24": "bolt",
    "dowel-8x35": "dowel",
    "nail-25": "nail",
    "restraint-strap": "wall-fixing",
}


def filled(
    catalogue: Catalogue,
    said: Mapping[str, tuple[str, ...]] | None = None,
    by: str = "stage",
    plan: Plan | None = None,
    joinery: Joinery | None = None,
) -> tuple[Bag, ...]:
    joinery, plan = joinery or handmade.joinery(), plan or handmade.plan()
    lines = list_hardware(joinery, catalogue, plan)
    return fill_bags(lines, joinery, catalogue, plan, said or {}, by)


def held(bags: tuple[Bag, ...]) -> dict[str, dict[str, tuple[int, int]]]:
    return {b.name: {i.item: (i.needed, i.spares) for i in b.items} for b in bags}


def test_by_stage_with_the_restraint_apart_and_exact() -> None:
    bags = filled(with_kinds(KINDS))
    assert held(bags) == {
        "A": {"cam-bolt-24": (4, 1), "dowel-8x35": (4, 1), "cam-15": (4, 1)},
        "B": {"nail-25": (4, 2)},
        "C": {"restraint-strap": (1, 0)},
    }
    assert [bag.apart for bag in bags] == [False, False, True]
    assert all(bag.weighs for bag in bags)


def test_nails_beside_cams_would_not_show_so_they_have_a_bag_of_their_own() -> None:
    coarse = with_kinds(KINDS)
    exact = {
        key: kind.model_copy(update={"spread": 0.0005})
        for key, kind in coarse.hardware_kinds.items()
    }
    together = filled(coarse.model_copy(update={"hardware_kinds": exact}))
    assert list(held(together)["A"]) == ["cam-bolt-24", "dowel-8x35", "cam-15", "nail-25"]
    assert "nail-25" not in held(filled(coarse))["A"]


def test_by_kind() -> None:
    bags = filled(with_kinds(KINDS), by="kind")
    assert [set(items) for items in held(bags).values()] == [
        {"cam-bolt-24"},
        {"dowel-8x35"},
        {"cam-15"},
        {"nail-25"},
        {"restraint-strap"},
    ]


def test_as_said_and_numbered_where_one_bag_would_not_do() -> None:
    said = {"back": ("nails",), "box": ("cam-15", "dowel-8x35", "restraint-strap")}
    bags = held(filled(with_kinds(KINDS), said))
    assert bags["back"] == {"nail-25": (4, 2)}
    assert bags["box 1"] == {"dowel-8x35": (4, 1), "cam-15": (4, 1)}
    assert bags["box 2"] == {"restraint-strap": (1, 0)}
    assert bags["A"] == {"cam-bolt-24": (4, 1)}


def test_letters_leave_out_what_the_maker_used() -> None:
    bags = filled(with_kinds(KINDS), {"A": ("nails",)})
    assert sorted(bag.name for bag in bags) == ["A", "B", "C"]
    assert held(bags)["A"] == {"nail-25": (4, 2)}


def test_lookalikes_share_no_bag_also_if_the_maker_says_so() -> None:
    dowel = handmade.catalogue().items["dowel-8x35"]
    shorter = dowel.model_copy(
        update={"pieces": tuple(p.model_copy(update={"z0": -10}) for p in dowel.pieces)}
    )
    catalogue = with_kinds(KINDS, cam_15=shorter)
    assert are_lookalikes(catalogue.items["cam-15"], catalogue.items["dowel-8x35"])
    for bags in (filled(catalogue), filled(catalogue, {"both": ("cam-15", "dowel-8x35")})):
        for bag in bags:
            assert not {"cam-15", "dowel-8x35"} <= {line.item for line in bag.items}


def test_a_bag_is_opened_where_the_first_of_it_is_needed() -> None:
    for by in ("stage", "kind"):
        for bag in filled(with_kinds(KINDS), by=by):
            assert bag.opened == min(step for line in bag.items for step in line.per_step)


def test_an_item_that_is_too_many_for_one_bag_is_shared_out() -> None:
    catalogue = with_kinds(KINDS)
    rough = HardwareKind(title="dowels", spread=0.15, spares=((500, 1),), sources=SOURCE)
    kinds = {**catalogue.hardware_kinds, "dowel": rough}
    bags = filled(catalogue.model_copy(update={"hardware_kinds": kinds}))
    counts = [i for bag in bags for i in bag.items if i.item == "dowel-8x35"]
    # By hand: 0.5 / (1.645 · 0.15) = 2.03, its square is 4.1. Of 3 pieces, with one too many,
    # 4 + 9 / 50 = 4.2 is more, of 2 pieces 3 + 4 / 50 is not: two at most.
    assert [(i.needed, i.spares) for i in counts] == [(1, 1), (1, 0), (2, 0)]
    assert [dict(i.per_step) for i in counts] == [{1: 1}, {1: 1}, {1: 2}]
    assert all(bag.weighs for bag in bags)


def test_what_no_scale_shows_is_counted_by_hand() -> None:
    catalogue = with_kinds(KINDS)
    blunt = Scale(title="blunt", capacity=5000, error=2, found=0.95, weighed=50, sources=SOURCE)
    bags = filled(catalogue.model_copy(update={"scales": {"blunt": blunt}}))
    nails = next(bag for bag in bags if "nail-25" in {i.item for i in bag.items})
    assert not nails.weighs
    assert nails.items[0].found_missing < 0.95


def test_the_finest_scale_that_carries_a_bag_weighs_it() -> None:
    catalogue = with_kinds(KINDS)
    heavy = catalogue.items["cam-15"].model_copy(update={"mass": 500.0})
    items = {**catalogue.items, "cam-15": heavy}
    bags = filled(catalogue.model_copy(update={"items": items}))
    scales = {line.item: bag.scale for bag in bags for line in bag.items}
    assert (scales["cam-15"], scales["nail-25"]) == ("bench-scale", "fine-scale")


def test_without_a_plan_there_are_bags_that_no_step_opens() -> None:
    catalogue, joinery = with_kinds(KINDS), handmade.joinery()
    bags = fill_bags(list_hardware(joinery, catalogue, None), joinery, catalogue, None, {})
    assert {bag.opened for bag in bags} == {None}
    assert sum(i.needed for b in bags for i in b.items) == 17


def test_what_the_buyer_chooses_is_in_no_bag() -> None:
    catalogue, joinery = with_kinds(KINDS), handmade.joinery()
    dowel = catalogue.items["dowel-8x35"].model_copy(update={"supplied": False})
    catalogue = catalogue.model_copy(update={"items": {**catalogue.items, "dowel-8x35": dowel}})
    lines = list_hardware(joinery, catalogue, None)
    bags = fill_bags(lines, joinery, catalogue, None, {"pins": ("dowel-8x35",)})
    found = {line.item: line.bags for line in with_bags(lines, bags)}
    assert found["dowel-8x35"] == ()
    assert found["cam-15"] == ("A",)


def test_spares_by_kind_and_count() -> None:
    kind = shipped().hardware_kinds["dowel"]
    assert [kind.spares_for(n) for n in (1, 20, 21, 60, 61, 500, 501)] == [1, 1, 2, 2, 3, 3, 3]
    assert shipped().hardware_kinds["wall-fixing"].spares_for(4) == 0
    assert shipped().hardware_kinds["hinge"].spares_for(4) == 0


def test_stages_are_runs_of_one_body_and_what_closes() -> None:
    plan = handmade.plan()
    assert set(stages_of(plan).values()) == {1, 2}
    box = tuple(replace(s, subassembly="box" if s.number == 1 else "") for s in plan.steps)
    staged = stages_of(replace(plan, steps=box))
    assert staged[1] == 1
    assert max(staged.values()) == 3


def test_the_screws_of_a_restraint_go_with_it() -> None:
    catalogue = with_kinds(KINDS)
    joinery = handmade.joinery()
    *others, restraint = joinery.fasteners
    (strap,) = restraint.items
    more = replace(restraint, items=(strap, replace(strap, item="nail-25", index=1)))
    joinery = replace(joinery, fasteners=(*others, more))
    plan = handmade.plan()
    last = plan.steps[-1]
    fixing = next(plan.operation(o) for o in last.operations if plan.operation(o).items)
    fixed = replace(fixing, items={**fixing.items, "nail-25": 1}, fasteners=(more.id,))
    plan = replace(
        plan,
        steps=(*plan.steps[:-1], replace(last, items={**last.items, "nail-25": 1})),
        operations=tuple(fixed if o.id == fixing.id else o for o in plan.operations),
    )
    bags = filled(catalogue, plan=plan, joinery=joinery)
    apart = {i.item: (i.needed, i.spares) for bag in bags if bag.apart for i in bag.items}
    assert apart == {"restraint-strap": (1, 0), "nail-25": (1, 0)}
    assert sum(i.needed for bag in bags for i in bag.items if i.item == "nail-25") == 5


def test_the_maker_is_told_of_bags_that_were_split_or_not_weighed() -> None:
    said = {"box": ("cam-15", "dowel-8x35", "restraint-strap")}
    product = Product(product="Box", bags=said)
    resolved = replace(handmade.results().resolved, said=product)
    (told,) = advise_on_bags(filled(with_kinds(KINDS), said), resolved)
    assert (told.code, told.path) == ("bag-split", ("bags", "box"))
    assert "box 2: restraint-strap" in told.help
    catalogue = with_kinds(KINDS)
    blunt = Scale(title="blunt", capacity=5000, error=2, found=0.95, weighed=50, sources=SOURCE)
    bags = filled(catalogue.model_copy(update={"scales": {"blunt": blunt}}))
    codes = {p.code for p in advise_on_bags(bags, handmade.results().resolved)}
    assert codes == {"bag-not-weighed"}
