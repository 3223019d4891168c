"""The ledger: what came off, apart or open, and whether it went back."""

from __future__ import annotations

from collections.abc import Mapping

from voicereport.assembly.entries import Entry
from voicereport.assembly.evidence import Places, evidence
from voicereport.assembly.names import Names
from voicereport.report import Evidence, ItemKind, ItemState, Ledger, LedgerItem, OpenItem
from voicereport.statements.values import Act, Lost, Noted, Statements
from voicereport.trades.words import Words
from voicereport.transcript import Span, Transcript

_MOVES = ("done", "narrated")
_OUT = frozenset({"remove", "disconnect", "peel"})
_IN = frozenset({"refit", "reconnect", "reseal", "close"})
_OPENED = frozenset({"cover", "door"})  #: classes of what an `open` leaves open
_AMONG: dict[ItemKind, tuple[ItemKind, ...]] = {
    "part": ("part", "seal", "tube"),
    "seal": ("seal", "part"),
    "tube": ("tube", "part"),
    "fastener": ("fastener",),
    "wiring": ("wiring", "connector"),
}
EVERYTHING = "everything"


class _Walk:
    """The statements, walked through in the order of speech."""

    def __init__(self, names: Names, words: Words, places: Places) -> None:
        self.entries: list[Entry] = []
        self.replaced: list[Act] = []
        self._names, self._words, self._places = names, words, places
        self._turn = 0
        self._instead: dict[str, Entry] = {}  #: connectors that were meant by another name, by that name
        self._blanket = (
            ""  #: the segment in which everything was last said to be back: its numbers are no more than that
        )

    def move(self, said: Act | Lost) -> None:
        """One statement moves the ledger, or does not."""
        self._turn += 1
        if isinstance(said, Lost):
            self._lose(said)
        elif said.part in self._names.supplies:
            return
        elif said.status == "not_done":
            self._deny(said)
        elif said.status not in _MOVES:
            return
        elif said.part == EVERYTHING:
            self._all_back(said)
        elif self._goes_out(said):
            self._take(said)
        elif said.action == "replace":
            self._replace(said)
        elif said.action in _IN:
            self._put(said)

    def _goes_out(self, act: Act) -> bool:
        if act.action == "loosen":
            return act.kind in ("wiring", "connector")
        if act.action == "cut":
            return act.kind in ("seal", "fastener")
        if act.action == "open":
            return bool(_OPENED & self._words.classes_of(act.part))
        return act.action in _OUT

    def _take(self, act: Act) -> None:
        kind = _kind(act)
        if kind == "part" and (self._names.broke_off(act.span.quote) or self._names.is_loose(act.part)):
            return  # found so, and nothing that anybody took off
        if kind == "connector" and self._is_anothers(act.part):
            return
        entry = self._known(act, kind) or self._seal_again(act)
        if entry is not None and self._is_recap(entry, act):
            entry.out_spans.append(act.span)
            return
        if entry is None:
            entry = self._new(act, kind)
        entry.take(act.count, act.plural, act.span)
        entry.turn, entry.place = self._turn, self._places.of(act.span)
        entry.sites += [act.location] if act.location else []
        if self._just_replaced(act):
            entry.put(None, act.span, renewed=True)

    def _is_anothers(self, connector: str) -> bool:
        """Whether it belongs to another appliance: "the microwave plug I take out, it is in my way"."""
        owner = " ".join(connector.lower().split()[:-1])
        return owner in self._words.others

    def _seal_again(self, act: Act) -> Entry | None:
        """The only seal that is off, said to be off again in fewer words: "foam strip", "the old foam came away"."""
        entry = self._only_seal(act)
        if entry is None or act.count is not None or act.plural:
            return None
        return entry if {*self._names.key(act.part, "seal")} < {*self._names.key(entry.part, "seal")} else None

    def _is_recap(self, entry: Entry, act: Act) -> bool:
        """Whether what is off already is said to be off again, and no other one of its name."""
        counts = act.count is not None or (_kind(act) == "fastener" and not act.plural)
        return entry.off and not counts and not self._elsewhere(entry, act)

    def _elsewhere(self, entry: Entry, act: Act) -> bool:
        """Another one of the name: "the white plug off the board, and the white plug off the fan"."""
        site = act.location
        return bool(entry.sites) and site is not None and not act.plural and not any(
            self._names.likeness(s, site, "part") >= 2 for s in entry.sites)  # fmt: skip

    def _known(self, act: Act, kind: ItemKind) -> Entry | None:
        """The entry that a thing coming off adds to: of the same name; of a name alike only if it is back on."""
        found = [(self._alike(e, act, kind), e.turn, n) for n, e in enumerate(self.entries)]
        found = [f for f in found if f[0] == 3 or (f[0] == 2 and (kind == "fastener" or not self.entries[f[2]].off))]
        return self.entries[max(found)[2]] if found else None

    def _just_replaced(self, act: Act) -> bool:
        """The old one is said to be out in the breath in which the new one was said to be in."""
        return any(r.span.segment == act.span.segment and r.kind == act.kind and r.holds == act.holds
                   and self._names.likeness(r.part, act.part, act.kind) >= 2 for r in self.replaced)  # fmt: skip

    def _put(self, act: Act) -> None:
        entry = self._open_one(act, _kind(act))
        if entry is None and (one := self._by_sort(act) or self._of_several(act)) is not None:
            one.put_one(self._names.key(act.part, one.kind), act.count, act.span)
            return
        if entry is None and self._is_guessed(act):
            for one in self._apart(act):
                one.put(None, act.span)
            return
        if entry is None:
            entry = (
                self._as_many(act)
                or self._by_first_words(act)
                or self._only_ones(act)
                or self._only_seal(act)
                or self._same_place(act)
                or self._told_owner(act)
                or self._told_sort(act)
                or self._unmatched(act)
            )
        if entry is None:
            return
        if len(together := self._together(entry, act)) > 1:
            for one in together:
                one.put(None, act.span)
            return
        several = _kind(act) == "connector" and act.count is None and not act.plural and entry.left > 1
        entry.put(1 if several else act.count, act.span)  # "the grey plug's in" is one, whatever is out
        if act.kind == "fastener" and act.status == "done" and act.holds:
            self._hold_again(act.holds, act.span)
        if act.explained is not None:
            self._explain(entry, act.explained)

    def _hold_again(self, part: str, span: Span) -> None:
        """A part that was off and whose screws are in is on: "then the panel, six screws"."""
        for entry in self.entries:
            alike = self._names.likeness(entry.part, part, "part") == 3
            if entry.kind == "part" and entry.off and not entry.denied and alike and entry.out == 1:
                entry.put(None, span)

    def _as_many(self, act: Act) -> Entry | None:
        """The only fasteners of the kind of which as many are out, whatever they are said to hold."""
        if _kind(act) != "fastener" or act.count is None:
            return None
        found = [e for e in self._fasteners_off(act.part) if e.left == act.count]
        return found[0] if len(found) == 1 else None

    def _fasteners_off(self, part: str) -> list[Entry]:
        """The fasteners of a kind that are off."""
        return [e for e in self.entries if e.kind == "fastener" and e.off and self._same_kind(e.part, part)]

    def _same_kind(self, one: str, other: str) -> bool:
        """Whether two fasteners are of one kind: "cable tie", "tie"; "bolt", "fixing"."""
        if {one.split()[-1], other.split()[-1]} & self._names.any_fastener:
            return True
        a, b = self._names.key(one, "fastener"), self._names.key(other, "fastener")
        return a == b or (bool(a and b) and (a[-len(b) :] == b or b[-len(a) :] == a))

    def _only_ones(self, act: Act) -> Entry | None:
        """The only fasteners of their kind that are off, where all of some are back: "their bolts are in"."""
        if _kind(act) != "fastener" or act.count is not None or not act.plural:
            return None
        off = self._fasteners_off(act.part)
        return off[0] if len(off) == 1 else None

    def join(self) -> None:
        """Fasteners that went in and never came out are those that came out of another name and never went back.

        Only where no other ones can be meant: "bottom cover off the back, six screws", "back cover's on, five".
        """
        for one in [e for e in self.entries if e.kind == "fastener" and not e.out and e.back]:
            off = [e for e in self._fasteners_off(one.part) if e.left >= one.back and not e.back and e.out]
            if len(off) == 1 and not off[0].denied:
                off[0].put(one.back, one.in_spans[0])
                off[0].in_spans += one.in_spans[1:]
                self.entries.remove(one)

    def _by_first_words(self, act: Act) -> Entry | None:
        """The only thing that is off whose name begins like this one's: "toe kick", "toe kick grille".

        Of fasteners it is the name of what they hold.
        """
        kind = _kind(act)
        if kind not in ("part", "fastener") or act.action == "close":
            return None
        key = self._names.key((act.holds or "") if kind == "fastener" else act.part, "part")
        found = []
        for entry in self.entries:
            if (
                entry.kind != kind
                or not entry.off
                or (kind == "fastener" and not self._same_kind(entry.part, act.part))
            ):
                continue
            other = self._names.key((entry.holds or "") if kind == "fastener" else entry.part, "part")
            shared = min(len(key), len(other))  # one word is too little: the fan is no fan guard
            if shared > 1 and key[:shared] == other[:shared]:
                found.append(entry)
        return found[0] if len(found) == 1 else None

    def _by_sort(self, act: Act) -> Entry | None:
        """The only connectors that are off, of which one is called by its colour or its pins alone: "blue's in"."""
        sort = self._names.is_sort(act.part)
        if _kind(act) != "connector" or not (sort or self._names.is_colour(act.part)):
            return None
        found = [e for e in self.entries if e.kind == "connector" and e.off and (e.out > 1 or e.unknown)]
        if len(found) != 1 or found[0].out <= 1 or (sort and found[0].unknown):
            return None
        return None if found[0].again(self._names.key(act.part, "connector"), act.span) else found[0]

    def _of_several(self, act: Act) -> Entry | None:
        """The only connectors, or tubes, that came off as several under one name; one goes on under its own.

        "Lamp's in", "blue tube's in". Only where the line in which they came off names it, too: "two plugs, lamp and
        damper, they're both off". What went on in an earlier line is said again.
        """
        kind = _kind(act)
        key = self._names.key(act.part, kind)
        name = self._names.sides(act.part) if kind == "tube" else set(key)
        if kind not in ("connector", "tube") or act.action not in ("reconnect", "refit") or (act.count or 1) > 1:
            return None
        if kind == "connector" and act.action != "reconnect":
            return None
        off = [e for e in self.entries if e.kind == kind and e.off and not e.unknown]
        if kind == "tube":  # of several tubes the one line that names it is told from others
            off = [e for e in off if e.out > 1 and any(name <= self._words_of(span) for span in e.out_spans)]
        if not name or len(off) != 1 or off[0].out <= 1 or off[0].again(key, act.span):
            return None
        return off[0] if any(name <= self._words_of(span) for span in off[0].out_spans) else None

    def _words_of(self, span: Span) -> set[str]:
        """The words of the line that `span` lies in, as names are compared."""
        segment = self._places.segment(span)
        return set(self._names.key(segment.text, "part")) if segment is not None else set()

    def _only_seal(self, act: Act) -> Entry | None:
        """The only seal that is off and called alike: "foam seal", then "the foam's back"."""
        if act.kind != "seal":
            return None
        off = [e for e in self.entries if e.kind == "seal" and e.off and self._names.one_seal(e.part, act.part)]
        return off[0] if len(off) == 1 else None

    def _same_place(self, act: Act) -> Entry | None:
        """The only cover of that noun that is off, where both are told by one place: "lower panel", "back panel"."""
        if act.kind != "part" or not self._words.closes(act.part):
            return None
        noun = self._names.key(act.part, "part")[-1:]
        off = [e for e in self.entries if e.kind == "part" and e.off and self._names.key(e.part, "part")[-1:] == noun]
        return off[0] if len(off) == 1 and self._names.in_one_place(off[0].part, act.part) else None

    def _told_owner(self, act: Act) -> Entry | None:
        """The plug that was called by its colour, and then by its owner: "white plug off, that's the fan's"."""
        if _kind(act) != "connector" or act.action != "reconnect":
            return None
        off = [e for e in self.entries if e.kind == "connector" and e.off and e.out == 1
               and (self._names.is_colour(e.part) or self._names.is_sort(e.part))
               and any(self._names.is_owner(act.part, self._after(s)) for s in e.out_spans)]  # fmt: skip
        return off[0] if len(off) == 1 else None

    def _told_sort(self, act: Act) -> Entry | None:
        """The plug of which the line in which it came off told the colour or the pins that it is called by now.

        "The heater plug, red one, off. The sensor plug, blue, off", then "red plug's in".
        """
        sorted_by = self._names.is_colour(act.part) or self._names.is_sort(act.part)
        if _kind(act) != "connector" or act.action != "reconnect" or not sorted_by:
            return None
        off = [e for e in self.entries if e.kind == "connector" and e.off and e.out == 1
               and any(self._names.is_sort_told(act.part, self._about(e, span)) for span in e.out_spans)]  # fmt: skip
        return off[0] if len(off) == 1 else None

    def _about(self, entry: Entry, span: Span) -> str:
        """What the line says of the plug that came off in `span`.

        The whole line where it is the only one; of several that which stands between its noun and the end of the act.
        """
        segment = self._places.segment(span)
        if segment is None:
            return ""
        words = [w.word.lower() for w in segment.words]
        others = [s.last for e in self.entries if e.kind == "connector" and e is not entry for s in e.out_spans
                  if s.segment == span.segment]  # fmt: skip
        if not others:
            return " ".join(words)
        first = max((n for n in others if n < span.last), default=0)
        noun = entry.part.split()[-1]
        told = words[first : span.last]
        at = next((n for n, w in enumerate(told) if w.strip(".,") == noun), len(told) - 1)
        return " ".join(told[at:])

    def _after(self, span: Span) -> str:
        """What was said in the line after `span`."""
        segment = self._places.segment(span)
        return " ".join(w.word.strip() for w in segment.words[span.last :]) if segment is not None else ""

    def _together(self, entry: Entry, act: Act) -> list[Entry]:
        """`entry` and others, where "both" are more than it has: "both plugs are back on, pump and float switch".

        They came off in one line, or are all that are off; the line in which they go on names each of them or none.
        """
        if entry.kind != "connector" or not entry.off or act.count is None or act.count <= entry.left:
            return []
        off = [e for e in self.entries if e.kind == "connector" and e.off]
        if any(e.unknown for e in off):
            return []
        line = [e for e in off if e.out_spans[-1].segment == entry.out_spans[-1].segment]
        heard = self._words_of(act.span)
        for group in (line, off):
            keys = [set(self._names.key(e.part, "connector")) for e in group]
            own = [k.difference(*(o for o in keys if o is not k)) for k in keys]
            named = [bool(words & heard) for words in own]
            nouns = {p.split()[-1] for p in (act.part, *(e.part for e in group))} & self._names.connector_nouns
            as_many = sum(e.left for e in group) == act.count and len(nouns - {"connector"}) <= 1
            if as_many and (all(named) or not any(named)):
                return group
        return []

    def _is_guessed(self, act: Act) -> bool:
        """Whether several connectors go on under a name that their line does not say: "both plugs are latched"."""
        several = act.plural or (act.count or 0) > 1
        key = set(self._names.key(act.part, "connector"))
        return _kind(act) == "connector" and several and bool(key) and not key & self._words_of(act.span)

    def _apart(self, act: Act) -> list[Entry]:
        """All connectors that are off, where as many of them go on as are off; else none.

        "Light plug off, sensor plug off", and after the damper's "both plugs are latched".
        """
        off = [e for e in self.entries if e.kind == "connector" and e.off]
        as_many = act.count is not None and sum(e.left for e in off) == act.count
        return off if as_many and not any(e.unknown for e in off) else []

    def _unmatched(self, act: Act) -> Entry | None:
        """Nothing alike is out: a number of things that went in counts all the same; without one it is a recap."""
        if act.count is None or act.action == "close" or act.span.segment == self._blanket:
            return None
        return self._known(act, _kind(act)) or self._new(act, _kind(act))

    def _open_one(self, act: Act, kind: ItemKind) -> Entry | None:
        """The entry that is out and meant: most alike, then of that number, then the last to come off."""
        off = [(n, e) for n, e in enumerate(self.entries) if e.off and not self._laid(e, act)]
        # "green wire's on" is the green wire among wiring sooner than a plug without a name
        for least in (2, 1) if act.kind == "wiring" else (1,):
            for kinds in _candidates(kind, act.action):
                found = [(alike, kind == "fastener" and e.left == act.count, e.turn, n) for n, e in off
                         if (alike := self._alike(e, act, kinds)) >= least]  # fmt: skip
                if found:
                    return self._with_as_many(self.entries[max(found)[3]], act, kinds)
        return None

    def _with_as_many(self, entry: Entry, act: Act, kind: ItemKind) -> Entry:
        """`entry`; where fewer of its name are off than go on, the only connectors of that noun of which enough are."""
        if kind != "connector" or act.count is None:
            return entry
        before = self._instead.get(act.part)
        if before is not None and before.left >= act.count:
            return before  # "two on. Third one, on": where the two went
        if entry.unknown or entry.left >= act.count:
            return entry
        noun = act.part.split()[-1]
        enough = [e for e in self.entries if e.kind == kind and e.left >= act.count and e.part.split()[-1] == noun]
        if len(enough) != 1:
            return entry
        self._instead[act.part] = enough[0]
        return enough[0]

    def _laid(self, entry: Entry, act: Act) -> bool:
        """Whether one is wiring that is put where it runs and the other a plug of another name.

        "The loom's up" puts no plug on, and "the lamp plug's in" lays no loom.
        """
        if entry.part.split()[-1] == act.part.split()[-1]:
            return False
        if act.kind == "wiring" and act.action == "refit":
            return entry.kind == "connector"
        named = bool(self._names.key(act.part, "connector")) and not self._names.key(entry.part, "wiring")
        return entry.kind == "wiring" and act.kind == "connector" and act.action == "reconnect" and named

    def _alike(self, entry: Entry, act: Act, kind: ItemKind) -> int:
        if entry.kind != kind:
            return 0
        if kind != "fastener":
            return self._names.likeness(entry.part, act.part, kind)
        if not self._same_kind(entry.part, act.part):
            return 0
        if entry.holds is None or act.holds is None:
            return 3 if entry.holds == act.holds else 1
        return self._names.likeness(entry.holds, act.holds, "part")

    def _replace(self, act: Act) -> None:
        self.replaced.append(act)
        entry = self._open_one(act, act.kind)
        count = act.count
        if act.kind == "fastener" and count is None and not act.plural:
            count = 1
        if entry is None and act.kind == "fastener" and count is not None:
            entry = self._as_many(act) or self._unmatched(act)
        entry = entry or self._only_seal(act)
        if entry is not None:
            entry.put(count, act.span, renewed=True)

    def _all_back(self, act: Act) -> None:
        if act.action not in _IN and act.action != "replace":
            return
        self._blanket = act.span.segment
        for entry in self.entries:
            if entry.off and (entry.left or entry.unknown):
                entry.put(None, act.span)

    def _deny(self, act: Act) -> None:
        if act.action not in _IN or act.part == EVERYTHING:
            return
        entry = self._open_one(act, _kind(act)) or self._known(act, _kind(act))
        if entry is None:
            entry = self._new(act, _kind(act))
        entry.deny(act.count, act.span)
        if act.explained is not None:
            self._explain(entry, act.explained)

    def _lose(self, lost: Lost) -> None:
        act = Act(action="refit", part=lost.part, kind="fastener", status="done", span=lost.span, holds=lost.holds)
        entry = self._open_one(act, "fastener") or self._known(act, "fastener")
        if entry is not None:
            entry.explained = entry.explained or lost.text
            entry.lost = max(entry.lost, 1)

    def _explain(self, entry: Entry, words: str) -> None:
        entry.explained = words
        entry.lost = max(0.0, entry.out - entry.back)

    def _new(self, act: Act, kind: ItemKind) -> Entry:
        entry = Entry(part=act.part, kind=kind, holds=act.holds if kind == "fastener" else None)
        self.entries.append(entry)
        return entry


