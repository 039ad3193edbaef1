"""Parts, items and tools as a reader meets them: a name with its letter or number.

The buyer's words beside the maker's. A fitting has a title for who chooses it and ``called``
for who fits it; hints stand with the action they belong to.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from markupsafe import Markup

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.model.resolved import Resolved
from kdkit.publish.wording.messages import Messages, has_large_nouns
from kdkit.schedule.grouping import title_of
from kdkit.schedule.schedules import Schedules

__all__ = ["Names"]

_LETTER = Markup('<span class="letter">{}</span>')
_NUMBER = Markup('<span class="number">{}</span>')
_TIED = Markup('<span class="tied">{}\u00a0{}</span>')
"""A word and its letter on one line; by the space alone the line can break far before them."""
_LONG_WORD = 30
"""A longer word is tied to nothing: it may have to be broken itself."""
_MANY = 4


class Names:
    """The names of one product's things in one language."""

    def __init__(
        self,
        resolved: Resolved,
        catalogue: Catalogue,
        schedules: Schedules,
        messages: Messages,
        titles: Mapping[str, str],
    ) -> None:
        """Take what has names; ``titles`` are the maker's own for this language."""
        self._messages = messages
        self._catalogue = catalogue
        self._titles = {
            part.name: titles.get(part.name) or title_of(part) for part in resolved.parts
        }
        self._letters = {part.name: schedules.letter_of(part.name) for part in resolved.parts}
        self._units = [
            (unit.title or unit.name, frozenset(unit.parts))
            for unit in sorted(resolved.units, key=lambda u: (-len(u.parts), u.name))
            if len(unit.parts) > 1
        ]
        self._common: dict[str, frozenset[str]] = {}  # letters in every unit of a title
        for title, members in self._units:
            own = frozenset(self._letters[part] for part in members)
            self._common[title] = own & self._common.get(title, own)
        typed = (*self._titles.values(), *(title for title, _ in self._units))
        self._as_typed = any(has_large_nouns(title) for title in typed)
        self._numbers = {line.item: line.number for line in schedules.hardware}

    def place(self, item: str) -> int:
        """Return where an item stands in the hardware list."""
        return self._numbers[item]

    def number(self, item: str) -> Markup:
        """Return an item's number as it stands on the page."""
        return _NUMBER.format(self._numbers[item])

    def letter(self, part: str) -> str:
        """Return a part's letter."""
        return self._letters[part]

    def group_title(self, parts: Iterable[str]) -> str:
        """Return the title under which identical parts are listed, counted if they have several."""
        counts = Counter(self._titles[part] for part in parts)
        if len(counts) == 1:
            return next(iter(counts))
        comma = self._messages.plain("list.comma")
        return comma.join(
            self._messages.plain("parts.one_of", title=title, n=n) for title, n in counts.items()
        )

    def parts(self, parts: Sequence[str]) -> Markup:
        """Return parts in a sentence: names and letters, only letters when they are many.

        Whole units are called by their titles.
        """
        units, rest = self._whole_units(parts)
        groups = self._groups(rest)
        return self._messages.listed(
            [
                *(self._unit(title, marks, n) for (title, marks), n in units.items()),
                *(self._group(letter, members, len(groups)) for letter, members in groups.items()),
            ]
        )

    def is_units(self, parts: Sequence[str]) -> bool:
        """Tell whether parts are whole units and nothing else."""
        units, rest = self._whole_units(parts)
        return bool(units) and not rest

    def _whole_units(
        self, parts: Sequence[str]
    ) -> tuple[Mapping[tuple[str, tuple[str, ...]], int], Sequence[str]]:
        """Return how many whole units are among parts, and the parts besides.

        Units go by title and by the letters that not all units of that title have.
        """
        rest = dict.fromkeys(parts)
        found: dict[tuple[str, tuple[str, ...]], int] = {}
        for title, members in self._units:
            if members <= rest.keys():
                own = {self._letters[part] for part in members}
                key = title, tuple(sorted(own - self._common[title]))
                found[key] = found.get(key, 0) + 1
                rest = {part: None for part in rest if part not in members}
        return found, tuple(rest)

    def _unit(self, title: str, marks: Sequence[str], n: int) -> Markup:
        count = Markup("{}\u00a0×\u00a0").format(n) if n > 1 else Markup("")
        named = Markup("{}{}").format(count, self._typed(title))
        for letter in marks:
            named += Markup("\u00a0") + _LETTER.format(letter)
        return named

    def of_unit(self, subassembly: str) -> str:
        """Return the title of the unit that a subassembly of the plan is; "" for none."""
        titles = {title for title, _ in self._units}
        if subassembly in titles:
            return subassembly
        title, _, number = subassembly.rpartition(" ")
        return title if number.isdigit() and title in titles else ""

    def letters(self, parts: Sequence[str]) -> Markup:
        """Return parts in a sentence by their letters alone."""
        groups = self._groups(parts)
        return self._messages.listed(
            [self._group(letter, members, _MANY + 1) for letter, members in groups.items()]
        )

    def _groups(self, parts: Sequence[str]) -> dict[str, list[str]]:
        groups: dict[str, list[str]] = {}
        for part in parts:
            groups.setdefault(self._letters[part], []).append(part)
        return groups

    def _group(self, letter: str, members: Sequence[str], groups: int) -> Markup:
        badge = _LETTER.format(letter)
        titles = list(dict.fromkeys(self._titles[part] for part in members))
        count = Markup("{}\u00a0×\u00a0").format(len(members)) if len(members) > 1 else Markup("")
        if groups > _MANY or len(titles) > _MANY:
            return Markup("{}{}").format(count, badge)
        names = [self._typed(title) for title in titles]
        if len(titles) > 1:
            listed = self._messages.text("list.comma").join(names)
            return self._messages.text("parts.several", n=len(members), badge=badge, names=listed)
        before, space, last = names[0].rpartition(" ")
        if len(last) > _LONG_WORD:
            return Markup("{}{} {}").format(count, names[0], badge)
        return Markup("{}{}{}").format(count, before + space, _TIED.format(last, badge))

    def _typed(self, title: str) -> str:
        """Return a maker's title inside a sentence; as it is, where nouns are written large."""
        return title if self._as_typed else self._messages.in_sentence(title)

    def item(self, key: str) -> str:
        """Return an item's title."""
        return self._messages.name("items", key, self._catalogue.items[key].title)

    def size(self, key: str, size: str) -> str:
        """Return an item's size, in the language's own words if it has some for it."""
        return self._messages.name("item_sizes", key, size)

    def has_collar(self, key: str) -> bool:
        """Tell whether a screwed-in item has a collar that meets the surface and stops it."""
        pieces = self._catalogue.items[key].pieces
        thread = max((p.d0 for p in pieces if p.surface == "thread"), default=0.0)
        return any(abs(p.z0) < 0.5 < p.z1 and p.d0 > thread > 0.0 for p in pieces)

    def fitting(self, key: str, fitting: Fitting, n: int) -> str:
        """Return what the buyer calls n of a fitting, inside a sentence."""
        called = fitting.called
        if called is None:
            return self._messages.in_sentence(self._messages.name("fittings", key, fitting.title))
        form = "one" if n == 1 else "many"
        return self._messages.name(f"called_{form}", key, getattr(called, form))

    def items(self, counts: Mapping[str, int]) -> Markup:
        """Return hardware in a sentence: "4 × cam bolt" with its number."""
        return self._messages.listed(
            [
                self._messages.text("each.items", n=n, name=self._numbered(key))
                for key, n in counts.items()
            ]
        )

    def kinds(self, keys: Sequence[str]) -> Markup:
        """Return hardware in a sentence without how many: "cam bolt" with its number."""
        return self._messages.listed([self._numbered(key) for key in keys])

    def _numbered(self, key: str) -> Markup:
        """Return an item's name inside a sentence, with its number.

        A plain space is between them: where the line cannot break there, the page engine may
        break it far before.
        """
        name = self._messages.in_sentence(self.item(key))
        if key not in self._numbers:
            return Markup("{}").format(name)
        return Markup("{} {}").format(name, _NUMBER.format(self._numbers[key]))

    def tool(self, key: str) -> str:
        """Return a tool with its size."""
        tool = self._catalogue.tools.get(key)
        if tool is None:
            return self._messages.name("tools", key, key)
        title = self._messages.name("tools", key, tool.title)
        size = self._messages.name("tool_sizes", key, tool.size)
        return f"{title}, {size}" if size else title
