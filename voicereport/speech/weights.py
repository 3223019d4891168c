"""Weights found, joined from their parts, and never used before their digest is found right."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from voicereport import paths
from voicereport.errors import WeightsError
from voicereport.speech.adapter import adapted
from voicereport.speech.catalogue import Adapter, Weights, WeightsFile, catalogue

Progress = Callable[[str, float], None]
_MODEL = "model.bin"  #: the file that an adapter is for
_INSTALL = "install them with `pip install 'voicereport[weights]'`, or get them with `voicereport weights fetch {name}`"


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """Where the files of a set of weights lie; nothing is known of their contents yet."""

    weights: Weights
    where: str  #: "folder", "cache" or "package"
    parts: tuple[tuple[Path, ...], ...]  #: for each file of the weights, its parts in order


def find(weights: Weights, *, folder: Path | None = None) -> Found | None:
    """Where the weights lie, or None. folder: looked at before the user's own folder, the cache and the packages."""
    if not weights.files:
        return None
    for where, place in _folders(weights, folder):
        files = [place / file.name for file in weights.files]
        if all(path.is_file() for path in files):
            return Found(weights=weights, where=where, parts=tuple((path,) for path in files))
    parts = [_in_packages(file) for file in weights.files]
    if all(parts):
        return Found(weights=weights, where="package", parts=tuple(parts))
    return None


def read(weights: Weights, *, folder: Path | None = None) -> dict[str, bytes]:
    """The files of the weights, by name, each checked. Raises WeightsError where one is missing or not the right one.

    What is returned is what was checked: nothing is read again afterwards.
    """
    return {name: bytes(data) for name, data in _contents(weights, folder)}


@contextmanager
def laid_out(weights: Weights, *, folder: Path | None = None) -> Iterator[Path]:
    """A folder with copies of the files of the weights, each checked, that only this user can open; gone at the end.

    For what would keep the contents of files that it is given, beside what it makes of them. Raises WeightsError as
    `read` does, OSError where there is no room for the copies.
    """
    with tempfile.TemporaryDirectory(prefix="voicereport-", ignore_cleanup_errors=True) as place:
        for name, data in _contents(weights, folder):
            (Path(place) / name).write_bytes(data)
        yield Path(place)


def _contents(weights: Weights, folder: Path | None) -> Iterator[tuple[str, bytes | bytearray]]:
    """The files, checked; the model with what is trained here added, where these weights have that."""
    for file, parts in _pairs(weights, folder):
        data: bytes | bytearray = _checked(file, parts)
        if weights.adapter is not None and file.name == _MODEL:
            data = adapted(bytes(data), _checked_adapter(weights.adapter))
        yield file.name, data


def _checked_adapter(adapter: Adapter) -> bytes:
    path = paths.models_dir() / adapter.path
    file = WeightsFile(name=path.name, bytes=0, sha256=adapter.sha256, packages=())
    try:
        return _checked(file, (path,))
    except WeightsError as error:
        raise WeightsError(error.place, error.problem, "install voicereport again") from error


def _pairs(weights: Weights, folder: Path | None) -> list[tuple[WeightsFile, tuple[Path, ...]]]:
    found = find(weights, folder=folder)
    if found is None:
        raise WeightsError(f"weights '{weights.name}'", f"are not here for {weights.engine}",
                           _INSTALL.format(name=weights.name))  # fmt: skip
    return list(zip(weights.files, found.parts, strict=True))


def weights_status() -> list[dict[str, str]]:
    """All known weights: name, engine, licence, source, and the state: where they are, or "missing"."""
    return [
        {
            "name": weights.name,
            "engine": weights.engine,
            "state": _state(weights),
            "licence": weights.licence,
            "source": weights.source,
        }
        for weights in catalogue().weights
    ]


