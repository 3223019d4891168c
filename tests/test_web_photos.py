"""Photos that a technician pinned: on the pages of the job at their moment, as pictures and as nothing else."""

from __future__ import annotations

import hashlib
import re
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from test_web_technician import JPEG, begin, connect, frame, head_of, sound
from web_site import Site, running

from voicereport.report import RecordingEntry, Report, SegmentEntry, TranscriptEntry

RECORDING = "1" * 32


def png(width: int = 1) -> bytes:
    """A picture by the specification of PNG (W3C, third edition): signature, IHDR, IDAT, IEND."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"".join(b"\0" + b"\x80\x40\x20" * width for _ in range(1))
    head = struct.pack(">IIBBBBB", width, 1, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with running(tmp_path) as made:
        made.app.state.hearing = None
        yield made


def recorded(site: Site, *, photos: dict[int, bytes]) -> int:
    """A job with a sealed recording and photos at these milliseconds."""
    tarn = site.role("technician")
    with connect(tarn) as line:
        job = int(begin(line, RECORDING, work_order="WO-1")["job"]["id"])
        for at, content in photos.items():
            assert tarn.client.put(f"/onsite/photos/{RECORDING}/{at}", content=content).status_code == 200
        for number, piece in enumerate((head_of(sound(0.2)), sound(0.2))):
            line.send_bytes(frame(RECORDING, number, piece))
            line.receive_json()
        line.send_json({"do": "close", "recording": RECORDING, "pieces": 2})
        assert "sealed" in line.receive_json()
    return job


def understood(site: Site, job: int) -> None:
    """The job's report, with three segments."""
    (heard,) = [r for r in site.store.recordings.of(job) if r.media_type.startswith("audio/")]
    entry = RecordingEntry(name="phone.wav", sha256=heard.sha256, duration_s=90, speech_s=9, visit=1, engine="e",
                           model="m", language="en")  # fmt: skip
    segments = tuple(
        SegmentEntry(id=f"r1s00{n}", recording="phone.wav", start=at, end=at + 3, heard=words, text=words, words=())
        for n, (at, words) in enumerate(((10.0, "The first words."), (40.0, "The middle words."), (80.0, "The last.")))
    )
    report = Report(recordings=(entry,), transcript=TranscriptEntry(segments=segments), status="complete")
    task = site.store.queue.claim("w", now=site.now)
    assert task is not None
    assert site.store.reports.save_result(task, report, by="voicereport", now=site.now, why="heard") is not None


def near(page: str, words: str) -> str:
    """The entry of what was said that has these words, as HTML."""
    found = re.search(rf'<li class="entry" id="words-[^"]+">(?:(?!</li>)[\s\S])*{words}(?:(?!</li>)[\s\S])*</li>', page)
    assert found is not None
    return found[0]


@pytest.mark.parametrize("role", ["office", "supervisor", "administrator", "technician"])
def test_a_photo_stands_at_its_moment_for_everybody_who_may_see_the_job(site: Site, role: str) -> None:
    job = recorded(site, photos={3_000: JPEG, 41_000: png(2), 79_900: png(3)})
    understood(site, job)
    page = site.role(role).get(f"/jobs/{job}").text
    shown = {words: re.findall(r'<img class="photo" src="([^"]+)"', near(page, words))
             for words in ("The first words", "The middle words", "The last")}  # fmt: skip
    assert [len(found) for found in shown.values()] == [1, 2, 0]  # before the first words: beside them
    for address in {one for found in shown.values() for one in found}:
        assert site.role(role).get(address).headers["content-type"].startswith("image/")
    assert "Photo at 00:41 of phone.wav" in page
    assert page.count('class="photo"') == 6  # and all together once more
    assert "go into no report" in page


def test_photos_are_shown_before_anything_is_understood(site: Site) -> None:
    job = recorded(site, photos={3_000: JPEG})
    page = site.role("office").get(f"/jobs/{job}").text
    assert page.count('class="photo"') == 1
    assert "Waits for its turn" in page


def test_a_photo_is_given_out_as_a_picture_and_as_nothing_else(site: Site) -> None:
    job = recorded(site, photos={3_000: JPEG})
    (pin,) = site.role("office").get(f"/onsite/jobs/{job}/photos").json()
    answer = site.role("office").get(pin["address"])
    assert answer.content == JPEG
    headers = answer.headers
    assert headers["content-type"] == "image/jpeg"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["content-disposition"].startswith("inline; filename=")
    assert "phone" not in headers["content-disposition"]  # not a name that somebody sent


