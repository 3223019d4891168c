"""The API: described by OpenAPI, held to its description, under the same rules as the pages."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from web_site import FAULTY, Site, running, sample, served


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("site")) as made:
        for _ in range(3):
            made.job(sample("freezer"))
        yield made


@pytest.fixture(scope="module")
def header(site: Site) -> dict[str, str]:
    secret, _ = site.store.people.make_token("ada", "test", by="ada", now=site.now)
    return {"authorization": f"Bearer {secret}"}


# A body of bytes that is no recording is refused as such (RFC 9110, 15.5.16), though the description allows any bytes
SETTINGS = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", "401", "403", "404", "409", "415", "429"]
"""


def test_it_holds_what_it_describes(site: Site, header: dict[str, str], tmp_path: Path) -> None:
    """schemathesis: every operation with values that the description allows and forbids, alone and after each other."""
    program = Path(sys.executable).with_name("schemathesis")
    if not program.is_file():
        pytest.skip("schemathesis is not installed")
    (tmp_path / "schemathesis.toml").write_text(SETTINGS, encoding="utf-8")
    with served(site) as address:
        done = subprocess.run(
            [program, "run", f"{address}/api/v1/openapi.json", "-H", f"authorization: {header['authorization']}",
             "--max-examples", "10", "--seed", "1", "--no-color"],
            cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
    assert "Tested: 16" in done.stdout
    assert done.returncode == 0, done.stdout[-4000:]
    assert site.store.trail.verify().sound


def test_a_whole_job_by_the_api(site: Site, header: dict[str, str]) -> None:
    pytest.importorskip("spacy")
    client = site.client()
    made = client.post(
        "/api/v1/jobs", json={"technician": "tarn", "work_order": "WO-API", "key": "one"}, headers=header
    )
    assert made.status_code == 201
    again = client.post("/api/v1/jobs", json={"technician": "tarn", "key": "one"}, headers=header)
    assert again.json()["id"] == made.json()["id"]
    base = f"/api/v1/jobs/{made.json()['id']}"
    sent = client.post(f"{base}/recordings", params={"name": "kitchen.vtt"}, content=FAULTY.encode(), headers=header)
    assert sent.status_code == 201
    assert sent.json()["media_type"] == "text/vtt"
    assert client.get(f"{base}/report", headers=header).status_code == 404  # not made yet
    site.work()
    report = client.get(f"{base}/report", headers=header).json()
    assert report["status"] == "blocked"
    edit = {"expected": 1, "edits": [{"kind": "add", "path": "/findings/-", "value": {"text": "By the API"},
                                      "why": "told"}]}  # fmt: skip
    assert client.post(f"{base}/edits", json=edit, headers=header).json()["version"] == 2
    assert client.post(f"{base}/edits", json=edit, headers=header).status_code == 409  # the version has moved on
    assert client.post(f"{base}/accept", json={"expected": 2}, headers=header).status_code == 409
    settled = ("confirmed", "not_applicable")
    stops = [c["id"] for c in report["checks"] if c["severity"] == "stop" and c["state"] not in settled]
    for check in stops:
        expected = client.get(base, headers=header).json()["version"]
        body = {"expected": expected, "reason": "seen"}
        assert client.post(f"{base}/checks/{check}/override", json=body, headers=header).status_code == 200
    expected = client.get(base, headers=header).json()["version"]
    assert client.post(f"{base}/accept", json={"expected": expected}, headers=header).status_code == 200
    issued = client.post(f"{base}/issue", json={"note": "by the API"}, headers=header)
    assert issued.status_code == 201
    assert client.post(f"{base}/withdraw", json={"why": "a test"}, headers=header).json()["withdrawn_why"] == "a test"


def test_what_is_no_recording_is_refused(site: Site, header: dict[str, str]) -> None:
    answer = site.client().post("/api/v1/jobs/1/recordings", params={"name": "x.wav"}, content=b"MZ\x90",
                                headers=header)  # fmt: skip
    assert answer.status_code == 415
    assert set(answer.json()) == {"problem"}


def test_a_page_session_reads_and_does_not_write(site: Site) -> None:
    browser = site.role("supervisor")
    assert browser.get("/api/v1/jobs").status_code == 200
    assert browser.client.post("/api/v1/jobs/1/accept", json={"expected": 1}).status_code == 401


def test_streams_beyond_the_limit_are_cut_off(site: Site, header: dict[str, str], tmp_path_factory: Any) -> None:
    with running(tmp_path_factory.mktemp("small"), upload_bytes=1000) as small:
        job = small.job(sample("freezer"))
        secret, _ = small.store.people.make_token("ada", "t", by="ada", now=small.now)
        own = {"authorization": f"Bearer {secret}"}

        def pieces() -> Iterator[bytes]:
            yield b"OggS"
            for _ in range(20):
                yield b"x" * 100

        address = f"/api/v1/jobs/{job.id}/recordings"
        answer = small.client().post(address, params={"name": "a.ogg"}, content=pieces(), headers=own)
        assert answer.status_code == 413
        assert small.store.recordings.of(job.id) == ()
        assert small.client().post(address, params={"name": "a.ogg"}, content=io.BytesIO(b"OggS" + b"x" * 90),
                                   headers=own).status_code == 201  # fmt: skip
