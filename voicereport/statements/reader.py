"""The trained reader: a small encoder that marks acts and their things in a line, and what the line asserts.

Its file, `models/reader/reader.onnx`, was made by `models/reader/recipe.py`. Where there is none, rules read alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.report import Action, QuantityName, StepStatus
from voicereport.statements.breakers import Place, breakers, with_breakers
from voicereport.statements.spelling import spelled

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


#: scores of what a piece is to an act: none, and begun or gone on with a thing, a holder, a count
_ROLES = 7
_KEPT = 2_000  #: lines that are kept as they were read, some 15 kB each


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """An act that the reader marks in a line. Places are characters [first, last) of the line."""

    action: Action
    status: StepStatus
    sure: float  #: 0..1, of the action
    status_sure: float  #: 0..1, of the status
    first: int
    last: int
    things: tuple[tuple[int, int], ...] = ()  #: what it is done to
    holds: tuple[tuple[int, int], ...] = ()  #: what a fastener or connector belongs to
    counts: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Value:
    """A measured value that the reader marks, in characters of the line."""

    quantity: QuantityName
    stage: Literal["as_found", "as_left"] | None
    sure: float
    first: int
    last: int
    subject: tuple[int, int] | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Marked:
    """What the reader makes of one line."""

    marks: tuple[Mark, ...] = ()
    values: tuple[Value, ...] = ()
    number_chances: tuple[
        tuple[int, int, float], ...
    ] = ()  #: each piece of the line: 0..1 that it is of a measured value
    asserts: Mapping[str, float] = field(default_factory=dict)  #: by check id: 0..1 that the line confirms it
    denies: Mapping[str, float] = field(default_factory=dict)  #: 0..1 that it speaks of it and does not confirm it
    states: NDArray[np.float16] | None = field(default=None, compare=False)  #: (pieces, states)
    places: tuple[tuple[int, int], ...] = ()  #: of the pieces, in characters of the line


class Reader:
    """The reader, loaded. One line at a time, so that a line reads the same wherever it stands."""

    def __init__(self, session: Any, tokenizer: Any, labels: Mapping[str, Any]) -> None:
        self._session, self._tokenizer = session, tokenizer
        self._actions, self._statuses, self._checks = labels["actions"], labels["statuses"], labels["checks"]
        self._quantities, self._stages = labels["quantities"], labels["stages"]
        self._longest, self._context, self._link = labels["longest"], labels["context"], labels["link"]
        self._seen: dict[tuple[str, str, tuple[Place, ...]], Marked] = {}

    def read(self, line: str, before: str = "") -> Marked:
        """What `line` says; before: the line before it, for its context and for what a breaker's number is."""
        key = (line, before if self._context else "", breakers(line, before))
        if key not in self._seen:
            if len(self._seen) > _KEPT:
                self._seen.clear()
            self._seen[key] = self._read(*key)
        return self._seen[key]

    def _read(self, line: str, before: str, numbers: Sequence[Place]) -> Marked:
        """numbers: where numbers of breakers stand in `line`."""
        import numpy as np

        told, places = with_breakers(line, numbers)
        plain, owner = spelled(told.replace("’", "'").replace("‘", "'"))
        owner = [(places[a][0], places[b - 1][1]) for a, b in owner]
        context = (
            self._tokenizer.encode(before.replace("’", "'"), add_special_tokens=False).ids[-self._context :]
            if before
            else []
        )
        said = self._tokenizer.encode(plain, add_special_tokens=False)
        ids, offsets = said.ids[: self._longest], said.offsets[: self._longest]
        if not ids:
            return Marked()
        head = [101, *context, 102]
        row = np.array([[*head, *ids, 102]], dtype=np.int64)
        types = np.array([[0] * len(head) + [1] * (len(ids) + 1)], dtype=np.int64)
        words, checks, *states = self._session.run(None, {"ids": row, "mask": np.ones_like(row), "types": types})
        chances = softmax(checks[0].reshape(-1, 3))
        asserts = dict(zip(self._checks, chances[:, 1].tolist(), strict=True))
        denies = dict(zip(self._checks, chances[:, 2].tolist(), strict=True))
        own = _by_word(words[0][len(head) : len(head) + len(ids)], plain, offsets, 1 + len(self._actions),
                       len(self._statuses))  # fmt: skip
        offsets = [
            (owner[a][0], owner[b - 1][1]) if b > a else (a, a) for a, b in offsets
        ]  # of the line as it was written
        values, chances_ = self._values(own, offsets)
        return Marked(
            marks=self._marks(own, offsets),
            values=values,
            number_chances=chances_,
            asserts=asserts,
            denies=denies,
            states=states[0][0][len(head) : len(head) + len(ids)].astype(np.float16) if states else None,
            places=tuple(offsets),
        )

    def _marks(self, words: np.ndarray, offsets: Sequence[tuple[int, int]]) -> tuple[Mark, ...]:
        a, s = 1 + len(self._actions), len(self._statuses)
        act, status = softmax(words[:, :a]), softmax(words[:, a : a + s])
        role = words[:, a + s : a + s + _ROLES].argmax(1).tolist()
        query, key = words[:, -2 * self._link : -self._link], words[:, -self._link :]
        best = act.argmax(1).tolist()
        things = _things(role)
        acts = _runs(best)
        linked: dict[int, list[tuple[int, int, int]]] = {n: [] for n in range(len(acts))}
        for first, last, kind in things:
            scores = [float(query[b] @ key[first]) / self._link**0.5 for b, _ in acts]
            chosen = [n for n, score in enumerate(scores) if score > 0] or (
                [int(max(range(len(scores)), key=scores.__getitem__))] if scores else []
            )
            for n in chosen:
                linked[n].append((first, last, kind))
        out = []
        for n, (first, last) in enumerate(acts):
            states = _mean(status[first:last])

            def spans(kind: int) -> tuple[tuple[int, int], ...]:
                return tuple((offsets[f][0], offsets[e - 1][1]) for f, e, k in linked[n] if k == kind)  # noqa: B023

            out.append(
                Mark(
                    action=self._actions[best[first] - 1],
                    status=self._statuses[int(states.argmax())],
                    sure=float(_mean(act[first:last, best[first]])),
                    status_sure=float(states.max()),
                    first=offsets[first][0],
                    last=offsets[last - 1][1],
                    things=spans(0),
                    holds=spans(1),
                    counts=spans(2),
                )
            )
        return tuple(out)

    def _values(
        self, words: np.ndarray, offsets: Sequence[tuple[int, int]]
    ) -> tuple[tuple[Value, ...], tuple[tuple[int, int, float], ...]]:
        at = 1 + len(self._actions) + len(self._statuses) + _ROLES
        wide = 1 + len(self._quantities)
        value, stage = softmax(words[:, at : at + wide]), softmax(words[:, at + wide : at + wide + len(self._stages)])
        own = at + wide + len(self._stages)
        subject = words[:, own : own + 3].argmax(1).tolist()
        query, key = words[:, -2 * self._link : -self._link], words[:, -self._link :]
        best = value.argmax(1).tolist()
        subjects = [(f, e) for f, e, _ in _things(subject)]
        out: list[Value] = []
        for k, j in _runs(best):
            near = max(subjects, key=lambda s: float(query[k] @ key[s[0]]), default=None)
            if near is not None and float(query[k] @ key[near[0]]) <= 0:
                near = None
            when = self._stages[int(_mean(stage[k:j]).argmax())]
            out.append(
                Value(
                    quantity=self._quantities[best[k] - 1],
                    sure=float(_mean(value[k:j, best[k]])),
                    stage={"found": "as_found", "left": "as_left"}.get(when),  # type: ignore[arg-type]
                    first=offsets[k][0],
                    last=offsets[j - 1][1],
                    subject=(offsets[near[0]][0], offsets[near[1] - 1][1]) if near else None,
                )
            )
        chances = (1 - value[:, 0]).tolist()
        return tuple(out), tuple((a, b, chance) for (a, b), chance in zip(offsets, chances, strict=True))


