"""From a file to a customer's report: bringing in, understanding, changing, deciding, issuing."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from web_site import FAULTY, Browser, Site, running, sample

from voicereport.report import Report
from voicereport.store.values import Recording
from voicereport.web.sniff import kind_of
from voicereport.web.work import Worker

pytest.importorskip("spacy")
CLEAN = """WEBVTT

1
00:00.000 --> 00:05.000
Work order four four one eight. Upright freezer, model QF four four one, serial number B seven seven two nine.
Customer says it is warm.

2
00:06.000 --> 00:11.000
I pulled the plug out of the wall. Took the rear panel off, six screws out.

3
00:12.000 --> 00:18.000
Unplugged the fan motor harness. Fan motor reads forty eight ohms.

4
00:19.000 --> 00:26.000
The cause is a seized evaporator fan motor. Fitted a new evaporator fan motor. Plugged the fan motor harness back in.

5
00:27.000 --> 00:34.000
Earth continuity reads point one ohms. Rear panel is back on, six screws in. The plug is back in.

6
00:35.000 --> 00:44.000
Ran it for twenty minutes, it runs fine. The freezer is at minus nineteen degrees. It took fifty minutes.
"""
SECOND = """WEBVTT

00:00.000 --> 00:05.000
Second visit. The cabinet is at minus nineteen degrees. It runs fine.
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("site")) as made:
        yield made


@pytest.fixture
def office(site: Site) -> Browser:
    return site.role("office")


@pytest.fixture
def supervisor(site: Site) -> Browser:
    return site.role("supervisor")


def brought(site: Site, browser: Browser, text: str = FAULTY, known: dict[str, str] | None = None) -> int:
    """A job from a transcript, understood. Each is a little different: the same bytes are the same recording."""
    answer = browser.upload("kitchen.vtt", text.encode(), **(known or {}))
    assert answer.status_code == 303, answer.text
    site.work()
    return int(answer.headers["location"].split("/")[2].split("?")[0])


def report(site: Site, job: int) -> Report:
    stored = site.store.reports.latest(job)
    assert stored is not None
    return stored.report


def version(site: Site, job: int) -> int:
    return site.store.jobs.get(job).version


def change(site: Site, browser: Browser, job: int, path: str, **fields: str) -> Any:
    return browser.post(f"/jobs/{job}/entries", {"path": path, "version": str(version(site, job)), "why": "heard so",
                                                 **fields})  # fmt: skip


# --- bringing in


def test_a_transcript_becomes_a_report(site: Site, office: Browser) -> None:
    job = brought(site, office, known={"customer": "Ms Dunmore", "site": "3 Gannet Lane"})
    row = site.store.jobs.get(job)
    assert row.state == "ready"
    assert row.status == "blocked"
    found = report(site, job)
    assert found.job.customer is not None
    assert found.job.customer.value == "Ms Dunmore"
    assert found.job.customer.entered_by == "tarn"  # typed when the job was made: nobody said it
    page = office.get(f"/jobs/{job}").text
    assert "Nobody says that the supply was disconnected" in page
    assert "six screws out" in page
    assert "kitchen.vtt" in page


@pytest.mark.parametrize(
    ("name", "content"),
    [("a.wav", b""), ("a.wav", b"<html><script>alert(1)</script>"), ("a.mp3", b"MZ\x90\0" + b"\0" * 100),
     ("a.vtt", b"not a transcript"), ("a.json", b'{"jobs": []}'), ("a.json", b"[" * 100_000),
     ("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>")],
    ids=["empty", "html", "program", "text", "json", "deep", "svg"],
)  # fmt: skip
def test_what_is_no_recording_is_refused_whatever_its_name(
    site: Site, office: Browser, name: str, content: bytes
) -> None:
    before = site.store.jobs.page().total
    assert office.upload(name, content).status_code == 422
    assert site.store.jobs.page().total == before