def verify_all() -> list[dict[str, str]]:
    """All known weights: name, engine, the state ("right", "wrong", "missing"), and the problem of wrong ones."""
    rows = []
    for weights in catalogue().weights:
        row = {"name": weights.name, "engine": weights.engine, "state": "missing", "problem": ""}
        if find(weights) is not None:
            try:
                read(weights)
                row["state"] = "right"
            except WeightsError as error:
                row |= {"state": "wrong", "problem": str(error)}
        elif (origin := made_from(weights)) is not None and find(origin) is not None:
            row["state"] = f"made from {origin.engine}"
        rows.append(row)
    return rows


def fetch(name: str, *, folder: Path | None = None, progress: Progress | None = None) -> Path:
    """The folder of weights got from where they are published, checked; the cache by default.

    Raises WeightsError without a network, and for files that are not the published ones (none is kept).
    """
    weights = catalogue().named(name, "faster-whisper")
    place = folder or _folders(weights, None)[-1][1]
    place.mkdir(parents=True, exist_ok=True)
    for n, file in enumerate(weights.files):
        if progress:
            progress(f"{name}: {file.name}", n / len(weights.files))
        data = _downloaded(weights, file)
        _refuse_wrong(file, data, weights.source)
        unfinished = place / f".{file.name}.{os.getpid()}"
        unfinished.write_bytes(data)
        unfinished.replace(place / file.name)
    if progress:
        progress(name, 1.0)
    return place


def made_from(weights: Weights) -> Weights | None:
    """The other engine's weights that these can be made from, or None."""
    return catalogue().named(weights.made_from, "faster-whisper") if weights.made_from else None


def _downloaded(weights: Weights, file: WeightsFile) -> bytes:
    from urllib.error import URLError
    from urllib.request import urlopen

    address = f"{weights.source}/resolve/main/{file.name}"
    try:
        with urlopen(address, timeout=60) as answer:
            return bytes(answer.read())
    except (URLError, OSError) as error:
        raise WeightsError(address, f"cannot be had ({error})",
                           "install the packages of the 'weights' extra instead") from error  # fmt: skip


def _folders(weights: Weights, folder: Path | None) -> list[tuple[str, Path]]:
    below = Path("weights") / weights.engine / weights.published
    own = [("folder", folder)] if folder else []
    return [*own, ("folder", paths.user_config_dir() / below), ("cache", paths.cache_dir() / below)]


def _in_packages(file: WeightsFile) -> tuple[Path, ...]:
    """The parts of a file in installed packages; empty where one is missing."""
    found = []
    for place in file.packages:
        module, _, rest = place.partition("/")
        spec = find_spec(module)
        candidates = [Path(f) / rest for f in (spec.submodule_search_locations or ())] if spec else []
        path = next((p for p in candidates if p.is_file()), None)
        if path is None:
            return ()
        found.append(path)
    return tuple(found)


def _checked(file: WeightsFile, parts: Sequence[Path]) -> bytes:
    try:
        data = b"".join(path.read_bytes() for path in parts)
    except OSError as error:
        raise WeightsError(str(parts[0]), f"cannot be read ({error.strerror})", None) from error
    _refuse_wrong(file, data, " + ".join(str(path) for path in parts))
    return data


def _refuse_wrong(file: WeightsFile, data: bytes, place: str) -> None:
    if file.bytes and len(data) != file.bytes:
        raise WeightsError(place, f"{file.name} has {len(data)} bytes, not {file.bytes}", "install the weights again")
    digest = hashlib.sha256(data).hexdigest()
    if digest != file.sha256:
        raise WeightsError(place, f"{file.name} is not the published file (sha256 {digest[:12]}..., not "
                           f"{file.sha256[:12]}...)", "install the weights again")  # fmt: skip


def _state(weights: Weights) -> str:
    found = find(weights)
    if found is not None:
        return found.where
    origin = made_from(weights)
    return f"made from {origin.engine}" if origin is not None and find(origin) is not None else "missing"