def _kind(act: Act) -> ItemKind:
    """What moves: what is disconnected is a connector, unless it carries water or gas or is a part of its own kind."""
    if act.action in ("disconnect", "reconnect") and act.kind in ("part", "wiring"):
        return "connector"
    return act.kind


def _candidates(kind: ItemKind, action: str) -> tuple[ItemKind, ...]:
    """Kinds among which a thing that goes back is looked for, in order."""
    if kind == "connector":
        return ("connector", "wiring") if action != "reconnect" else ("connector", "wiring", "tube")
    return _AMONG[kind]


def make_ledger(
    statements: Statements, transcript: Transcript, words: Words, names: Names, sentences: Mapping[str, str]
) -> Ledger:
    """The ledger of all that was said.

    Acts that are done or narrated move it; refits that are denied open it. `sentences` are templates for the reasons.
    """
    places = Places(transcript)
    walk = _Walk(names, words, places)
    said: list[Act | Lost] = [*statements.acts, *statements.lost]
    for statement in sorted(said, key=lambda s: places.of(s.span)):
        walk.move(statement)
    walk.join()
    for entry in walk.entries:
        entry.settle()
    items = tuple(_item(f"i{n}", entry, statements.notes, names) for n, entry in enumerate(walk.entries, 1))
    return Ledger(
        items=items,
        reassembly_order=_order(walk.entries, names),
        open=tuple(OpenItem(id=i.id, reason=_reason(i, e, sentences))
                   for i, e in zip(items, walk.entries, strict=True) if e.off),
    )  # fmt: skip