# the signatures: RFC 3533 (Ogg), RFC 9639 (FLAC), RFC 4867 (AMR), RFC 8794 (EBML), ISO/IEC 14496-12 (ftyp), W3C WebVTT
@pytest.mark.parametrize(
    ("content", "kind"),
    [(b"RIFF\0\0\0\0WAVEfmt ", "audio/wav"), (b"OggS\0\x02", "audio/ogg"), (b"fLaC\0", "audio/flac"),
     (b"\0\0\0\x20ftypM4A ", "audio/mp4"), (b"\0\0\0\x20ftyp3gp4", "audio/3gpp"), (b"\x1aE\xdf\xa3", "audio/webm"),
     (b"#!AMR\n", "audio/amr"), (b"FORM\0\0\0\0AIFF", "audio/aiff"), (b"ID3\x03", "audio/mpeg"),
     (b"\xff\xfb\x90", "audio/mpeg"), (b"\xff\xf1\x50", "audio/aac"), ("\ufeffWEBVTT\n".encode(), "text/vtt"),
     (b"1\n00:00:01,000 --> 00:00:02,000\nhello\n", "application/x-subrip"), (b"RIFF\0\0\0\0AVI ", None),
     (b"%PDF-1.7", None)],
)  # fmt: skip
def test_files_are_known_by_their_bytes(content: bytes, kind: str | None) -> None:
    found = kind_of(io.BytesIO(content))
    assert (found.media_type if found else None) == kind


def test_a_broken_recording_says_so_and_can_be_tried_again(site: Site, office: Browser) -> None:
    answer = office.upload("noise.wav", b"RIFF\x24\0\0\0WAVE" + b"\0" * 64)
    job = int(answer.headers["location"].split("/")[2].split("?")[0])
    site.work()
    row = site.store.jobs.get(job)
    assert row.state == "failed"
    assert row.problem
    page = office.get(f"/jobs/{job}").text
    assert "Try again" in page
    assert office.post(f"/jobs/{job}/again").status_code == 303
    assert site.store.jobs.get(job).state == "queued"
    site.work()


def test_progress_is_told(site: Site, office: Browser) -> None:
    answer = office.upload("kitchen.vtt", FAULTY.replace("fifty", "forty").encode())
    job = answer.headers["location"].split("?")[0]
    assert office.get(f"{job}/progress").json() == {"sentence": "Waits for its turn", "share": 0.0, "settled": False}
    assert "data-waiting" in office.get(job).text
    site.work()
    assert office.get(f"{job}/progress").json()["settled"] is True


def test_uploads_beyond_the_limit_are_refused(tmp_path: Path) -> None:
    with running(tmp_path, upload_bytes=2000) as small:
        answer = small.role("office").upload("a.vtt", b"WEBVTT\n" + b"x" * 3000)
        assert answer.status_code == 413
        assert small.store.jobs.page().total == 0


# --- sound


def tone(path: Path, seconds: float = 3.0) -> bytes:
    """A wav file of a tone."""
    import math
    import wave

    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        count = int(16000 * seconds)
        file.writeframes(b"".join(int(9000 * math.sin(n / 9)).to_bytes(2, "little", signed=True) for n in range(count)))
    return path.read_bytes()


def test_sound_is_given_by_byte_ranges_and_by_seconds(site: Site, office: Browser, tmp_path: Path) -> None:
    content = tone(tmp_path / "tone.wav")
    job = site.job(sample("freezer"))
    kept: Recording = site.store.recordings.add(job.id, "tone.wav", io.BytesIO(content), media_type="audio/wav",
                                                by="tarn", now=site.now)  # fmt: skip
    address = f"/jobs/{job.id}/recordings/{kept.id}"
    whole = office.get(f"{address}/sound")
    assert whole.content == content
    part = office.get(f"{address}/sound", headers={"range": "bytes=100-199"})
    assert part.status_code == 206  # RFC 9110, 15.3.7
    assert part.content == content[100:200]
    assert part.headers["content-range"] == f"bytes 100-199/{len(content)}"
    cut = office.get(f"{address}/cut", params={"start": 1.0, "end": 1.5})
    assert cut.content[:4] == b"OggS"
    for start, end in ((2.0, 1.0), (0.0, 500.0)):
        assert office.get(f"{address}/cut", params={"start": start, "end": end}).status_code == 404
    other = site.job(sample("freezer"))
    assert office.get(f"/jobs/{other.id}/recordings/{kept.id}/sound").status_code == 404  # of another job


# --- changing


