"""Transcript to statements: what was claimed, of which part, with what commitment."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Literal

from voicereport.report import Action, QuantityName, StepStatus
from voicereport.statements.acts import Memory, acts_of, groups, phrase_acts, remember, without_recaps
from voicereport.statements.anew import said_anew
from voicereport.statements.announced import Heard, PartNumber
from voicereport.statements.commitment import ASSERTED, Commitment, commitments
from voicereport.statements.continued import continued
from voicereport.statements.counting import counted
from voicereport.statements.grammar import grammar
from voicereport.statements.holding import alike, still_out
from voicereport.statements.identity import identity
from voicereport.statements.implied import implied
from voicereport.statements.keys import Key, Keys, load_keys
from voicereport.statements.labour import is_alone, labour
from voicereport.statements.learned import learned_acts
from voicereport.statements.measured import learned_readings, readings, scales_after, scales_for
from voicereport.statements.names import names_in
from voicereport.statements.numbered import numbered
from voicereport.statements.one_more import finds_one_more, one_more
from voicereport.statements.placing import line_of, placed, taken_elsewhere
from voicereport.statements.pointing import LINES, Line, Pointing, load_pointer
from voicereport.statements.reader import Marked, Reader, load_reader
from voicereport.statements.retold import is_retold
from voicereport.statements.revised import revised, same_of_another, without_broken_off
from voicereport.statements.settling import (
    INWARD,
    PLUGGED,
    is_named_apart,
    names_supply,
    plugs_another,
    tallied,
    tells_where,
    without_named,
)
from voicereport.statements.tables import tells
from voicereport.statements.taken_back import Asserted, asserted, doubts, taken_back
from voicereport.statements.tokens import Clause, Sentence, clause_with, clauses, sentences, whole_of
from voicereport.statements.told import losses, notes, topics, weighed
from voicereport.statements.uncovered import uncovered
from voicereport.statements.values import (
    MOVED,
    Act,
    ClaimSaid,
    Fitted,
    Identity,
    Lost,
    Measured,
    Noted,
    Statements,
    Told,
)
from voicereport.trades import Trade
from voicereport.trades.words import Words
from voicereport.transcript import Segment, Transcript, span
from voicereport.wording.numbers import find_numbers
from voicereport.wording.quantities import find_quantities

__all__ = ["Reading", "Statements", "begin_reading", "read_statements"]


_HIDDEN = 0.5  #: less for every number of a sentence, and it is read alone
_ACTING = 0.95  #: an act that is so sure is no chatter
_UNSURE = 0.6  #: a status that the reader is less sure of gives way to what the words say
_AS_MOVED: dict[str, Action] = {"reconnect": "refit", "disconnect": "remove"}  #: of what no plug is on
ANOTHER_APPLIANCE = "another appliance"  #: why a clause asserts nothing of this job


_UNSPOKEN = 0.5  #: under this chance, of asserting and denying, a line speaks of no check
_OTHERS = ("hearsay", "elsewhere", ANOTHER_APPLIANCE)  #: why words say nothing of this job, or are another's


class Reading:
    """The reading of one transcript, sentence after sentence."""

    def __init__(self, trade: Trade, setting: Literal["Cel", "[degF]"], reader: Reader | None, keys: Keys) -> None:
        self.reader, self.keys = reader, keys
        self.trade, self.words, self.setting = trade, trade.words, setting
        self.memory, self.learned_memory = Memory(), Memory()
        self.acts: list[Act] = []
        self.readings: list[Measured] = []
        self.just_read: list[Measured] = []  #: of the sentence before
        self.scales: dict[QuantityName, str] = {}  #: what a meter was said to be set to
        self.claims: list[ClaimSaid] = []
        self.identity: list[Identity] = []
        self.told: list[Told] = []
        self.notes: list[Noted] = []
        self.fitted: list[Fitted] = []
        self.at_hand: list[Fitted] = []
        self.lost: list[Lost] = []
        self.either: list[int] = []  #: acts said by a form that is past and imperative ("shut the breaker off")
        self.plugless = False  #: this sentence's plug was marked on a thing that has none
        self.question = ""  #: the last sentence that asked
        self.settled: frozenset[Action] = frozenset()  #: what this sentence answers that was not done
        self.asked: list[int] = []  #: acts of the last sentence, if it was a question
        self.subject: str | None = None
        self.corrected = False  #: the last sentence began a correction and named no act yet
        self.recent = True  #: the last sentence named something
        self.loose: tuple[PartNumber, str] | None = None  #: a part's number that no act took, and its segment
        self.heard: Heard | None = None  #: the last sentence, and the fields of the job that it stated
        self.before, self.line_before = "", ""  #: the line before this one, and its segment
        self.nameless = False  #: the line only answers or judges, and does not say of what: "Click.", "Held."
        self.recapping = False  #: the line tells once more what was done: "So, back over it. Plug out, cover off, …"
        self.announced = False  #: the sentence before announced somebody's words
        self.quoting: str | None = None  #: the last line in which one did
        self.lines: list[Line] = []  #: the last lines, as the reader left them
        self.pointing: Pointing | None = None  #: at work on this line
        self.asserted: list[Asserted] = []  #: what the lines before asserted of the checks with a second key
        self.heard_in = ""  #: the recording that is read
        self.spoken_visit = 1  #: the visit that was announced in it

    def fork(self) -> Reading:
        """A copy that goes on apart from this one."""
        other = copy(self)
        for name, value in vars(self).items():
            if isinstance(value, list):
                setattr(other, name, list(value))
            elif isinstance(value, Memory):
                own = replace(
                    value,
                    acts=list(value.acts),
                    things=list(value.things),
                    named=list(value.named),
                    sorts=dict(value.sorts),
                    mentions=list(value.mentions),
                )
                setattr(other, name, own)
        return other

    def read_ahead(self, segments: Sequence[Segment]) -> None:
        """Has the reader mark the lines of all segments in one go: its weights stay at hand, which is faster."""
        if self.reader is None:
            return
        before = ""
        for segment in segments:
            line = line_of(segment)
            self.reader.read(line, before)
            before = line or before

    def take_segment(self, segment: Segment, visit: int) -> None:
        """Reads the sentences of the next segment."""
        visit = self._visit(segment, visit)
        line = line_of(segment)
        marked = self.reader.read(line, self.before) if self.reader else None
        self._point(marked)
        if marked is not None:
            marked = replace(marked, marks=continued(line, marked))
        told, start, claimed = list(sentences(segment, visit)), len(self.acts), len(self.claims)
        self.nameless = all({t.text for t in s.tokens} <= _bare() for s in told)
        retold = len(told) > 1 and grammar().patterns["recap"].search(told[0].text) is not None
        for sentence in told:
            self.recapping = retold and sentence is not told[0]
            self.take(sentence, marked)
        if marked is not None and len(self.acts) >= start:
            self._recount(told, start)
            if not self.recapping:
                fresh = [s for s in told if not tallied(s, self.learned_memory)]
                self._count_aloud(fresh, start)
                new = numbered(fresh, marked, self.acts, start, self.words, self.learned_memory)
                self.acts += new
                known = {a.holds or "" for a in new}
                self.acts += implied(fresh, self.acts, start, self.words, self.learned_memory, known)
            self._recount(told, start)
            self._hold_what_comes_off(told, start)
            self._leave_out_generals(told, start)
            self._leave_out_retold(told, start)
            self._take_back(told, line, marked, start, claimed)
        if line:
            self.before, self.line_before = line, segment.id

    def _point(self, marked: Marked | None) -> None:
        """Has the pointer look back from this line."""
        self.pointing = None
        if marked is None or marked.states is None or (pointer := load_pointer()) is None:
            return
        number = self.lines[-1].number + 1 if self.lines else 0
        self.lines = [*self.lines[1 - LINES :], Line(number=number, states=marked.states, places=marked.places)]
        self.pointing = Pointing(pointer, self.lines)
        mentions = self.learned_memory.mentions
        self.learned_memory.mentions = [m for m in mentions if number - m.number < LINES]

    def _take_back(self, told: Sequence[Sentence], line: str, marked: Marked, start: int, claimed: int) -> None:
        """Doubts what the lines before asserted and this one takes back, and keeps what it asserts itself."""
        if not told:
            return
        here = self.acts[start:]
        stood = {a.key.check: a.acts for a in self.asserted}
        if self.asserted:
            self._doubt(told, marked, here, claimed)
        new = asserted(line, marked, here, told[0].visit, self.keys)
        new = [replace(a, acts=a.acts or stood.get(a.key.check) or self._answered(a.key, told[0])) for a in new]
        self.asserted = [*self.asserted, *new]

    def _answered(self, key: Key, sentence: Sentence) -> tuple[Act, ...]:
        """The steps of a key that this sentence asserts by answering the question that they stand in."""
        return tuple(
            a
            for a in self.acts[-6:]
            if a.status == "done" and self.keys.of_act(a.action, a.part) is key and sentence.begins(a.span)
        )

    def _doubt(self, told: Sequence[Sentence], marked: Marked, here: Sequence[Act], claimed: int) -> None:
        """Doubts what the line takes back, or the sentences that it begins with. here: its acts."""
        assert self.reader is not None
        denied = {
            k.check for c in self.claims[claimed:] if c.status == "not_done" and (k := self.keys.of_claim(c.claim))
        }
        opening = _opening(told, here)
        text = " ".join(" ".join(s.words) for s in opening)
        read = marked if len(opening) == len(told) else self.reader.read(text)
        inside = [a for a in here if any(s.begins(a.span) for s in opening)]
        again = {check for check, chance in marked.asserts.items() if chance >= 0.5}
        before = [a for a in self.asserted if read is marked or a.key.check not in again]
        gone, self.asserted = taken_back(before, text, read, inside, self.reader, denied)
        acts, claims = doubts(gone, told[0].segment)
        self.acts += acts
        self.claims += claims

    def _count_aloud(self, told: Sequence[Sentence], start: int) -> None:
        """What a line counts through, where its acts lack it."""
        acts = counted(told, self.acts, start, self.words, self.learned_memory)
        new = [a for a in acts if a not in self.acts[start:]]
        self.acts[start:] = acts
        remember(self.learned_memory, new, self.words)

    def _hold_what_comes_off(self, told: Sequence[Sentence], start: int) -> None:
        """Gives fasteners that the line takes out the part that it takes off after them, where they are of no other."""
        here = uncovered(told, self.acts, start, self.words)
        changed = {id(old): new for old, new in zip(self.acts[start:], here, strict=True) if new is not old}
        if changed:
            self.learned_memory.acts = [changed.get(id(act), act) for act in self.learned_memory.acts]
            self.acts[start:] = here

    def _leave_out_generals(self, told: Sequence[Sentence], start: int) -> None:
        """Takes "two plugs" out of the acts from `start` on where the line names each of the two, too."""
        here = self.acts[start:] = [without_named(act, self.acts[start:], told) for act in self.acts[start:]]
        self._keep([*range(start), *(start + n for n, act in enumerate(here) if not is_named_apart(act, here))])

    def _leave_out_retold(self, told: Sequence[Sentence], start: int) -> None:
        """Takes out of the acts from `start` on what another one of them tells, too."""
        here = self.acts[start:]
        gone = {id(act) for act in here if is_retold(act, here, told, self.words)}
        if gone:
            self.learned_memory.acts = [act for act in self.learned_memory.acts if id(act) not in gone]
            self._keep([*range(start), *(start + n for n, act in enumerate(here) if id(act) not in gone)])

    def _recount(self, told: Sequence[Sentence], start: int) -> None:
        """Sets right the counts of the acts from `start` on that the line says anew."""
        here = self.acts[start:]
        kinds = {a.part for a in here if a.kind == "fastener"}
        before = Memory(acts=self.acts[:start])
        new = said_anew(told, here, {held: n for kind in kinds for held, n in still_out(before, kind).items()})
        changed = {id(old): act for old, act in zip(here, new, strict=True) if act is not old}
        if not changed:
            return
        self.learned_memory.acts = [a for o in self.learned_memory.acts if (a := changed.get(id(o), o)) is not None]
        self.acts[start:] = [act or old for old, act in zip(here, new, strict=True)]
        self._keep([*range(start), *(start + n for n, act in enumerate(new) if act is not None)])

    def _keep(self, kept: Sequence[int]) -> None:
        """Leaves out all acts but those of these places."""
        place = {old: new for new, old in enumerate(kept)}
        self.acts = [self.acts[n] for n in kept]
        self.asked, self.either = ([place[n] for n in told if n in place] for told in (self.asked, self.either))

    def _visit(self, segment: Segment, visit: int) -> int:
        """The visit of a segment: that of its recording, or a later one that was announced in it."""
        if self.heard_in != segment.recording:
            self.heard_in, self.spoken_visit = segment.recording, 1
        match = grammar().patterns["visit_begins"].search(line_of(segment).lower())
        if match is not None:
            number = next(n for n, word in enumerate(match.groups(), 2) if word)
            self.spoken_visit = max(self.spoken_visit, number)
        return max(visit, self.spoken_visit)

    def take(self, sentence: Sentence, marked: Marked | None = None) -> None:
        """Reads one sentence; marked: what the reader makes of the line that it stands in."""
        lists = self.words.lists
        text = sentence.text
        if "chatter.any" in lists and lists["chatter.any"].search(text) and not _acts_surely(sentence, marked):
            return
        self.settled, self.plugless = frozenset(), False
        more = one_more(sentence, self.acts)
        if more is not None:
            self.acts[-1] = more
        if self._answers(sentence, marked) or (more is None and self._retracts(text)):
            return
        parts = clauses(sentence)
        if not parts:
            return
        found = self._quoted(sentence, self._elsewhere(text, commitments(sentence, parts, self.words)))
        self._identify(sentence, found)
        new, taken = phrase_acts(sentence, parts, found, self.words, sentence.visit)
        told = topics(sentence, weighed(parts, found))
        complaint = any(t.topic == "complaint" for t in told)
        self.memory.things = self.memory.things[-4:] if self.recent else []
        self.recent = bool([n for p in parts for n in names_in(p, self.words)])
        named: list[Act] = []
        for group in [] if complaint else groups(sentence, parts, found, self.words, self.memory, taken):
            named += acts_of(group, self.words, self.memory, sentence.visit)
            remember(self.memory, named[-len(group.names) :], self.words)
        said = [*new, *named]
        if marked is not None:
            learned = [a for a in self._learned(sentence, marked, parts, found) if a.action not in self.settled]
            remember(self.learned_memory, learned, self.words)
            said = [] if self.recapping else self._joined(sentence, marked, learned, said)
        said = [self._of_a_part(a, sentence, parts) for a in said]
        acts = self._corrected(parts, without_recaps(said, Memory(acts=list(self.acts))))
        if marked is not None and _either(parts[0], self.words):
            self.either += [len(self.acts) + n for n, a in enumerate(acts) if a.status == "done"]
        if marked is not None and not any(a.kind == "fastener" for a in acts):
            self._count_anew(text)
        self._supersede(text, acts)
        self._number(sentence, acts)
        start = len(self.acts)
        self.acts += acts
        self.asked = list(range(start, len(self.acts))) if sentence.question else []
        self.question = _with_its_mark(" ".join(sentence.words)) if sentence.question else ""
        self._claims(parts, found, marked)
        if marked is not None and not self.recapping:
            self._given(sentence, marked, parts, found)
        if marked is not None:
            new_readings = learned_readings(
                sentence,
                self._measured(sentence, marked),
                parts,
                found,
                self.words,
                last=self.subject,
                setting=self.setting,
                before=self.readings,
                scales=scales_for(self.scales, sentence),
            )
        else:
            new_readings = readings(sentence, parts, found, self.words, last=self.subject, setting=self.setting)
        self.scales = scales_after(self.scales, sentence, new_readings)
        self._specify(sentence, bool(new_readings))
        self.readings, anew = revised(self.readings, new_readings, sentence)
        if not anew and all(c.status == "done" for c in found):
            anew = same_of_another(self.just_read, sentence, names_in(whole_of(sentence), self.words), self.words)
        self.just_read = anew
        self.readings = [*without_broken_off(self.readings, anew), *anew]
        if marked is not None:
            steady = grammar().patterns["steady"]
            heard = {c.status for c, p in zip(found, parts, strict=True) if not steady.search(p.text)}
            self._values(sentence, marked, new_readings, heard or {"done"})
        self.told += told
        self.notes += notes(parts, found, self.words, self.subject)
        fastener = next((a.part for a in reversed(self.acts) if a.kind == "fastener"), None)
        self.lost += losses(parts, self.words, self.memory.holder, fastener)
        subject = next((n.part for n in reversed(self.memory.things) if n.kind != "fastener"), None)
        self.subject = subject or self.subject

    def _learned(
        self, sentence: Sentence, marked: Marked, parts: tuple[Clause, ...], found: tuple[Commitment, ...]
    ) -> list[Act]:
        """The acts that the reader marks; what a check of the highest kind rests on needs both keys."""
        out = []
        for act, place in learned_acts(
            sentence,
            placed(sentence, marked.marks),
            parts,
            self.words,
            self.learned_memory,
            taken_elsewhere(sentence, marked.marks),
            pointing=self.pointing,
            mains=any(marked.asserts.get(c, 0.0) >= 0.5 for c in ("power-isolated", "power-restored")),
        ):
            commitment, status = found[clause_with(parts, place.first)], act.status
            if status == "planned" and place.mark.status_sure < _UNSURE and commitment.status == "done":
                status = "done"  # "after that I cut the line": no word of a plan
                act = replace(act, status=status)
            if commitment.why == ANOTHER_APPLIANCE and act.kind == "fastener":
                continue
            if act.action in PLUGGED and plugs_another(parts[clause_with(parts, place.first)], self.words):
                continue
            if act.action == "isolate" and _wetter(marked):
                act = replace(act, part="water supply")
            if act.action in _AS_MOVED and self.words.classes_of(act.part) & grammar().words["unplugged"]:
                self.plugless = self.plugless or act.action == "reconnect"
                act = replace(act, action=_AS_MOVED[act.action], kind=self.words.kind_of(act.part))
            if act.action == "reconnect" and not place.things and _powers(marked):
                act = replace(act, action="restore_power", part="power supply", kind="part", count=None)
            key = self.keys.of_act(act.action, act.part)
            if act.action == "reconnect" and act.kind == "part" and self._of_tubes(sentence):
                act = replace(act, action="refit", kind="tube")
            if act.action == "reconnect" and act.kind in {"tube", "seal", "fastener"}:
                key = None
            if key is not None:
                settled = self._with_key(key, act, commitment, sentence, marked)
                if settled is None:
                    continue
                status = settled
            elif (
                status == "done"
                and act.action in INWARD
                and (_is_denied(act, marked) or _only_told(commitment, parts[clause_with(parts, place.first)]))
            ):
                status = "unclear"
            out.append(replace(act, status=status))
        return out

    def _of_a_part(self, act: Act, sentence: Sentence, parts: tuple[Clause, ...]) -> Act:
        """What is unplugged where nothing says that it is the appliance: the part whose plug was just spoken of.

        "Let me unplug the fan. Okay, that's unplugged." isolates nothing, nor gives the plug put back its supply back.
        """
        if (action := PLUGGED.get(act.action)) is None or act.part != "power supply":
            return act
        clause = next((p for p in parts if p.span() == act.span), parts[0])
        last = self._just_plugged(act.action, sentence, clause)
        if last is None:
            return act
        status = act.status if action == "disconnect" or act.status != "done" else "unclear"
        return replace(act, action=action, part=last.part, kind="connector", status=status)

    def _just_plugged(self, action: str, sentence: Sentence, clause: Clause) -> Act | None:
        """The plug of a part that is plugged in or unplugged in a clause: the last act, of this line or the one before.

        None where the clause names the supply. What is plugged in is the appliance, too, where it is spoken of beside:
        "plugged in, and she's humming away".
        """
        last = next((a for a in reversed(self.acts) if not sentence.begins(a.span)), None)
        if last is None or last.kind != "connector" or last.span.segment not in {sentence.segment.id, self.line_before}:
            return None
        if last.action == "reconnect" and last.status in MOVED:
            return None  # what is plugged in next is the appliance
        named = clause if action == "isolate" else whole_of(sentence)
        return None if names_supply(named, self.words) else last

    def _with_key(self, key: Key, act: Act, found: Commitment, sentence: Sentence, marked: Marked) -> StepStatus | None:
        """The status of a step that a check of the highest kind rests on; None where the step says nothing new."""
        chance = marked.asserts.get(key.check, 0.0)
        spoken = chance + marked.denies.get(key.check, 0.0)
        text, asserted = sentence.text, found.status == "done"
        forbidden = key.forbids(text)
        if forbidden and chance < key.sure:
            return None  # a control, another appliance: nothing is isolated
        if asserted and key.stays and key.stays.search(text) and self._in_force(act):
            return None
        status = act.status
        if status in {"not_done", "unclear"} and asserted and chance >= key.sure:
            status = "done"  # the line asserts it, and no cue takes it back: the mark alone says otherwise
        near = f"{self.before} {line_of(sentence.segment)}".lower().replace("'", "’")
        known = all(p.search(text) or p.search(near) for p in key.about[:-1])
        spoken_of = known and all(p.search(text) for p in key.about[-1:])
        agreed = asserted and key.agrees(chance, text) and not forbidden and self._is_named(key)
        agreed = agreed and (spoken_of or self._is_certain(key, sentence, marked))
        if status == "done" and not agreed:
            status = "unclear"
        if status in {"unclear", "not_done"} and self._in_force(act):
            doubted = status == "not_done" and chance < 0.5
            if (asserted and not doubted) or found.why.startswith(_OTHERS) or spoken < 0.5:
                return None  # said again in other words, by others, or of something else: what stands still stands
        return status

    def _is_named(self, key: Key) -> bool:
        """False in a line that names nothing after one that does not name what the check is about, either: "Click." """
        before = self.before.lower().replace("'", "’")
        return not self.nameless or (len(key.about) > 1 and all(p.search(before) for p in key.about[:-1]))

    def _is_certain(self, key: Key, sentence: Sentence, marked: Marked) -> bool:
        """True where the reader is certain that a sentence asserts the check: by its line, and by itself, too."""
        if marked.asserts.get(key.check, 0.0) < key.certain or {t.text for t in sentence.tokens} <= _bare():
            return False  # "Yes.", "It's out.": the line does not say of what
        if _is_line(sentence) or self.reader is None:
            return _is_line(sentence)
        return self.reader.read(" ".join(sentence.words)).asserts.get(key.check, 0.0) >= key.certain

    def _measured(self, sentence: Sentence, marked: Marked) -> Marked:
        """What the reader marks; the values of the sentence as it reads it alone where its line has hidden them."""
        text, words = " ".join(sentence.words), sentence.segment.words
        start = sum(len(w.word) + 1 for w in words[: sentence.first])
        inside = [p for a, b, p in marked.number_chances if start <= a < start + len(text)]
        if _is_line(sentence) or self.reader is None or max(inside, default=1.0) >= _HIDDEN:
            return marked
        told = {t.text for t in sentence.tokens} & grammar().words["shows"]  # "the heater reads thirty ohms"
        whole = line_of(sentence.segment)[start : start + len(text)] == text
        if not told or not whole or not find_quantities(sentence.words):
            return marked
        own = self.reader.read(text)
        outside = [c for c in marked.number_chances if not start <= c[0] < start + len(text)]
        values = [replace(v, first=v.first + start, last=v.last + start, subject=None) for v in own.values]
        chances = [(a + start, b + start, p) for a, b, p in own.number_chances]
        return replace(marked, values=(*marked.values, *values), number_chances=tuple(sorted([*outside, *chances])))

    def _in_force(self, act: Act) -> bool:
        """True where the same was asserted before in this visit and nothing has undone it since."""
        for old in reversed(self.acts):
            if old.visit != act.visit or old.action == "restore_power":
                return False
            if (old.action, old.part, old.status) == (act.action, act.part, "done"):
                return True
        return False

    def _given(
        self, sentence: Sentence, marked: Marked, parts: tuple[Clause, ...], told: tuple[Commitment, ...]
    ) -> None:
        """What the reader is sure of and the rules only know by its words: both keys agree, though no rule reads it."""
        if sentence.question:
            return
        text, segment = sentence.text, sentence.segment.id
        for key in self.keys.keys:
            chance = marked.asserts.get(key.check, 0.0)
            if not key.gives or chance < key.sure:
                continue
            found = tuple(_of_others(key, c) for c in told)
            if any(c.status == "unclear" for c in found):
                continue
            if key.forbids(text) or not key.is_near(line_of(sentence.segment), self.before) or not self._is_named(key):
                continue
            certain = self._is_certain(key, sentence, marked)
            if not certain and not all(p.search(text) for p in key.about):
                continue
            heard = {"done", "not_done"} if key.negated else {"done"}
            asserting = [p for p, c in zip(parts, found, strict=True) if c.status in heard]
            named = [p for p in asserting if any(e.search(p.text) for e in key.about)] or asserting[: int(certain)]
            clear = named[0] if named else None
            if clear is None:
                continue
            for gift in key.gives:
                kind, _, what = gift.partition(" ")
                if kind == "claim":
                    if not any(
                        c.claim == what and c.status == "done" and c.span.segment == segment for c in self.claims
                    ):
                        self.claims.append(
                            ClaimSaid(
                                claim=what, about=self.subject, status="done", span=clear.span(), visit=sentence.visit
                            )
                        )
                elif kind in PLUGGED and not self._is_of_supply(kind, sentence, clear):
                    continue
                elif kind == "reconnect" and (
                    self.plugless
                    or self._of_tubes(sentence)
                    or _is_marked(kind, marked, sentence)
                    or tells_where(sentence, self.acts)
                ):
                    continue  # what the line asserts is of the thing that has no plug, or of another sentence's
                elif not any(a.action == kind for a in self.acts[-4:]):
                    self.acts.append(self._gift(kind, what, clear, sentence.visit))

    def _of_tubes(self, sentence: Sentence) -> bool:
        """True where only tubes came apart and the sentence names no connector: "pushed, tugged, both locked in"."""
        apart = {a.kind for a in self.acts if a.action in {"disconnect", "remove"} and a.status in MOVED}
        named = any(n.kind == "connector" for n in names_in(whole_of(sentence), self.words))
        return "tube" in apart and "connector" not in apart and not named

    def _is_of_supply(self, kind: str, sentence: Sentence, clause: Clause) -> bool:
        """True where a step that the reader is sure of can be of the supply: what was never off is not given back."""
        return (kind == "isolate" or self._supply_off()) and self._just_plugged(kind, sentence, clause) is None

    def _supply_off(self) -> bool:
        """True where the supply was said to be off and not yet to be on again."""
        last = next((a for a in reversed(self.acts) if a.action in {"isolate", "restore_power"}), None)
        return last is not None and last.action == "isolate"

    def _gift(self, action: str, what: str, clause: Clause, visit: int) -> Act:
        """A step that the reader is sure of and that no mark names; a connector is the last one spoken of."""
        part, kind = what, self.words.kind_of(what)
        if what in {"connector", "wiring"}:
            near = next(
                (
                    n
                    for n in reversed(self.learned_memory.things)
                    if n.kind == kind or (what == "wiring" and n.kind == "connector")
                ),
                None,
            )
            part = near.part if near else what
        return Act(action=action, part=part, kind=kind, status="done", span=clause.span(), visit=visit)  # type: ignore[arg-type]

    def _joined(self, sentence: Sentence, marked: Marked, learned: list[Act], ruled: list[Act]) -> list[Act]:
        """The reader's acts; where it marks none, parts in the plainest words: "I took the ice bucket out"."""
        if not learned and not marked.marks and finds_one_more(sentence):
            # "all five off. No, wait, there's a sixth": what the reader took back came apart all the same
            parted = [a for a in ruled if a.action == "disconnect" and a.kind == "connector" and a.status == "done"]
            learned = [a for a in parted if (a.count or 1) > 1]
        if learned or tallied(sentence, self.learned_memory) or sentence.tokens[0].text not in {"i", "we"}:
            return learned
        plain = {"remove", "refit", "run_test"}
        others = {c.span() for c in clauses(sentence) if c.tokens[0].text in grammar().words["single_pronouns"]}
        own = [a for a in ruled if a.span not in others]  # not "I reached under the grille, but it is out"
        return [a for a in own if a.status == "done" and a.kind == "part" and a.action in plain]

    def _elsewhere(self, text: str, found: tuple[Commitment, ...]) -> tuple[Commitment, ...]:
        """What is said of another time or another appliance asserts nothing of this job."""
        lists = self.words.lists
        other = lists.get("other_time.any")
        unless = lists.get("other_time.unless")
        away = bool(other and other.search(text) and not (unless and unless.search(text)))
        spoken = f" {grammar().patterns['lies_there'].sub(' ', text).replace(' ’s', ' ')} "
        other_thing = any(f" {o} " in spoken for o in self.words.others)
        if not (away or other_thing):
            return found
        why = ANOTHER_APPLIANCE if other_thing else "elsewhere"
        return tuple(Commitment(status="unclear", why=why) if c.status in {"done", "narrated"} else c for c in found)

    def _quoted(self, sentence: Sentence, found: tuple[Commitment, ...]) -> tuple[Commitment, ...]:
        """What a sentence of its own announces as somebody's words is theirs, to the end of the line or in the next
        sentence: "The sheet says." "Tested dead." """
        line = sentence.segment.id
        quoted, self.announced = self.announced or self.quoting == line, False
        if any(grammar().patterns[name].search(sentence.text) for name in ("announces", "sources")):
            self.quoting, self.announced = line, True
        if not quoted:
            return found
        return tuple(Commitment(status="unclear", why="hearsay: announced") if c.status == "done" else c for c in found)

    def _answers(self, sentence: Sentence, marked: Marked | None) -> bool:
        """An answer to the speaker's own question settles the acts that were asked about.

        A no that goes on to assert them says no to the doubt: "You sure that's off?" "No, it's out, I pulled it."
        """
        if not self.asked:
            return False
        asked, self.asked = self.asked, []
        text = sentence.text
        yes, no = self.words.lists.get("answers.yes"), self.words.lists.get("answers.no")
        short = yes is not None and yes.search(text) is not None
        status: Literal["done", "not_done"] | None = None
        if no and no.search(text):
            status = "not_done"
        elif not self._is_left_open() and (short or self._says_yes(text)):
            status = "done"
        if status is None:
            return False
        if status == "not_done" and marked is not None:
            asked = [n for n in asked if not self._asserted_beside(self.acts[n], sentence, marked)]
        said = span(sentence.segment, sentence.first, sentence.last)
        asked = [n for n in asked if status != "done" or self._agrees_to(self.acts[n], sentence, short)]
        for n in asked:  # it rests on the answer, not on the question
            self.acts[n] = replace(self.acts[n], status=status, span=said)
        self.settled = frozenset(self.acts[n].action for n in asked) if status == "not_done" else frozenset()
        return len(sentence.tokens) <= 3

    def _asserted_beside(self, act: Act, answer: Sentence, marked: Marked) -> bool:
        """Whether an answer that begins with a no says more, and its line surely asserts what was asked."""
        key = self.keys.of_act(act.action, act.part)
        if key is None or len(answer.tokens) < 3 or key.forbids(answer.text):
            return False
        return marked.asserts.get(key.check, 0.0) >= key.sure

    def _is_left_open(self) -> bool:
        """True where the last question asks what is to be done, so that a yes to it does nothing."""
        left_open = self.words.lists.get("answers.open")
        return left_open is not None and left_open.search(self.question.lower()) is not None

    def _says_yes(self, text: str) -> bool:
        """True of an answer that begins with a yes and goes on, where nothing beside it leaves it open."""
        begins, beside = self.words.lists.get("answers.begins"), self.words.lists.get("answers.beside")
        yes = begins is not None and begins.search(text) is not None
        return yes and (beside is None or beside.search(text) is None)

    def _agrees_to(self, act: Act, answer: Sentence, short: bool) -> bool:
        """Whether the second key agrees that question and answer together assert what was asked.

        short: the answer is no more than a yes; half a chance is enough for it.
        """
        key = self.keys.of_act(act.action, act.part)
        if key is None or self.reader is None:
            return True
        chance = self.reader.read(f"{self.question} {' '.join(answer.words)}").asserts.get(key.check, 0.0)
        return chance >= (min(key.least, 0.5) if short else key.least)

    def _retracts(self, text: str) -> bool:
        """A sentence that only takes the last act back."""
        pattern = self.words.lists.get("corrections.retract")
        if not (pattern and pattern.search(text) and self.acts and len(text.split()) <= 9):
            return False
        self.acts[-1] = replace(self.acts[-1], status="retracted")
        return True

    def _corrected(self, parts: tuple[Clause, ...], acts: list[Act]) -> list[Act]:
        """Counts that were corrected in the sentence, and acts that a later clause of it takes back."""
        out: list[Act] = []
        retract = self.words.lists.get("corrections.retract")
        taken_back = retract is not None and any(
            part is not None and retract.search(part.text) and not (after is not None and _tells_a_number(after))
            for part, after in pairwise([*parts[1:], None])
        )
        for act in acts:
            out.append(replace(act, status="retracted") if taken_back and act.status == "done" else act)
        return out

    def _count_anew(self, text: str) -> None:
        """ "Eight in." "Well, seven." says the count of the fasteners before it anew."""
        match = grammar().patterns["count_anew"].search(text)
        last = self.acts[-1] if self.acts else None
        if match and last and last.kind == "fastener" and last.count and last.status in {"done", "narrated"}:
            numbers = find_numbers(match.group(1).split())
            if numbers:
                self.acts[-1] = replace(last, count=numbers[0].value)

    def _supersede(self, text: str, acts: list[Act]) -> None:
        """After "no, wait" a new count of the same act takes the place of the one before."""
        replaces = self.words.lists.get("corrections.replace")
        corrects = bool(replaces and replaces.search(text))
        if (
            corrects
            and self.acts
            and not any((a.action, a.part) == (self.acts[-1].action, self.acts[-1].part) for a in acts)
        ):
            last = self.acts[-1]
            if (
                last.status == "done" and last.count is None and self.reader is None
            ):  # what was said is in question until it is said again
                self.acts[-1] = replace(last, status="unclear")
        told = not set(text.split()[:4]) & grammar().words["others_said"]  # "no, he's fine" corrects nothing
        if not (corrects or self.corrected):
            self.corrected = corrects
            return
        if not {"more", "another"} & set(text.split()):  # "sorry. two more": they are not the ones before
            self._retract_counts(acts)
        self.corrected = corrects and not acts and told

    def _retract_counts(self, acts: Sequence[Act]) -> None:
        """Takes back the last count of each act that says the same anew."""
        for act in acts:
            for n in range(len(self.acts) - 1, max(len(self.acts) - 4, -1), -1):
                old = self.acts[n]
                same = (old.action, old.kind, old.part) == (act.action, act.kind, act.part)
                if act.count and old.count and same and not _is_of_another(old, act):
                    self.acts[n] = replace(old, status="retracted")
                    break

    def _specify(self, sentence: Sentence, measured: bool) -> None:
        """A specification in a sentence of its own belongs to the reading just before it: "it should be 220 to 260"."""
        if measured or not self.readings or grammar().patterns["limit"].search(sentence.text) is None:
            return
        last = self.readings[-1]
        near = sentence.segment.start - last.span.end
        found = [q for q in find_quantities(sentence.words) if q.value_high is not None and q.unit == last.unit]
        if found and last.span.recording == sentence.segment.recording and near < 15:
            self.readings[-1] = replace(last, limit_low=found[0].value, limit_high=found[0].value_high)

    def _identify(self, sentence: Sentence, found: tuple[Commitment, ...]) -> None:
        before = self.heard
        told = identity(sentence, before, {i.field for i in self.identity})
        time = labour(sentence, found[0], before)
        alone, acts = (before.alone, before.acts) if before is not None else (None, 0)
        if alone is not None and alone.visit == sentence.visit and len(self.acts) - acts > 2:
            self.identity = [i for i in self.identity if i is not alone]  # the work went on: it was another time
            alone = None
        if time and is_alone(sentence):
            alone, acts = time[0], len(self.acts)
        self.identity += (*told.found, *time)
        self.heard = replace(told, found=(*told.found, *time), alone=alone, acts=acts)

    def _number(self, sentence: Sentence, acts: list[Act]) -> None:
        """Part numbers go with the parts that the sentence fits, in the order of speech."""
        heard, line = self.heard, sentence.segment.id
        numbers = heard.parts if heard is not None else ()
        if heard is not None and heard.mends:
            self._renumber(heard.mends, numbers[0][0])
            return
        if not numbers and self.loose is not None and self.loose[1] == line:
            numbers = (self.loose[0],)  # "New sensor then, N T five. It's in"
        self.loose = None
        if not numbers:
            return
        fits = [n for n, a in enumerate(acts) if a.action == "replace" and a.kind != "fastener" and a.status in MOVED]
        for n, (value, _, _) in zip(fits, numbers, strict=False):
            acts[n] = replace(acts[n], part_number=value)
        if fits:
            return
        number, part = numbers[0], self._at_hand(sentence)
        self.loose = (number, line) if not acts else None
        in_line = any(a.action == "replace" and a.kind != "fastener" and a.span.segment == line for a in self.acts[-6:])
        if in_line or (self.acts and self.acts[-1].action in {"replace", "refit"}) or acts:
            last = next((a for a in reversed([*self.acts, *acts])
                         if a.action == "replace" and a.kind != "fastener" and a.status in MOVED), None)  # fmt: skip
            if last is not None and last.part_number is None and (part is None or alike(part, last.part)):
                self.fitted.append(
                    Fitted(part=last.part, part_number=number[0], quantity=last.count or 1, span=last.span)
                )
                return
        if part is not None:
            at = span(sentence.segment, sentence.first, sentence.last)
            self.at_hand.append(Fitted(part=part, part_number=number[0], quantity=None, span=at))

    def _at_hand(self, sentence: Sentence) -> str | None:
        """The one new part that a sentence speaks of: "the new motor is part number F M six six two"."""
        if not tells("part_number", "new", sentence.text):
            return None
        named = {n.part for n in names_in(whole_of(sentence), self.words) if n.kind != "fastener"}
        return named.pop() if len(named) == 1 else None

    def _renumber(self, old: str, new: str) -> None:
        """The part that has the number `old` has the number `new`."""
        self.acts = [replace(a, part_number=new) if a.part_number == old else a for a in self.acts]
        self.fitted = [replace(f, part_number=new) if f.part_number == old else f for f in self.fitted]
        self.at_hand = [replace(f, part_number=new) if f.part_number == old else f for f in self.at_hand]

    def _claims(self, parts: tuple[Clause, ...], found: tuple[Commitment, ...], marked: Marked | None) -> None:
        whole = parts[0].sentence
        hits = [
            (p, f, h)
            for p, f in zip(parts, found, strict=True)
            for h in self.trade.claims_in(p.text.replace("’", "'").replace(" '", "'").replace(" n't", "n't"))
        ]
        seen = {h.claim for _, _, h in hits}
        text = " ".join(whole.words).lower()
        for hit in self.trade.claims_in(text):
            if hit.claim not in seen:
                worst = next((f for f in found if f.status not in {"done", "narrated"}), found[0])
                hits.append((whole_of(whole), worst, hit))
        for clause, commitment, hit in hits:
            told = hit.polarity == "yes" and commitment.status in {"done", "narrated"}
            if told and marked is not None and self.keys.is_untold(hit.claim, marked.asserts):
                continue
            key = self.keys.of_claim(hit.claim) if marked is not None else None
            sure = marked is not None and key is not None and marked.asserts.get(key.check, 0.0) >= key.sure
            status = _of_others(key, commitment).status if key is not None and sure else commitment.status
            if hit.polarity == "no" and status in {"done", "narrated"}:
                status = "not_done"
            elif hit.polarity == "unsure" and status in {"done", "narrated"}:
                status = "unclear"
            if marked is not None and key is not None and status == "done":
                agreed = key.agrees(marked.asserts.get(key.check, 0.0), whole.text) and not key.forbids(whole.text)
                agreed = agreed and self._is_named(key)
                if not agreed and self._stands(hit.claim, key, marked, whole.visit):
                    continue
                status = "done" if agreed else "unclear"
            self.claims.append(
                ClaimSaid(claim=hit.claim, about=self.subject, status=status, span=clause.span(), visit=whole.visit)
            )

    def _stands(self, claim: str, key: Key, marked: Marked, visit: int) -> bool:
        """True where the claim was asserted before in this visit and the line hardly speaks of its check.

        "No ignition sources in here", and later "crimp rings all round, no flame": of another thing, so it stands.
        """
        spoken = marked.asserts.get(key.check, 0.0) + marked.denies.get(key.check, 0.0)
        last = next((c for c in reversed(self.claims) if c.claim == claim and c.visit == visit), None)
        return spoken < _UNSPOKEN and last is not None and last.status == "done"

    def _values(self, sentence: Sentence, marked: Marked, found: Sequence[Measured], heard: set[StepStatus]) -> None:
        """A value whose line the reader does not take for an assertion of its check: the check hears a doubt.

        heard: what the clauses of the sentence are; one that is hedged, denied, planned or told by others is a doubt,
        too, and so is an imperative where the reader is not certain ("meter beeps" looks like one).
        """
        for reading in found:
            classes = frozenset(self.words.classes_of(reading.subject or ""))
            key = self.keys.of_value(reading.quantity, reading.value, classes)
            if key is None:
                continue
            doubted = key.doubts(reading.value, reading.unit) or key.forbids(sentence.text)
            doubted = doubted or not key.is_near(line_of(sentence.segment), self.before)
            plain = heard <= {"done"} or (heard <= {"done", "narrated"} and self._is_certain(key, sentence, marked))
            if plain and key.agrees(marked.asserts.get(key.check, 0.0), sentence.text) and not doubted:
                continue
            last = span(sentence.segment, sentence.last - 1, sentence.last)
            self.claims.append(ClaimSaid(claim=min(key.claims), about=reading.subject, status="unclear", span=last,
                                         visit=sentence.visit))  # fmt: skip

    def statements(self) -> Statements:
        """All that was claimed. Who speaks in the imperative means it so where the form leaves both open."""
        acts = list(self.acts)
        told = sum(a.status == "narrated" for a in acts)
        if told * 2 > sum(a.status in {"done", "narrated"} for a in acts):
            for n in self.either:
                acts[n] = replace(acts[n], status="narrated")
        return Statements(
            acts=tuple(acts),
            readings=tuple(self.readings),
            claims=tuple(self.claims),
            identity=tuple(self.identity),
            told=tuple(self.told),
            notes=tuple(self.notes),
            fitted=tuple(self.fitted),
            at_hand=tuple(self.at_hand),
            lost=tuple(self.lost),
        )


