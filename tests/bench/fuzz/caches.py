"""Files that come with kdkit are read once for all cases; nothing of a case is kept.

Without this a case with a catalogue of its own would read and check all of kdkit's.
"""

from __future__ import annotations

import functools
from typing import Any

from kdkit.catalogue import load
from kdkit.publish.wording import messages

__all__ = ["install_caches"]


@functools.lru_cache(maxsize=1)
def install_caches() -> Any:
    """Let the built-in catalogue's entries and the messages be read once.

    Returns:
        the built-in entries as written, ``like`` followed, by ``(section, name)``.
    """
    read, validated = load._read, load._validated
    built_in, found = read(load.built_in_files(), {})
    assert not found
    own = {id(written.data): key for key, written in built_in.items()}
    entries: dict[Any, Any] = {}

    def read_once(files: Any, earlier: Any, load_one: Any = load.load_document) -> Any:
        files = tuple(files)
        if files == load.built_in_files():
            return dict(built_in), ()
        return read(files, earlier, load_one)

    def validated_once(section: str, name: str, data: Any) -> Any:
        key = (section, name)
        if own.get(id(data)) != key:
            return validated(section, name, data)
        if key not in entries:
            entries[key] = validated(section, name, data)
        return entries[key]

    load._read = read_once
    load._validated = validated_once
    for name in ("languages", "load_messages"):
        setattr(messages, name, functools.lru_cache(maxsize=None)(getattr(messages, name)))
    return built_in