@pytest.mark.parametrize(
    "content",
    [b"<html><script>alert(1)</script>", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
     b"GIF89a" + b"\0" * 20, b"%PDF-1.7", b"\xff\xd8", b"RIFF\0\0\0\0WAVEfmt ", b"", b"OggS" + b"\0" * 20],
    ids=["html", "svg", "gif", "pdf", "cut off", "sound", "nothing", "ogg"],
)  # fmt: skip
def test_what_is_no_picture_is_refused(site: Site, content: bytes) -> None:
    tarn = site.role("technician")
    with connect(tarn) as line:
        job = begin(line, RECORDING)["job"]["id"]
    answer = tarn.client.put(f"/onsite/photos/{RECORDING}/100", content=content)
    assert answer.status_code == 422
    assert site.store.recordings.of(job) == ()


def test_a_picture_that_became_something_else_on_the_disk_is_not_given_out(site: Site) -> None:
    job = recorded(site, photos={3_000: JPEG})
    (photo,) = [r for r in site.store.recordings.of(job) if r.media_type == "image/jpeg"]
    assert photo.path is not None
    photo.path.write_bytes(b"<html><script>alert(1)</script>")
    assert site.role("office").get(f"/onsite/jobs/{job}/photos/{photo.id}").status_code == 404
    photo.path.unlink()
    assert site.role("office").get(f"/onsite/jobs/{job}/photos/{photo.id}").status_code == 404


def test_a_recording_is_no_photo_and_a_photo_is_no_sound(site: Site) -> None:
    job = recorded(site, photos={3_000: JPEG})
    understood(site, job)
    office = site.role("office")
    by_kind = {r.media_type.split("/")[0]: r.id for r in site.store.recordings.of(job)}
    assert office.get(f"/onsite/jobs/{job}/photos/{by_kind['audio']}").status_code == 404
    assert office.get(f"/jobs/{job}/recordings/{by_kind['image']}/sound").status_code == 404
    assert office.get(f"/onsite/jobs/{job + 1}/photos/{by_kind['image']}").status_code == 404


def test_a_photo_that_was_deleted_after_its_time_says_so(site: Site) -> None:
    job = recorded(site, photos={41_000: JPEG})
    understood(site, job)
    site.later(days=40)
    site.store.retention.sweep(now=site.now, keep_days=30, by="ada")
    page = site.role("office").get(f"/jobs/{job}").text
    assert "The photo was deleted on 2026-04-18, after its time." in near(page, "The middle words")
    assert 'class="photo"' not in page


def test_no_photo_goes_into_a_report(site: Site) -> None:
    """The contract has no place for one."""
    job = recorded(site, photos={41_000: JPEG})
    understood(site, job)
    office = site.role("office")
    for name in ("preview.html", "audit.html", "report.json", "reassembly.html"):
        assert "image/jpeg" not in office.get(f"/jobs/{job}/{name}").text.replace("image/svg", "")
        assert "photo" not in office.get(f"/jobs/{job}/{name}").text.lower()


def test_two_recordings_of_one_name_keep_their_photos_apart(site: Site) -> None:
    tarn, second = site.role("technician"), "2" * 32
    job = recorded(site, photos={3_000: JPEG})
    with connect(tarn) as line:
        line.send_json({"do": "open", "recording": second, "name": "phone.wav", "job": {"id": job}})
        line.receive_json()
        assert tarn.client.put(f"/onsite/photos/{second}/5000", content=png(4)).status_code == 200
        for number, piece in enumerate((head_of(sound(0.3)), sound(0.3))):
            line.send_bytes(frame(second, number, piece))
            line.receive_json()
        line.send_json({"do": "close", "recording": second, "pieces": 2})
        line.receive_json()
    entries, segments = [], []
    audio = [r for r in site.store.recordings.of(job) if r.media_type.startswith("audio/")]
    for n, heard in enumerate(audio, 1):
        name = "phone.wav" if n == 1 else "phone (2).wav"
        entries.append(RecordingEntry(name=name, sha256=heard.sha256, duration_s=9, speech_s=9, visit=1, engine="e",
                                      model="m", language="en"))  # fmt: skip
        segments.append(SegmentEntry(id=f"r{n}s001", recording=name, start=1, end=2, heard="x", text=f"Words of {n}.",
                                     words=()))  # fmt: skip
    report = Report(recordings=tuple(entries), transcript=TranscriptEntry(segments=tuple(segments)), status="complete")
    site.store.reports.save(job, report, by="voicereport", now=site.now, why="heard")
    page = site.role("office").get(f"/jobs/{job}").text
    first, other = (re.findall(r'src="([^"]+)"', near(page, f"Words of {n}")) for n in (1, 2))
    assert len(first) == len(other) == 1
    pictures = {site.role("office").get(one[0]).content for one in (first, other)}
    assert {hashlib.sha256(p).hexdigest() for p in pictures} == {hashlib.sha256(p).hexdigest() for p in (JPEG, png(4))}
    assert site.role("office").get(other[0]).content == png(4)
