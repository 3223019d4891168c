"""Places in a JSON value by JSON pointer (RFC 6901), and the three changes of RFC 6902 that an edit is made of."""

from __future__ import annotations

from typing import Any

from voicereport.store.faults import refused

END = "-"  #: the place after the last item of a list


def parts_of(pointer: str) -> tuple[str, ...]:
    """The names of a pointer: "/a~1b/0" -> ("a/b", "0"). Raises StoreError where it is none."""
    if pointer == "":
        return ()
    if not pointer.startswith("/"):
        raise refused(f"path {pointer!r}", "does not begin with a slash", "write /readings/0/value")
    parts = pointer[1:].split("/")
    if any("~" in part.replace("~0", "").replace("~1", "") for part in parts):
        raise refused(f"path {pointer!r}", "has a ~ that is neither ~0 nor ~1")
    return tuple(part.replace("~1", "/").replace("~0", "~") for part in parts)


def value_at(root: Any, pointer: str) -> Any:
    """The value at a pointer. Raises StoreError where there is none."""
    found = root
    for part in parts_of(pointer):
        found = _step(found, part, pointer)
    return found


def add_at(root: Any, pointer: str, value: Any) -> str:
    """Puts `value` in: into a list before the item that is there, or at its end; into an object under the name.

    Gives the pointer that the value is at now.
    """
    parent, last = _parent(root, pointer)
    if isinstance(parent, list):
        index = len(parent) if last == END else _index(last, len(parent) + 1, pointer)
        parent.insert(index, value)
        return f"{pointer.rpartition('/')[0]}/{index}"
    parent[last] = value
    return pointer


def replace_at(root: Any, pointer: str, value: Any) -> Any:
    """Puts `value` in the place of what is there, which it gives back."""
    parent, last = _parent(root, pointer)
    before = _step(parent, last, pointer)
    if isinstance(parent, list):
        parent[_index(last, len(parent), pointer)] = value
    else:
        parent[last] = value
    return before


def remove_at(root: Any, pointer: str) -> Any:
    """Takes out what is there, and gives it back."""
    parent, last = _parent(root, pointer)
    before = _step(parent, last, pointer)
    if isinstance(parent, list):
        del parent[_index(last, len(parent), pointer)]
    else:
        del parent[last]
    return before


def _parent(root: Any, pointer: str) -> tuple[Any, str]:
    parts = parts_of(pointer)
    if not parts:
        raise refused("path ''", "is the whole report", "name a place in it")
    parent = root
    for part in parts[:-1]:
        parent = _step(parent, part, pointer)
    if not isinstance(parent, list | dict):
        raise refused(f"path {pointer!r}", "leads into a value that has no parts")
    return parent, parts[-1]


def _step(value: Any, part: str, pointer: str) -> Any:
    if isinstance(value, list):
        return value[_index(part, len(value), pointer)]
    if isinstance(value, dict) and part in value:
        return value[part]
    raise refused(f"path {pointer!r}", f"leads nowhere: there is no {part!r}")


def _index(part: str, end: int, pointer: str) -> int:
    """RFC 6901: digits without a leading zero."""
    plain = part.isascii() and part.isdigit() and (part == "0" or not part.startswith("0"))
    if not plain or int(part) >= end:
        raise refused(f"path {pointer!r}", f"leads nowhere: there is no item {part!r}")
    return int(part)