def _item(id_: str, entry: Entry, notes: tuple[Noted, ...], names: Names) -> LedgerItem:
    state: ItemState = "open" if entry.off else "replaced" if entry.renewed else "restored"
    return LedgerItem(
        id=id_, part=entry.part, kind=entry.kind, holds=entry.holds, count_out=entry.out, count_in=entry.back,
        state=state, explained=entry.explained if entry.off else None, orientation=_orientation(entry, notes, names),
        out_evidence=_evidence(entry.out_spans), in_evidence=_evidence(entry.in_spans),
    )  # fmt: skip


def _evidence(spans: list[Span]) -> tuple[Evidence, ...]:
    return tuple(evidence(s) for s in dict.fromkeys(spans))


def _orientation(entry: Entry, notes: tuple[Noted, ...], names: Names) -> str | None:
    """How it sat, in the words of the first note of it."""
    if entry.kind == "fastener":
        return None
    found = (n.text for n in notes if n.kind == "orientation" and names.likeness(n.about, entry.part, entry.kind) >= 2)
    return next(found, None)


def _order(entries: list[Entry], names: Names) -> tuple[str, ...]:
    """Ids of what came off, last off first. Screws named after the cover they hold came off before it."""

    def turn(entry: Entry) -> float:
        held = [e.turn for e in entries if entry.kind == "fastener" and entry.holds and e.kind != "fastener" and e.turn
                and e.place[0] == entry.place[0] and names.likeness(e.part, entry.holds, "part") >= 2]  # fmt: skip
        return min([entry.turn, *(t - 0.5 for t in held)])

    off = [(turn(e), n) for n, e in enumerate(entries, 1) if e.turn]
    return tuple(f"i{n}" for _, n in sorted(off, reverse=True))


def _reason(item: LedgerItem, entry: Entry, sentences: Mapping[str, str]) -> str:
    """Why it is open, in one sentence."""
    if item.kind == "fastener":
        case = "explained" if item.explained else "fastener"
        case = case if item.holds else f"{case}_bare"
    elif entry.denied:
        case = "denied"
    else:
        case = "some" if item.count_out > 1 else item.kind
    text = sentences[f"open.{case}"].format(
        part=item.part, holds=item.holds, out=f"{item.count_out:g}", back=f"{item.count_in:g}",
        explained=(item.explained or "").strip().rstrip("."),
    )  # fmt: skip
    return text[:1].upper() + text[1:]