def _either(clause: Clause, words: Words) -> bool:
    """True where a clause begins with a verb whose base form is its past, too, and nobody is named who acts."""
    skip = grammar().words["fillers"]
    first = next((t.text for t in clause.tokens if t.text not in skip), "")
    tenses = {f.tense for f in words.verbs.get(first, ())}
    return "base" in tenses and bool(tenses & {"past", "part"})


def _with_its_mark(question: str) -> str:
    """A question as it is written: one that was heard without its mark would be read as a statement."""
    return question if question.endswith("?") else f"{question.rstrip('.,;:!')}?"


def _only_told(found: Commitment, clause: Clause) -> bool:
    """What somebody else is just now saying, or a question; not what the speaker says he did himself."""
    told = found.why.startswith("question") or grammar().patterns["saying"].search(found.why) is not None
    return told and not {"i", "we"} & {t.text for t in clause.tokens}


def _opening(told: Sequence[Sentence], acts: Sequence[Act]) -> Sequence[Sentence]:
    """The sentences of a line before the first in which something is done; all where none stands before it."""
    first = next((n for n, s in enumerate(told) if any(s.begins(a.span) and a.status in MOVED for a in acts)), 0)
    return told[:first] or told


def _is_marked(action: str, marked: Marked, sentence: Sentence) -> bool:
    """True where another sentence of the line than this one says that the act is done."""
    here = {p.mark for p in placed(sentence, marked.marks)}
    return any(m.action == action and m.status == "done" and m not in here for m in marked.marks)


