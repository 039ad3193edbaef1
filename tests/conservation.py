"""One law of counts: what is bored for = what is fitted = what steps take = bags less spares."""

from __future__ import annotations

from collections import Counter

from kdkit.publish.results import Results

__all__ = ["conserved"]


def conserved(results: Results) -> list[str]:
    """Return what breaks the law, item by item; nothing if it holds."""
    wrong: list[str] = []
    joinery, catalogue, schedules = results.joinery, results.catalogue, results.schedules
    placed = Counter(item.item for f in joinery.fasteners for item in f.items)
    before = {name for joint in joinery.joints if joint.workshop for name in joint.fasteners}
    fitted: Counter[str] = Counter()
    for fastener in joinery.fasteners:
        fitting = joinery.fittings[fastener.fitting]
        for item in fastener.items:
            stages = {a.stage for a in fitting.actions if a.item == item.item}
            fitted[item.item] += fastener.id in before or stages == {"workshop"}
    steps = Counter[str]()
    for step in results.plan.steps:
        steps.update(step.items)
    bags = Counter[str]()
    per_step: dict[int, Counter[str]] = {}
    for bag in schedules.bags:
        for line in bag.items:
            bags[line.item] += line.count - line.spares
            for step, n in line.per_step.items():
                per_step.setdefault(step, Counter())[line.item] += n
            if bag.opened != min(s for i in bag.items for s in i.per_step):
                wrong.append(f"bag {bag.name} is not opened where it is first needed")
            if bag.apart and line.spares:
                wrong.append(f"bag {bag.name} is exact and has spares")
    for item in placed:
        if placed[item] != steps[item] + fitted[item]:
            wrong.append(f"{item}: {placed[item]} placed, {steps[item]} + {fitted[item]} fitted")
        expected = steps[item] if catalogue.items[item].supplied else 0
        if bags[item] != expected:
            wrong.append(f"{item}: {bags[item]} in bags, {expected} in steps")
    for step in results.plan.steps:
        supplied = {i: n for i, n in step.items.items() if n and catalogue.items[i].supplied}
        if dict(+per_step.get(step.number, Counter())) != supplied:
            wrong.append(f"step {step.number}: its bags give other pieces than it takes")
    # Each bore and slot of the workshop that is no row's belongs to a fastener that is placed.
    known = {fastener.id for fastener in joinery.fasteners}
    for cut in (*joinery.bores, *joinery.slots):
        if cut.fastener and cut.fastener not in known:
            wrong.append(f"a cut in {cut.part} is for {cut.fastener}, which is not there")
    bored = {cut.fastener for cut in (*joinery.bores, *joinery.slots) if cut.fastener}
    for fastener in joinery.fasteners:
        fitting = joinery.fittings[fastener.fitting]
        if (fitting.bores or fitting.slots) and fastener.id not in bored:
            wrong.append(f"nothing is bored for {fastener.id}")
    return wrong