def test_a_change_is_told_and_the_report_is_checked_again(site: Site, office: Browser) -> None:
    job = brought(site, office, FAULTY.replace("fifty", "sixty"))
    place = next(n for n, s in enumerate(report(site, job).steps) if s.action == "refit" and s.part == "screw")
    before = next(c for c in report(site, job).checks if c.id == "fasteners-balanced")
    step = report(site, job).steps[place]
    form = office.get(f"/jobs/{job}?change=/steps/{place}").text
    assert 'value="screw"' in form
    done = change(site, office, job, f"/steps/{place}", action="refit", part="screw", count="4", holds=step.holds or "",
                  location="", status="done", visit="1")  # fmt: skip
    assert done.status_code == 303, done.text
    changed = report(site, job)
    assert changed.steps[place].count == 4
    assert changed.steps[place].entered_by == "otto"
    assert changed.steps[place].evidence  # the words stay beside it
    assert changed.review.changes[-1].why == "heard so"
    assert before.state  # the check is stated anew from the report as it is
    page = office.get(f"/jobs/{job}").text
    assert "Typed by Otto Farrowby" in page


def test_an_entry_is_added_and_struck(site: Site, office: Browser) -> None:
    job = brought(site, office, FAULTY.replace("fifty", "seventy"))
    labour = next(c for c in report(site, job).checks if c.id == "operation-verified")
    assert labour.state == "missing"
    done = change(site, office, job, "/readings/-", quantity="temperature", subject="cabinet", value="-19.5",
                  value_high="", unit="Cel", qualifier="exact", stage="as_left", reference="")  # fmt: skip
    assert done.status_code == 303, done.text
    added = report(site, job).readings[-1]
    assert (added.value, added.unit, added.decimals, added.entered_by) == (-19.5, "Cel", 1, "otto")
    assert not added.evidence
    place = len(report(site, job).readings) - 1
    assert change(site, office, job, f"/readings/{place}", act="strike").status_code == 303
    assert len(report(site, job).readings) == place
    assert change(site, office, job, "/findings/-", text="Bearing dry", status="done").status_code == 303
    place = len(report(site, job).findings) - 1
    assert change(site, office, job, f"/findings/{place}", act="strike").status_code == 303
    assert report(site, job).findings[place].status == "retracted"  # what was told stays, as taken back
    assert [c.who for c in report(site, job).review.changes] == ["otto"] * 4


def test_what_is_typed_alone_confirms_no_stop_level_check(site: Site, office: Browser) -> None:
    """The contract: a stop-level check is confirmed only by words that assert it."""

    def state(name: str) -> str:
        return next(c.state for c in report(site, job).checks if c.id == name)

    job = brought(site, office, FAULTY.replace("fifty", "twenty"))
    assert state("connectors-restored") == "missing"
    place = next(n for n, i in enumerate(report(site, job).ledger.items) if i.kind == "connector" and i.state == "open")
    item = report(site, job).ledger.items[place]
    back = {"count_out": f"{item.count_out:g}", "count_in": f"{item.count_out:g}"}
    assert change(site, office, job, f"/ledger/items/{place}", **back).status_code == 303
    assert report(site, job).ledger.items[place].state == "restored"
    assert state("connectors-restored") == "unclear"
    assert "rests on what was typed" in office.get(f"/jobs/{job}").text
    # what was said stays confirmed, whatever is typed beside it
    clean = brought(site, office, CLEAN)
    assert change(site, office, clean, "/findings/-", text="Typed", status="done").status_code == 303
    assert site.store.jobs.get(clean).open_stops == 0


@pytest.mark.parametrize(
    ("path", "fields", "told"),
    [("/readings/-", {"quantity": "temperature", "value": "warm", "qualifier": "exact"}, "is no number"),
     ("/readings/-", {"quantity": "temperature", "value": "", "qualifier": "exact"}, "is needed"),
     ("/readings/-", {"quantity": "nonsense", "value": "3", "qualifier": "exact"}, "none of the choices"),
     ("/readings/-", {"quantity": "voltage", "value": "1e400", "qualifier": "exact"}, "is no number"),
     ("/steps/-", {"action": "refit", "part": "", "status": "done", "visit": "1"}, "is needed"),
     ("/steps/-", {"action": "refit", "part": "panel", "status": "done", "visit": "1.5"}, "whole number"),
     ("/checks/0", {}, "no entry"), ("/review/-", {"text": "x"}, "no entry"), ("/steps/9999", {}, "no entry")],
)  # fmt: skip
def test_what_cannot_be_used_is_told_and_changes_nothing(
    site: Site, office: Browser, path: str, fields: dict[str, str], told: str
) -> None:
    job = site.job(sample("freezer")).id
    answer = change(site, office, job, path, **fields)
    assert answer.status_code == 422
    assert told in answer.text
    assert version(site, job) == 1


