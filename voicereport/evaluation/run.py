"""A corpus run through the pipeline and scored."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from voicereport.errors import VoiceReportError
from voicereport.evaluation.corpus import Corpus, Narration, to_transcript, units_of
from voicereport.evaluation.figures import Figure, narration_figures, sentence_figures
from voicereport.evaluation.matching import Row
from voicereport.evaluation.names import Names
from voicereport.evaluation.narrations import NarrationsScore, score_narrations
from voicereport.evaluation.sentences import SentencesScore, score_sentences
from voicereport.settings import Settings

if TYPE_CHECKING:
    from voicereport.trades import Trade

#: read once before the clock starts: it needs every table, and stands in no corpus
_WARMING = "Plug out of the wall, nine screws out, and the old motor came to forty one ohms."
Progress = Callable[[str, float], None]  #: what is being done, and how much of it is done, 0..1


@dataclass(frozen=True, kw_only=True, slots=True)
class Evaluation:
    """What a corpus came to."""

    figures: tuple[Figure, ...]
    narrations: NarrationsScore | None
    sentences: SentencesScore | None
    faults: tuple[str, ...]  #: narrations and sentences that the pipeline refused, with its words
    words: int  #: words of the narrations
    seconds: float  #: that they took, loading left out


def evaluate(corpus: Corpus, settings: Settings, *, progress: Progress | None = None) -> Evaluation:
    """Text to report for each narration and sentence, scored against the gold."""
    faults: list[str] = []
    names = Names(corpus.aliases) if corpus.aliases else Names()
    tell = progress or (lambda _what, _share: None)
    _load_trades(corpus)
    reports, seconds = _reports(corpus, settings, tell, faults)
    answers = _answers(corpus, settings, tell, faults)
    narrations = score_narrations(corpus.narrations, reports, names) if corpus.narrations else None
    sentences = score_sentences(corpus.sentences, answers, names) if corpus.sentences else None
    return Evaluation(
        figures=(narration_figures(narrations) if narrations else ())
        + (sentence_figures(sentences) if sentences else ()),
        narrations=narrations,
        sentences=sentences,
        faults=tuple(faults),
        words=sum(len(words.split()) for n in corpus.narrations for _, words in n.lines),
        seconds=seconds,
    )


def report_of(narration: Narration, settings: Settings) -> Row:
    """The report of one narration, as report.json holds it. Raises what the pipeline raises."""
    from voicereport.pipeline import understand

    own = replace(settings, trade=narration.trade, units=units_of(narration.voice, settings.units))
    report = understand(to_transcript(narration), _trade(narration.trade), own)
    data: Row = report.model_dump(mode="json")
    return data


def answer_of(sentence: Row, settings: Settings) -> Any:
    """The fragment of a report that one sentence leads to."""
    from voicereport.explain import answer

    trade = _trade(sentence.get("trade", settings.trade))
    units = units_of(str(sentence.get("voice", "")), settings.units)
    return answer(sentence["say"], sentence.get("context", ""), trade, units)


@cache
def _trade(name: str) -> Trade:
    from voicereport.trades import load_trade

    return load_trade(name)


def _load_trades(corpus: Corpus) -> None:
    """Load what is loaded once, so that the time of the narrations is theirs alone."""
    from voicereport.explain import answer

    for trade in {narration.trade for narration in corpus.narrations}:
        answer(_WARMING, "", _trade(trade), "metric")


def _reports(corpus: Corpus, settings: Settings, tell: Progress, faults: list[str]) -> tuple[dict[str, object], float]:
    reports: dict[str, object] = {}
    seconds = 0.0
    for n, narration in enumerate(corpus.narrations):
        tell("narrations", n / len(corpus.narrations))
        started = time.perf_counter()
        try:
            reports[narration.name] = report_of(narration, settings)
        except VoiceReportError as error:
            faults.append(f"{narration.name}: {error}")
        seconds += time.perf_counter() - started
    return reports, seconds


def _answers(corpus: Corpus, settings: Settings, tell: Progress, faults: list[str]) -> dict[str, object]:
    answers: dict[str, object] = {}
    for n, sentence in enumerate(corpus.sentences):
        if n % 50 == 0:
            tell("sentences", n / len(corpus.sentences))
        try:
            answers[sentence["id"]] = answer_of(sentence, settings)
        except VoiceReportError as error:
            faults.append(f"{sentence['id']}: {error}")
    return answers