def _of_others(key: Key, found: Commitment) -> Commitment:
    """The commitment under a check that other appliances count for: the cooker is off."""
    return ASSERTED if key.of_others and found.why == ANOTHER_APPLIANCE else found


def _acts_surely(sentence: Sentence, marked: Marked | None) -> bool:
    """True of a line of one sentence in which the reader is sure of an act: it is no chatter."""
    return marked is not None and _is_line(sentence) and any(m.sure >= _ACTING for m in marked.marks)


def _is_of_another(old: Act, act: Act) -> bool:
    """Whether fasteners of a line before are those of another thing, which a correction leaves as they were."""
    held = old.holds is not None and act.holds is not None and not alike(old.holds, act.holds)
    return held and old.span.segment != act.span.segment


def _tells_a_number(clause: Clause) -> bool:
    """ "No, I tell a lie, seven": what follows says anew what the words before it took back."""
    return bool(find_numbers([t.text for t in clause.tokens]))


@cache
def _bare() -> frozenset[str]:
    """Words that answer or judge and name nothing: a sentence of them alone does not say of what it speaks."""
    sets = grammar().words
    return sets["bare"] | sets["answers"] | sets["single_pronouns"] | sets["plural_pronouns"] | sets["articles"]


def _is_line(sentence: Sentence) -> bool:
    """True of a sentence that is its whole line: what the reader says of the line it says of no other sentence."""
    return sentence.last - sentence.first == len(sentence.segment.words)