def test_two_people_at_once(site: Site, office: Browser) -> None:
    job = site.job(sample("freezer")).id
    first = {"path": "/findings/-", "version": "1", "why": "w", "text": "one", "status": "done"}
    assert office.post(f"/jobs/{job}/entries", first).status_code == 303
    late = site.role("supervisor").post(f"/jobs/{job}/entries", {**first, "text": "two"})
    assert late.status_code == 409
    assert "Somebody changed this report" in late.text
    assert [r.text for r in report(site, job).findings][-1] == "one"


def test_the_jobs_facts_are_changed(site: Site, office: Browser) -> None:
    job = site.job(sample("freezer")).id
    form = office.get(f"/jobs/{job}?change=/job").text
    assert 'name="appliance/serial"' in form
    known = report(site, job).job
    fields = {"work_order": known.work_order.value if known.work_order else "", "customer": "Mr Lowfield",
              "appliance/serial": "Z-1", "labour_min": "75"}  # fmt: skip
    assert change(site, office, job, "/job", **fields).status_code == 303
    after = report(site, job).job
    assert after.customer is not None
    assert (after.customer.value, after.customer.entered_by) == ("Mr Lowfield", "otto")
    assert after.appliance.serial is not None
    assert after.appliance.serial.value == "Z-1"
    assert after.labour_min is not None
    assert after.labour_min.value == 75


def test_a_doubtful_word_is_settled_and_the_report_understood_anew(site: Site, office: Browser) -> None:
    job = brought(site, office, FAULTY.replace("fifty", "eighty"))
    found = report(site, job)
    n, segment = next((n, s) for n, s in enumerate(found.transcript.segments) if "forty eight" in s.text)
    at = next(k for k, w in enumerate(segment.words) if w.word == "forty")
    words = list(segment.words)
    words[at] = words[at].model_copy(update={"probability": 0.3, "alternative": "fifty"})
    segments = list(found.transcript.segments)
    segments[n] = segment.model_copy(update={"words": tuple(words)})
    doubtful = found.model_copy(
        update={"transcript": found.transcript.model_copy(update={"segments": tuple(segments)})}
    )
    site.store.reports.save(job, doubtful, by="tarn", now=site.now, why="a doubt for the test")
    # somebody typed an entry before: it must outlive the new understanding
    assert change(site, office, job, "/findings/-", text="Typed before", status="done").status_code == 303
    page = office.get(f"/jobs/{job}/doubts").text
    assert "<mark>forty</mark>" in page
    assert "fifty" in page
    answer = office.post(f"/jobs/{job}/doubts", {"place": f"{n}.{at}", "version": str(version(site, job)),
                                                 "choice": "other"})  # fmt: skip
    assert answer.status_code == 303
    assert "word_settled" in answer.headers["location"]
    after = report(site, job)
    settled = after.transcript.segments[n].words[at]
    assert (settled.word, settled.probability, settled.alternative) == ("fifty", 1.0, None)
    assert [r.value for r in after.readings if r.quantity == "resistance"] == [58.0]
    assert "Typed before" in [r.text for r in after.findings]
    assert office.get(f"/jobs/{job}/doubts").text.count("<mark>") == 0


def test_a_second_visit_keeps_what_people_changed(site: Site, office: Browser) -> None:
    job = brought(site, office, FAULTY.replace("fifty", "ninety"))
    change(site, office, job, "/findings/-", text="Typed after the first visit", status="done")
    answer = office.upload("second.vtt", SECOND.encode(), path=f"/jobs/{job}/recordings")
    assert answer.status_code == 303
    site.work()
    after = report(site, job)
    assert [r.name for r in after.recordings] == ["kitchen.vtt", "second.vtt"]
    assert [r.visit for r in after.recordings] == [1, 2]
    assert "Typed after the first visit" in [r.text for r in after.findings]
    assert any(r.quantity == "temperature" and r.value == -19 for r in after.readings)
    assert len({s.id for s in after.steps}) == len(after.steps)


