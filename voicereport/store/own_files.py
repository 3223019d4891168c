"""What a shop has set for itself, in files: the company's page, the settings, its own packs, texts and pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from voicereport.store.faults import damaged

COMPANY = "company.json"  #: in the store's folder: letterhead, wording, limits, how long sound is kept
SETTINGS = "voicereport.toml"
_OWN = "own"
_FOLDERS = ("trades", "templates")  #: of the own folder; weights can be had again


def own_files(store: Path, own: Path | None, settings: Path | None) -> dict[str, Path]:
    """Files by the name that they have in a back-up.

    store: the store's folder. own: the folder of the shop's own packs and texts. settings: a settings file that lies
    elsewhere and is in force. Each may lack.
    """
    found = {COMPANY: store / COMPANY}
    if settings is not None and (own is None or settings.resolve() != (own / SETTINGS).resolve()):
        found[SETTINGS] = settings
    if own is not None:
        found |= {f"{_OWN}/{path.relative_to(own).as_posix()}": path for path in _of_folder(own)}
    return {name: path for name, path in sorted(found.items()) if path.is_file()}


def place_of(name: str, store: Path, own: Path | None) -> Path | None:
    """Where a file of a back-up belongs; None = nowhere here. Raises StoreError for a name that leads elsewhere."""
    path = PurePosixPath(name)
    if path.is_absolute() or not path.parts or ".." in path.parts or "\\" in name or "\0" in name:
        raise damaged(name, "is no name of a file of a back-up", "take another back-up")
    if name in (COMPANY, SETTINGS):
        return store / name
    if path.parts[0] != _OWN or len(path.parts) == 1:
        raise damaged(name, "is no name of a file of a back-up", "take another back-up")
    return None if own is None else own.joinpath(*path.parts[1:])


def _of_folder(own: Path) -> Iterator[Path]:
    yield from own.glob("*.toml")
    for folder in _FOLDERS:
        yield from (own / folder).rglob("*")