def _is_denied(act: Act, marked: Marked) -> bool:
    """True of a connector laid back in a line that rather denies than asserts that connectors or wiring are back."""
    if act.kind != "connector" or act.action != "refit":
        return False
    checks = ("connectors-restored", "wiring-restored")
    asserted = max(marked.asserts.get(c, 0.0) for c in checks)
    return asserted < 0.5 < max(marked.denies.get(c, 0.0) for c in checks)


def _wetter(marked: Marked) -> bool:
    """True where the line asserts that the water is off rather than the power."""
    water, power = (marked.asserts.get(c, 0.0) for c in ("water-isolated", "power-isolated"))
    return water > 0.5 > power


def _powers(marked: Marked) -> bool:
    """True where the line asserts that the supply is back rather than a connector: "powered it up"."""
    power, plugs = (marked.asserts.get(c, 0.0) for c in ("power-restored", "connectors-restored"))
    return power > 0.5 > plugs


def read_statements(
    transcript: Transcript,
    trade: Trade,
    *,
    units: Literal["metric", "us"] = "metric",
    progress: Callable[[float], None] | None = None,
) -> Statements:
    """What a transcript claims. units: what temperatures without a scale are in (Celsius or Fahrenheit)."""
    reading = begin_reading(trade, units=units)
    reading.read_ahead(transcript.segments)
    visits = {r.name: r.visit for r in transcript.recordings}
    for segment in transcript.segments:
        reading.take_segment(segment, visits.get(segment.recording, 1))
    return reading.statements()


def begin_reading(trade: Trade, *, units: Literal["metric", "us"] = "metric") -> Reading:
    """A reading of a transcript that is still growing. units: as of `read_statements`."""
    return Reading(trade, "[degF]" if units == "us" else "Cel", load_reader(), load_keys())