ASKED = """WEBVTT

00:00.000 --> 00:05.000
The evaporator cover is off. The lower shelf is off.

00:06.000 --> 00:08.000
Notebook, take that back.

00:10.000 --> 00:14.000
Notebook, make a note, the hinge of the door is bent.

00:16.000 --> 00:18.000
Notebook, I've pulled the plug out.
"""


def test_requests_in_a_recording_that_was_brought_in_are_no_part_of_the_job(site: Site, office: Browser) -> None:
    job = brought(site, office, ASKED)
    answer = office.upload("second.vtt", SECOND.replace("It runs", "And it runs").encode(),
                           path=f"/jobs/{job}/recordings")  # fmt: skip
    assert answer.status_code == 303
    site.work()  # what was heard before is read again, from the report
    found = report(site, job)
    assert len(found.recordings) == 2
    assert [(s.action, s.part) for s in found.steps if s.action in ("remove", "isolate")] == [
        ("remove", "evaporator cover")
    ]
    assert [n.text for n in found.notes] == ["the hinge of the door is bent."]
    assert next(c for c in found.checks if c.id == "power-isolated").state == "missing"
    assert sum("Request to the tool" in line for line in found.transcript.dropped) == 3
    page = office.get(f"/jobs/{job}").text
    assert "Said to the tool" in page


# --- deciding and issuing


def test_a_blocked_report_does_not_go_out_until_it_is_let_pass(
    site: Site, office: Browser, supervisor: Browser
) -> None:
    job = brought(site, office, FAULTY.replace("fifty", "thirty"))
    blocked = office.post(f"/jobs/{job}/issue", {"version": str(version(site, job))})
    assert blocked.status_code == 409
    assert supervisor.post(f"/jobs/{job}/accept", {"version": str(version(site, job))}).status_code == 409
    settled = ("confirmed", "not_applicable")
    stops = [c.id for c in report(site, job).checks if c.severity == "stop" and c.state not in settled]
    assert stops
    for check in stops:
        lacking = supervisor.post(f"/jobs/{job}/checks/{check}/override", {"version": str(version(site, job))})
        assert lacking.status_code == 422  # a reason is needed
        form = {"version": str(version(site, job)), "reason": f"Seen on site, stop {stops.index(check)}"}
        done = supervisor.post(f"/jobs/{job}/checks/{check}/override", form)
        assert done.status_code == 303
    reason = "Seen on site, stop 0"
    pages = {
        "job": office.get(f"/jobs/{job}").text,
        "preview": office.get(f"/jobs/{job}/preview.html").text,
        "customer page": office.get(f"/jobs/{job}/customer").text,
    }
    assert reason in pages["job"]
    assert reason in pages["preview"]
    assert reason in office.get(f"/jobs/{job}/audit.html").text
    assert "let pass by Sina Quillhart" in office.get(f"/jobs/{job}/preview.html").text
    assert "Sina Quillhart" in pages["preview"]
    assert "let pass" in pages["customer page"]
    assert reason in pdf_text(office.get(f"/jobs/{job}/preview.pdf").content)
    # the check itself stays as it was found
    assert {c.state for c in report(site, job).checks if c.id in stops} <= {"missing", "unclear", "contradicted",
                                                                            "out_of_order"}  # fmt: skip
    assert supervisor.post(f"/jobs/{job}/accept", {"version": str(version(site, job))}).status_code == 303
    assert office.post(f"/jobs/{job}/issue", {"version": str(version(site, job))}).status_code == 303
    kept = office.get(f"/jobs/{job}/issues/1/customer.html")
    assert reason in kept.text
    assert "script" not in kept.headers["content-security-policy"]


