"""The renderings of hand-made reports: what they say, what they must not say, and that they hold together."""

from __future__ import annotations

import base64
import csv
import dataclasses
import hashlib
import io
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from voicereport import render
from voicereport.errors import TemplateError
from voicereport.render import Letterhead, audit, customer, pages, reassembly
from voicereport.render.context import Context, context_of
from voicereport.render.wording import load_wording
from voicereport.report import Check, Reading, Remark, Report, Step, dump_json

DATA = Path(__file__).parent / "data" / "render"
NAMES = ("freezer", "chiller", "lesson")
LETTERHEAD = Letterhead(
    company="Brackwater Cold Works", address=("14 Quay Row", "Sandmouth"), phone="0555 0142", licence="CW 20817"
)
FILES = (
    "report.json",
    "customer.html",
    "customer.pdf",
    "audit.html",
    "reassembly.html",
    "transcript.vtt",
    "readings.csv",
)


def load(name: str) -> Report:
    return Report.model_validate_json((DATA / f"{name}.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def freezer() -> Report:
    return load("freezer")


@pytest.fixture(scope="module")
def chiller() -> Report:
    return load("chiller")


@pytest.fixture(scope="module")
def lesson() -> Report:
    return load("lesson")


class _Words(HTMLParser):
    """The words of a page: no markup, no style, no script."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in ("style", "script", "title")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "script", "title")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def words_of(page: str) -> str:
    parser = _Words()
    parser.feed(page)
    return re.sub(r"\s+", " ", " ".join(parser.words).replace("\xa0", " "))


def section_of(page: str, heading: str) -> str:
    """The words of the section under a heading."""
    sections = re.findall(r"<section[^>]*>(.*?)</section>", page, re.S)
    return next(words_of(section) for section in sections if f">{heading}</h2>" in section)


def no_sound(recording: str, start: float, end: float) -> bytes | None:
    return None


# --- all together


@pytest.mark.parametrize("name", NAMES)
def test_all_files_are_written_twice_alike_and_nothing_else_is_left(name: str, tmp_path: Path) -> None:
    first = render.render_all(load(name), tmp_path / "one", letterhead=LETTERHEAD)
    second = render.render_all(load(name), tmp_path / "two", letterhead=LETTERHEAD)
    assert tuple(path.name for path in first) == FILES
    assert sorted(path.name for path in (tmp_path / "one").iterdir()) == sorted(FILES)
    for one, other in zip(first, second, strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name


def test_the_report_written_is_the_report_given(freezer: Report, tmp_path: Path) -> None:
    paths = render.render_all(freezer, tmp_path, letterhead=LETTERHEAD)
    assert Report.model_validate_json(paths[0].read_text(encoding="utf-8")) == freezer


def test_a_failing_write_leaves_the_former_file_whole(
    freezer: Report, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "report.json").write_text("former", encoding="utf-8")

    def refuse(source: object, target: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("voicereport.render.files.os.replace", refuse)
    with pytest.raises(TemplateError, match="disk full"):
        render.render_all(freezer, tmp_path, letterhead=LETTERHEAD)
    assert [path.name for path in tmp_path.iterdir()] == ["report.json"]
    assert (tmp_path / "report.json").read_text(encoding="utf-8") == "former"


def test_a_paper_that_is_not_known_is_refused() -> None:
    with pytest.raises(TemplateError, match="a4 or us-letter"):
        Letterhead(paper="a3")  # type: ignore[arg-type]


# --- templates get what is documented, and use it

VIEWS: tuple[tuple[str, type, Callable[..., pages.View]], ...] = (
    ("customer.html", customer.CustomerView, customer.customer_view),
    ("audit.html", audit.AuditView, audit.audit_view),
    ("reassembly.html", reassembly.ReassemblyView, reassembly.reassembly_view),
)


def names_used(template: str, seen: set[str]) -> set[str]:
    """Names that a template, what it extends, includes and imports with its context take from outside."""
    from jinja2 import Environment, meta, nodes

    if template in seen:
        return set()
    seen.add(template)
    folder = Path(__file__).parent.parent / "templates"
    tree = Environment().parse((folder / template).read_text(encoding="utf-8"))
    names = set(meta.find_undeclared_variables(tree)) - {macro.name for macro in tree.find_all(nodes.Macro)}
    for imported in tree.find_all(nodes.FromImport):
        names -= {name if isinstance(name, str) else name[1] for name in imported.names}
    for other in meta.find_referenced_templates(tree):
        assert other is not None
        names |= names_used(other, seen)
    return names - {"strip"}  # the loop's own name, which the included drawing takes


@pytest.mark.parametrize(("template", "view", "make"), VIEWS)
def test_names_used_are_names_documented(template: str, view: type, make: Callable[..., pages.View]) -> None:
    documented = {entry.name for entry in dataclasses.fields(view)}
    used = names_used(template, set()) - set(pages.PAGE_NAMES)
    assert used - documented == set(), "names without a field in the view: document them there"
    allowed_unused = {"letterhead"} if template != "customer.html" else set()
    assert documented - used - allowed_unused == set(), "fields that no template shows: drop them or show them"


@pytest.mark.parametrize(("template", "view", "make"), VIEWS)
def test_keys_given_are_keys_documented(
    template: str, view: type, make: Callable[..., pages.View], freezer: Report
) -> None:
    given = pages.view_values(make(freezer, context_of(freezer, load_wording()), LETTERHEAD))
    assert set(given) == {entry.name for entry in dataclasses.fields(view)}


def test_every_field_of_every_view_has_a_help_line() -> None:
    from voicereport.render import context, facts, figures, sentences, strips

    modules = (audit, context, customer, facts, figures, reassembly, sentences, strips)
    values = [thing for module in modules for thing in vars(module).values() if isinstance(thing, type)]
    shown = [
        v
        for v in values
        if dataclasses.is_dataclass(v)
        and v.__module__.startswith("voicereport.render")
        and v not in (Context, figures.Pair)
    ]
    lacking = [
        f"{value.__name__}.{entry.name}"
        for value in shown
        for entry in dataclasses.fields(value)
        if not entry.metadata.get("help") and value.__name__ not in ("Letterhead", "Wording")
    ]
    assert len(shown) > 15
    assert lacking == []


# --- the customer's report


def test_customer_report_has_what_the_visit_was_about(freezer: Report) -> None:
    page = render.customer_html(freezer, letterhead=LETTERHEAD)
    for words in (
        "Brackwater Cold Works", "14 Quay Row", "0555 0142", "CW 20817", "4417", "Hollow Lane Dairy", "0093 7715",
        "Warm at the top", "one block of ice", "New defrost heater fitted", "H-2207", "48.3", "open circuit",
        "Keep the vents clear", "sharp fins", "does not replace competent inspection", "Local codes", "licensed",
    ):  # fmt: skip
        assert words in words_of(page), words


def test_customer_report_holds_no_transcript(freezer: Report) -> None:
    page = words_of(render.customer_html(freezer, letterhead=LETTERHEAD))
    for segment in freezer.transcript.segments:
        assert segment.text not in page


@pytest.mark.parametrize("status", ["retracted", "planned", "unclear", "not_done", "advised"])
def test_only_asserted_work_is_shown_as_done(status: str) -> None:
    work = Step.model_validate({"id": "a", "action": "replace", "part": "widget", "status": status, "entered_by": "X"})
    told = Remark.model_validate({"text": "New widget fitted", "status": status, "entered_by": "X"})
    for report in (Report(steps=(work,)), Report(correction=(told,)), Report(steps=(work,), correction=(told,))):
        assert "widget" not in section_of(render.customer_html(report, letterhead=LETTERHEAD), "What we did")


def test_work_is_told_from_done_steps_where_no_correction_was_spoken(chiller: Report) -> None:
    did = section_of(render.customer_html(chiller, letterhead=LETTERHEAD), "What we did")
    assert "Fitted new: the filter drier." in did
    assert "Pulled a vacuum on the sealed system." in did


def test_instructions_are_told_as_instructions_and_only_where_nothing_was_done(lesson: Report) -> None:
    page = render.customer_html(lesson, letterhead=LETTERHEAD)
    told = section_of(page, "The work, as instructions")
    assert "Fit new: the condenser fan motor." in told
    assert "does not say that they were done" in told
    assert "What we did" not in words_of(page)
    done = Step(id="z", action="clean", part="condenser", status="done", entered_by="X")
    both = render.customer_html(lesson.model_copy(update={"steps": (*lesson.steps, done)}), letterhead=LETTERHEAD)
    assert "Cleaned the condenser." in section_of(both, "What we did")
    assert "Fit new" not in words_of(both)


def test_what_is_open_is_told_with_its_state_and_not_with_orders_to_the_technician(freezer: Report) -> None:
    told = section_of(render.customer_html(freezer, letterhead=LETTERHEAD), "What is still open")
    for check in freezer.checks:
        assert (f"{check.title}." in told) == (check.state not in ("confirmed", "not_applicable")), check.id
        assert check.reason not in told
    assert "Connectors plugged in again. Nobody said that it was done." in told
    assert "Not said to be back: the evaporator fan harness." in told
    assert "Not done yet: Renew the foam tape" in told


@pytest.mark.parametrize(
    ("kind", "spoken", "shown"),
    [
        ("complaint", "The customer says that it runs all day.", "That it runs all day."),
        ("complaint", "Customer says the freezer is warm.", "The freezer is warm."),
        ("complaint", "The customer service line rang.", "The customer service line rang."),
        ("cause", "So the cause is a failed heater.", "The cause is a failed heater."),
        ("cause", "Sodium on the contacts.", "Sodium on the contacts."),
        ("recommendations", "I’ve advised the customer to keep food away.", "Keep food away."),
        ("recommendations", "I told her the drier wants changing.", "The drier wants changing."),
        ("recommendations", "It is off and I've told the customer to leave it off.", "Leave it off."),
        ("recommendations", "Told the customer.", "Told the customer."),
    ],
)
def test_needless_words_at_the_start_of_a_remark_are_left_away(kind: str, spoken: str, shown: str) -> None:
    heading = {"complaint": "What you reported", "cause": "What we found", "recommendations": "Our advice"}[kind]
    proof = {"recording": "a", "segment": "s", "start": 0, "end": 1, "quote": spoken, "confidence": 1}
    heard = Report.model_validate({kind: [{"text": spoken, "evidence": [proof]}]})
    typed = Report.model_validate({kind: [{"text": spoken, "entered_by": "X"}]})
    assert section_of(render.customer_html(heard, letterhead=LETTERHEAD), heading).strip().endswith(f" {shown}")
    assert spoken in section_of(render.customer_html(typed, letterhead=LETTERHEAD), heading)
    assert spoken in words_of(render.audit_html(heard, letterhead=LETTERHEAD))


def test_a_customer_is_told_no_durations_and_no_verdict_without_a_limit() -> None:
    waited = reading(id="t", quantity="time", value=25, unit="min")
    warm = reading(id="w", value=4, unit="Cel", stage="as_left")
    view = view_of(waited, warm)
    assert view.process == ()
    assert [row.result for row in view.before_after] == [""]


@pytest.mark.parametrize(
    ("minutes", "shown"), [(45, "45 min"), (60, "1 h"), (205, "3 h 25 min"), (0, "0 min"), (90.5, "90.5 min")]
)
def test_labour_in_hours_and_minutes(minutes: float, shown: str) -> None:
    page = words_of(render.customer_html(Report.model_validate({"job": {"labour_min": {"value": minutes}}}),
                                         letterhead=LETTERHEAD))  # fmt: skip
    assert f"Labour {shown}" in page.replace("\xa0", " ")


def test_safety_steps_carry_their_state_in_words(freezer: Report) -> None:
    told = section_of(render.customer_html(freezer, letterhead=LETTERHEAD), "Safety steps")
    assert "Said at the wrong time. Supply off before the work" in told
    assert "Nobody said that it was done. Connectors plugged in again" in told
    assert "Shown to be dead" not in told


def test_empty_report_renders_everywhere(tmp_path: Path) -> None:
    paths = render.render_all(Report(), tmp_path, letterhead=Letterhead())
    assert all(path.stat().st_size > 0 for path in paths)
    assert "Nothing was said about this." in words_of((tmp_path / "customer.html").read_text(encoding="utf-8"))


# --- figures


def view_of(*readings: Reading) -> customer.CustomerView:
    report = Report(readings=readings)
    return customer.customer_view(report, context_of(report, load_wording()), LETTERHEAD)


def reading(**values: object) -> Reading:
    return Reading.model_validate({"id": "r", "quantity": "temperature", "spoken": "x", "entered_by": "X"} | values)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"value": -18.5, "decimals": 1, "unit": "Cel"}, "\N{MINUS SIGN}18.5\xa0°C"),
        ({"value": 48, "decimals": 1, "unit": "Ohm"}, "48.0\xa0Ω"),
        ({"value": 0.00001, "unit": "A"}, "0.00001\xa0A"),
        ({"value": 1e6, "unit": "Ohm"}, "1000000\xa0Ω"),
        ({"value": 5, "unit": "V", "qualifier": "about"}, "about 5\xa0V"),
        ({"value": 5, "unit": "V", "qualifier": "at_least"}, "at least 5\xa0V"),
        ({"value": 5, "value_high": 7, "unit": "V", "qualifier": "range"}, "5 to 7\xa0V"),
        ({"qualifier": "open_circuit"}, "open circuit"),
        ({"qualifier": "short_circuit"}, "short circuit"),
        ({}, "no figure"),
    ],
)
def test_values_read_as_a_technician_would_write_them(values: dict[str, object], words: str) -> None:
    row = view_of(reading(**values)).process[0]
    assert row.process is not None
    assert row.process.words == words


def test_as_found_stands_beside_as_left(freezer: Report) -> None:
    view = customer.customer_view(freezer, context_of(freezer, load_wording()), LETTERHEAD)
    rows = {row.name: row for row in view.before_after}
    heater, cabinet = rows["Defrost heater, resistance"], rows["Cabinet, temperature"]
    assert heater.found is not None
    assert heater.found.words == "open circuit"
    assert cabinet.found is not None
    assert cabinet.left is not None
    assert (cabinet.found.whole, cabinet.left.whole, cabinet.left.fraction) == (
        "\N{MINUS SIGN}4",
        "\N{MINUS SIGN}18",
        ".5",
    )


def test_marks_stand_in_the_order_of_their_values_and_the_bracket_round_what_is_within() -> None:
    verdict = {"result": "within", "low": 45, "high": 55, "unit": "Ohm"}
    common = {"quantity": "resistance", "subject": "heater", "unit": "Ohm", "verdict": verdict}
    (strip,) = view_of(
        reading(value=80, stage="as_found", **common), reading(value=50, stage="as_left", **common)
    ).strips
    found, left = strip.dots
    assert strip.low is not None
    assert strip.high is not None
    assert 0 < strip.low < left.x < strip.high < found.x < 320
    assert (left.x - strip.low) == pytest.approx(strip.high - left.x, abs=0.2)  # 50 is half way from 45 to 55
    assert (found.shape, left.shape) == ("open", "filled")
    assert all(part in strip.alt for part in ("80", "50", "45 to 55"))


def test_a_limit_in_another_unit_than_the_scale_draws_no_bracket() -> None:
    verdict = {"result": "within", "low": 32, "high": 41, "unit": "[degF]"}
    strips = view_of(
        reading(value=17, unit="Cel", stage="as_found", verdict=verdict),
        reading(value=4, unit="Cel", stage="as_left", verdict=verdict),
    ).strips
    assert [(strip.low, strip.high) for strip in strips] == [(None, None)]


def test_one_figure_without_a_limit_has_no_scale() -> None:
    assert view_of(reading(value=4, unit="Cel", stage="as_left")).strips == ()


# --- the audit


def test_audit_opens_with_what_is_open_and_names_every_fault(freezer: Report) -> None:
    page = render.audit_html(freezer, letterhead=LETTERHEAD)
    opening = words_of(page[page.index('class="opening"') : page.index("</section>")])
    assert "3 entries must be settled before this job may be closed." in opening
    for check in freezer.checks:
        assert (check.reason in opening) == (check.state not in ("confirmed", "not_applicable")), check.id


def test_nothing_open_is_said_so(chiller: Report) -> None:
    assert "Nothing is open" in words_of(render.audit_html(chiller, letterhead=LETTERHEAD))


def test_audit_shows_all_that_the_report_holds(freezer: Report) -> None:
    page = words_of(render.audit_html(freezer, letterhead=LETTERHEAD))
    for check in freezer.checks:
        assert check.title in page
        if check.state != "not_applicable":
            assert check.reason in page
            assert all(piece.quote in page for piece in check.evidence)
    for item in freezer.readings:
        assert item.spoken in page
        assert (item.verdict.worked or "") in page
    for entry in freezer.recordings:
        assert entry.sha256 in page
    assert "not spoken" in page


def test_states_are_words_with_a_rule_of_their_own(freezer: Report) -> None:
    page = render.audit_html(freezer, letterhead=LETTERHEAD)
    for state, word in (
        ("out_of_order", "Out of order"), ("missing", "Missing"), ("contradicted", "Contradicted"),
        ("unclear", "Unclear"), ("confirmed", "Confirmed"),
    ):  # fmt: skip
        assert re.search(rf'class="entry ruled {state}">.*?<span class="state">{word}\.</span>', page), state


def test_doubtful_words_are_marked_and_what_was_heard_is_kept(freezer: Report) -> None:
    page = render.audit_html(freezer, letterhead=LETTERHEAD)
    assert '<mark class="doubt">blue</mark>' in page  # probability 0.41
    assert re.search(r'<mark class="doubt">five</mark> <span class="instead">\[or fifty\]', page)
    assert page.count('<mark class="doubt">') == 3
    assert "heard as The frost heater reads open circuit" in words_of(page)


def test_sounds_are_embedded_once_for_exactly_their_seconds(freezer: Report) -> None:
    asked: list[tuple[str, float, float]] = []

    def snippet(recording: str, start: float, end: float) -> bytes | None:
        asked.append((recording, start, end))
        return f"OggS {start} {end}".encode()

    page = render.audit_html(freezer, letterhead=LETTERHEAD, snippets=snippet)
    sources = re.findall(r'<audio id="([^"]+)" preload="none" src="data:audio/ogg;base64,([^"]+)"', page)
    assert len(asked) == len(set(asked)) == len(sources)
    for (_, start, end), (_, data) in zip(asked, sources, strict=True):
        assert base64.b64decode(data).decode() == f"OggS {start} {end}"
    buttons = set(re.findall(r'data-sound="([^"]+)"', page))
    assert buttons == {id_ for id_, _ in sources}
    evidence = {(e.recording, e.start, e.end) for check in freezer.checks for e in check.evidence}
    assert evidence <= set(asked)


@pytest.mark.parametrize("snippets", [None, no_sound])
def test_without_sound_there_is_no_player_and_no_script(freezer: Report, snippets: render.Snippets | None) -> None:
    page = render.audit_html(freezer, letterhead=LETTERHEAD, snippets=snippets)
    assert "<button" not in page
    assert "<script" not in page
    assert "<audio" not in page
    assert '<span class="time">00:52</span>' in page


def test_a_letter_names_the_recording_where_there_are_several(chiller: Report) -> None:
    page = words_of(render.audit_html(chiller, letterhead=LETTERHEAD))
    assert "A 00:40" in page
    assert "B 1:01:40" in page


def test_what_a_person_typed_has_initials_in_the_margin(chiller: Report) -> None:
    assert '<span class="time">AM</span>' in render.audit_html(chiller, letterhead=LETTERHEAD)


# --- pages keep to themselves


def all_pages(report: Report) -> dict[str, str]:
    return {
        "customer": render.customer_html(report, letterhead=LETTERHEAD),
        "audit": render.audit_html(report, letterhead=LETTERHEAD, snippets=lambda *_: b"OggS"),
        "reassembly": render.reassembly_html(report, letterhead=LETTERHEAD),
    }


@pytest.mark.parametrize("name", NAMES)
def test_policy_allows_the_page_s_own_style_and_script_and_nothing_else(name: str) -> None:
    for page in all_pages(load(name)).values():
        found = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page)
        assert found
        policy = found[1].replace("&#39;", "'")
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        for tag in ("style", "script"):
            blocks = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.S)
            for block in blocks:
                digest = base64.b64encode(hashlib.sha256(block.encode()).digest()).decode()
                assert f"{tag}-src 'sha256-{digest}'" in policy
            assert f"<{tag} " not in page
            assert (f"{tag}-src" in policy) == bool(blocks)


@pytest.mark.parametrize("name", NAMES)
def test_pages_fetch_nothing(name: str) -> None:
    for page in all_pages(load(name)).values():
        rest = page.replace("http://www.w3.org/2000/svg", "")
        assert re.search(r"https?:|//[a-z]|url\(|@import|<link|<img|<iframe", rest.split("<script>")[0]) is None
        assert re.search(r"\sstyle=|\son\w+=", page) is None


# --- the sheet for the bench


def test_reassembly_is_last_off_first_with_counts_and_notes(lesson: Report) -> None:
    page = render.reassembly_html(lesson, letterhead=LETTERHEAD)
    items = [words_of(item) for item in re.findall(r'<li class="item">(.*?)</li>', page, re.S)]
    assert [re.sub(r"\s+", " ", item).strip()[:22] for item in items] == [
        "1 Condenser fan lead R", "4 Bolts of the condens", "1 Toe kick 00:21", "2 Screws of the toe ki",
    ]  # fmt: skip
    assert "Runs behind the drain tube" in items[0]
    assert "The long ones at the bottom" in items[1]
    assert page.count('class="box"') == 4
    assert "it cuts" in words_of(page)


def test_strip_down_comes_first_for_a_narration_in_the_imperative_only(lesson: Report, freezer: Report) -> None:
    page = words_of(render.reassembly_html(lesson, letterhead=LETTERHEAD))
    steps = [
        "Shut off the power supply", "Take off 2 screws of the toe kick", "Take off the toe kick", "Take off 4 bolts",
        "Disconnect the condenser fan lead", "Putting it back",
    ]  # fmt: skip
    places = [page.index(step) for step in steps]
    assert places == sorted(places)
    assert "Taking it apart" not in words_of(render.reassembly_html(freezer, letterhead=LETTERHEAD))


# --- files for machines


def test_captions_are_read_back_by_an_independent_parser(freezer: Report, tmp_path: Path) -> None:
    webvtt = pytest.importorskip("webvtt")  # webvtt-py
    path = tmp_path / "t.vtt"
    path.write_text(render.transcript_vtt(freezer), encoding="utf-8")
    cues = list(webvtt.read(str(path)))
    segments = freezer.transcript.segments
    assert [cue.text for cue in cues] == [segment.text for segment in segments]
    for cue, segment in zip(cues, segments, strict=True):
        assert cue.start_in_seconds == pytest.approx(segment.start, abs=1)


def test_captions_of_a_second_recording_start_where_the_first_ends(chiller: Report) -> None:
    text = render.transcript_vtt(chiller)
    assert "NOTE second visit.ogg, from 00:03:10.000" in text  # the first lasts 190 s
    assert "00:03:14.000 --> " in text  # and the second's first words come at 4 s
    starts = re.findall(r"^(\d\d:\d\d:\d\d\.\d{3}) -->", text, re.M)
    assert starts == sorted(starts)


def rows_of(report: Report) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(render.readings_csv(report), newline="")))


def test_table_is_rfc_4180_with_every_reading(freezer: Report) -> None:
    text = render.readings_csv(freezer)
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n") == len(freezer.readings) + 1
    assert text.splitlines()[0] == (
        "id,visit,stage,quantity,subject,spoken,value,value_high,unit,si_value,si_unit,limit_low,limit_high,verdict,"
        "source,reason,recording,start,end"
    )
    assert [row["id"] for row in rows_of(freezer)] == [item.id for item in freezer.readings]


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "si_value", "si_unit"),
    [
        # NIST SP 811 (2008), B.8 and 4.2.2: t/°C = T/K - 273.15; °F to K: (t + 459.67)/1.8; psi: 6894.757 Pa
        (-18.5, "Cel", "temperature", 254.65, "K"),
        (14, "[degF]", "temperature", 263.15, "K"),
        (18, "[degF]", "temperature_difference", 10.0, "K"),
        (10, "[psi]", "pressure", 68947.57, "Pa"),
        (48.3, "Ohm", "resistance", 48.3, "Ohm"),
    ],
)
def test_table_gives_si_values(value: float, unit: str, quantity: str, si_value: float, si_unit: str) -> None:
    (row,) = rows_of(Report(readings=(reading(value=value, unit=unit, quantity=quantity),)))
    assert float(row["si_value"]) == pytest.approx(si_value, rel=1e-6)
    assert row["si_unit"] == si_unit
    assert float(row["value"]) == value  # negative numbers stay numbers


def test_report_json_is_stable(freezer: Report) -> None:
    assert json.loads(dump_json(freezer))["status"] == "blocked"


def test_many_open_checks_are_named_by_title() -> None:
    checks = tuple(
        Check(id=f"c{n}", title=f"Title {n}", severity="stop", state="missing", reason=f"Reason {n}.") for n in range(9)
    )
    page = render.audit_html(Report(checks=checks), letterhead=LETTERHEAD)
    opening = words_of(page[page.index('class="opening"') : page.index("</section>")])
    assert "9 entries must be settled" in opening
    assert "Title 8 (missing)" in opening
    assert "Reason 8" not in opening