def _mean(scores: Any) -> Any:
    """The mean over pieces, the first axis; of one piece, as most words are, the piece itself."""
    return scores[0] if len(scores) == 1 else scores.mean(0)


def _by_word(scores: Any, line: str, offsets: Sequence[tuple[int, int]], acts: int, statuses: int) -> Any:
    """The scores with one act, status and role a word: pieces of a word that were marked apart agree.

    scores: piece x score: first `acts` scores of acts, then `statuses` of statuses, then those of roles.
    """
    out = scores.copy()
    k = 0
    while k < len(offsets):
        j = k + 1
        while (
            j < len(offsets)
            and offsets[j][0] == offsets[j - 1][1]
            and (line[offsets[j][0]].isalnum() and line[offsets[j - 1][1] - 1].isalnum())
        ):
            j += 1
        if j - k > 1:
            out[k:j, : acts + statuses] = scores[k:j, : acts + statuses].mean(0)
            _one_role(out, scores, k, j, acts + statuses)
        k = j
    return out


def _one_role(out: Any, scores: Any, k: int, j: int, at: int) -> None:
    """Sets the role of pieces [k, j), a word, in `out`: none, or one kind of thing, begun or gone on with."""
    import numpy as np

    roles = scores[k:j, at : at + _ROLES]
    kinds = np.logaddexp(roles[:, 1::2], roles[:, 2::2]).mean(0)
    best = int(kinds.argmax())
    out[k:j, at : at + _ROLES] = -1e4
    if roles[:, 0].mean() >= kinds[best]:
        out[k:j, at] = 1e4
        return
    begins = roles[0, 1 + 2 * best] >= roles[0, 2 + 2 * best]
    out[k, at + (1 if begins else 2) + 2 * best] = 1e4
    out[k + 1 : j, at + 2 + 2 * best] = 1e4