def pdf_text(content: bytes) -> str:
    """The words of a PDF, from its tagged text as pdftotext gives it."""
    import shutil
    import subprocess

    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    done = subprocess.run(["pdftotext", "-", "-"], input=content, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def test_an_override_can_be_taken_back(site: Site, supervisor: Browser) -> None:
    found = sample("chiller")
    check = found.checks[0].id
    lacking = found.checks[0].model_copy(update={"state": "missing"})
    job = site.job(found.model_copy(update={"checks": (lacking, *found.checks[1:]), "status": "blocked"})).id
    supervisor.post(f"/jobs/{job}/checks/{check}/override", {"version": "1", "reason": "Seen"})
    number = site.store.review.overrides(job)[0].id
    assert supervisor.post(f"/jobs/{job}/overrides/{number}/lift").status_code == 303
    assert "Seen" not in supervisor.get(f"/jobs/{job}/preview.html").text


def test_issue_withdraw_and_issue_again(site: Site, office: Browser) -> None:
    job = clean_job(site)
    assert office.post(f"/jobs/{job}/issue", {"version": str(version(site, job)), "note": "by post"}).status_code == 303
    assert report(site, job).review.signed_by is not None
    first = office.get(f"/jobs/{job}/issues/1/customer.pdf")
    assert first.content[:5] == b"%PDF-"
    assert office.post(f"/jobs/{job}/issue", {"version": str(version(site, job))}).status_code == 409  # one stands
    assert office.post(f"/jobs/{job}/withdraw", {}).status_code == 422  # a reason is needed
    assert office.post(f"/jobs/{job}/withdraw", {"why": "wrong serial"}).status_code == 303
    change(site, office, job, "/findings/-", text="Corrected", status="done")
    assert office.post(f"/jobs/{job}/issue", {"version": str(version(site, job))}).status_code == 303
    issues = site.store.review.issues(job)
    assert [i.number for i in issues] == [1, 2]
    assert issues[0].withdrawn_why == "wrong serial"
    assert office.get(f"/jobs/{job}/issues/1/customer.pdf").content == first.content  # as it went out
    assert "Corrected" in office.get(f"/jobs/{job}/issues/2/customer.html").text
    assert office.get(f"/jobs/{job}/issues/1/secrets").status_code == 404
    assert site.store.trail.verify().sound


def clean_job(site: Site) -> int:
    """A job in which no stop-level entry is open."""
    job = brought(site, site.role("office"), CLEAN)
    assert site.store.jobs.get(job).open_stops == 0
    return job


def test_sent_back_answered_and_accepted(site: Site, office: Browser, supervisor: Browser) -> None:
    job = clean_job(site)
    assert supervisor.post(f"/jobs/{job}/send-back", {"question": ""}).status_code == 422
    asked = supervisor.post(f"/jobs/{job}/send-back", {"question": "Was the plug out?", "check": "power-isolated"})
    assert asked.status_code == 303
    assert site.store.jobs.get(job).state == "sent_back"
    assert "Was the plug out?" in site.role("technician").get(f"/jobs/{job}").text
    assert office.post(f"/jobs/{job}/issue", {"version": "1"}).status_code == 409
    number = site.store.review.questions(job)[0].id
    answer = site.role("technician").post(
        f"/jobs/{job}/questions/{number}/answer", {"answer": "Yes, before the panel."}
    )
    assert answer.status_code == 303
    assert site.store.jobs.get(job).state == "ready"
    assert "Yes, before the panel." in supervisor.get(f"/jobs/{job}").text
    assert supervisor.post(f"/jobs/{job}/accept", {"version": str(version(site, job))}).status_code == 303
    assert site.store.jobs.get(job).state == "accepted"
    other = site.job(sample("freezer")).id
    assert supervisor.post(f"/jobs/{other}/questions/{number}/answer", {"answer": "x"}).status_code == 404


# --- the company's own


def test_letterhead_wording_and_limits_of_the_company(site: Site, office: Browser) -> None:
    job = site.job(sample("freezer")).id
    reading = next(r for r in report(site, job).readings if r.value is not None and r.quantity == "resistance")
    fields = {"company": "Brackwater Cold Works", "address": "14 Quay Row\nPort Harrow", "phone": "", "licence": "",
              "paper": "us-letter", "profile": "UK", "label.reported": "What you told us",
              "sentence.deference": "Codes {come} first.", "limit-title": "Own limit", "limit-quantity": "resistance",
              "limit-subject": reading.subject or "", "limit-low": "1", "limit-high": "2", "limit-unit": "Ohm",
              "limit-stage": "", "limit-source": "Our own bench"}  # fmt: skip
    assert office.post("/company", fields).status_code == 303
    page = office.get(f"/jobs/{job}/preview.html").text
    assert "Brackwater Cold Works" in page
    assert "What you told us" in page
    assert "Codes {come} first." in page
    assert "size: letter" in page
    change(site, office, job, "/findings/-", text="So that it is judged again", status="done")
    judged = next(r for r in report(site, job).readings if r.id == reading.id)
    assert judged.verdict.source == "Own limit: Our own bench"
    assert judged.verdict.result == "outside"
    for wrong in ({"limit-unit": ""}, {"limit-low": "", "limit-high": ""}, {"limit-low": "5"}, {"paper": "a3"},
                  {"limit-source": ""}):  # fmt: skip
        assert office.post("/company", {**fields, **wrong}).status_code == 422, wrong
    assert site.app.state.site.company.get().limits[0].high == 2
    assert site.store.trail.entries(after=site.store.trail.head()[0] - 50)[0] is not None
    again = office.get("/company").text
    assert "Own limit" in again
    assert office.post("/company", {"company": "", "paper": "a4", "profile": "US"}).status_code == 303


def test_sound_past_its_time_is_deleted_and_held_sound_is_not(tmp_path: Path) -> None:
    with running(tmp_path) as site:
        jobs = [site.job(sample("freezer")).id for _ in range(2)]
        for job in jobs:
            site.store.recordings.add(job, "a.wav", io.BytesIO(tone(tmp_path / "tone.wav", 1.0 + job)),
                                      media_type="audio/wav", by="tarn", now=site.now)  # fmt: skip
        office = site.role("office")
        assert office.post(f"/jobs/{jobs[0]}/hold", {"held": "yes"}).status_code == 303
        assert office.post("/company", {"paper": "a4", "profile": "US", "keep_days": "x"}).status_code == 422
        assert office.post("/company", {"paper": "a4", "profile": "US", "keep_days": "30"}).status_code == 303
        worker = Worker(site.app.state.site)
        worker.sweep()
        site.later(days=31)
        worker.sweep()
        kept = [site.store.recordings.of(job)[0].path is not None for job in jobs]
        assert kept == [True, False]
        page = site.role("office").get(f"/jobs/{jobs[1]}").text
        assert "deleted 2026-04-09" in page
        assert site.store.reports.latest(jobs[1]) is not None
        assert site.store.trail.verify(files=True).sound


def test_a_known_serial_number_brings_its_data_plate(site: Site, office: Browser) -> None:
    known = site.job(sample("freezer"))
    assert known.serial
    assert f'value="{known.model}"' in office.get("/jobs/new", params={"serial": known.serial}).text
    answer = office.upload("kitchen.vtt", FAULTY.encode(), serial=known.serial)
    job = site.store.jobs.get(int(answer.headers["location"].split("/")[2].split("?")[0]))
    assert (job.model, job.maker, job.serial) == (known.model, known.maker, known.serial)


# --- looking across


def test_search_finds_by_words_part_reading_and_appliance(site: Site, office: Browser) -> None:
    job = site.job(sample("freezer"), work_order="WO-FIND").id
    found = report(site, job)
    reading = next(r for r in found.readings if r.value is not None and r.unit)
    assert reading.value is not None
    for query in ({"quantity": reading.quantity, "low": str(reading.value - 0.1), "high": str(reading.value + 0.1),
                   "unit": reading.unit or ""}, {"words": found.transcript.segments[0].text.split()[0]}):  # fmt: skip
        page = office.get("/search", params=query)
        assert page.status_code == 200
        assert f'/jobs/{job}"' in page.text, query
    assert office.get("/search", params={"low": "abc"}).status_code == 422
    assert "Nothing was found" in office.get("/search", params={"words": "zzzyx"}).text


def test_oversight_counts_with_intervals_and_gives_csv(site: Site, supervisor: Browser) -> None:
    page = supervisor.get("/oversight").text
    shares = site.store.overview.shares("check")
    assert shares
    assert f"{shares[0].skipped} of {shares[0].applicable}" in page
    csv = supervisor.get("/oversight/skipped.csv").text.splitlines()
    assert csv[0] == "key,title,open,called for,share,low (95 %),high (95 %)"
    assert len(csv) == len(shares) + 1
    for one in shares[:3]:
        assert supervisor.get(f"/oversight/checks/{one.key}").status_code == 200
    assert supervisor.get("/oversight/checks/no-such").status_code == 404
    assert supervisor.get("/oversight/skipped.csv?by=shoe-size").status_code == 404


def test_the_trail_is_verified_on_the_page(site: Site, supervisor: Browser) -> None:
    page = supervisor.post("/trail/verify").text
    assert "The chain holds" in page