def _runs(labels: Any) -> list[tuple[int, int]]:
    """Spans of one label each, [first, last), but for label 0."""
    ends = [k for k in range(1, len(labels)) if labels[k] != labels[k - 1]]
    return [(a, b) for a, b in pairwise([0, *ends, len(labels)]) if b > a and labels[a]]


def _things(role: Any) -> list[tuple[int, int, int]]:
    """Token spans of things: first, last, kind (0 what is acted on, 1 what it holds, 2 a count)."""
    out, k = [], 0
    while k < len(role):
        j = k + 1
        if role[k]:
            kind = (int(role[k]) - 1) // 2
            while j < len(role) and role[j] == 2 * kind + 2:
                j += 1
            out.append((k, j, kind))
        k = j
    return out


def softmax(scores: Any) -> Any:
    """Scores along the last axis as chances that come to one."""
    import numpy as np

    raised = np.exp(scores - scores.max(-1, keepdims=True))
    return raised / raised.sum(-1, keepdims=True)


def _labels(folder: Path) -> dict[str, Any]:
    """The labels of the reader in `folder`. Raises PackError where they are unreadable or another file's."""
    place = str(folder / "labels.json")
    try:
        labels: dict[str, Any] = json.loads((folder / "labels.json").read_text(encoding="utf-8"))
        known = labels["sha256"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise PackError(place, f"the reader's labels cannot be read: {error!r}", "install its files anew") from error
    with (folder / "reader.onnx").open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    if digest != known:
        problem = f"is not the file that {place} was written for: SHA-256 {digest[:12]}, not {str(known)[:12]}"
        raise PackError(str(folder / "reader.onnx"), problem, "install its files anew")
    return labels


def network(file: Path) -> Any:
    """A session of the network in an ONNX file, on one thread. Raises what its library raises."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(str(file), options, providers=["CPUExecutionProvider"])


@lru_cache(maxsize=1)
def load_reader() -> Reader | None:
    """The reader that is installed, None where there is none. Raises PackError where its files do not fit together.

    VOICEREPORT_READER=off reads by rules alone.
    """
    folder = models_dir() / "reader"
    if os.environ.get("VOICEREPORT_READER", "").lower() == "off" or not (folder / "reader.onnx").is_file():
        return None
    labels = _labels(folder)
    from tokenizers import Tokenizer

    try:
        session = network(folder / "reader.onnx")
        tokenizer = Tokenizer.from_file(str(folder / "tokenizer.json"))
        tokenizer.no_padding()
        tokenizer.no_truncation()
        return Reader(session, tokenizer, labels)
    except Exception as error:
        raise PackError(str(folder), f"the reader cannot be loaded: {error}", "install its files anew") from error
