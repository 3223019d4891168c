"""The server as a process of its own: started, asked, killed at any moment, started again."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import time
import urllib.parse
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from web_site import FAULTY, HASHED, PEOPLE

from voicereport.store import open_store

NOW = datetime(2026, 3, 9, 9, 12, tzinfo=UTC)


def prepared(folder: Path) -> str:
    """A store with everybody, and a token of the administrator's."""
    store = open_store(f"sqlite:///{folder / 'store.db'}", folder)
    first, *rest = PEOPLE.items()
    store.people.set_up_first(first[0], first[1][0], HASHED, now=NOW)
    for login, (name, role) in rest:
        store.people.add(login, name, role, by=first[0], now=NOW, password_hash=HASHED)  # type: ignore[arg-type]
    secret, _ = store.people.make_token("ada", "test", by="ada", now=NOW)
    store.close()
    return secret


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def serving(folder: Path, *options: str) -> Iterator[tuple[subprocess.Popen[bytes], int]]:
    """`voicereport serve` on a free port; killed at the end, if it still runs."""
    port = free_port()
    command = [sys.executable, "-m", "voicereport", "serve", "--data", str(folder), "--port", str(port), *options]
    own = {**os.environ, "VOICEREPORT_HOME": str(folder / "home")}
    process = subprocess.Popen(command, env=own, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=folder)
    try:
        for _ in range(400):
            if process.poll() is not None:
                raise AssertionError(process.stdout.read().decode() if process.stdout else "")
            try:
                ask(port, "GET", "/signin")
                break
            except OSError:
                time.sleep(0.05)
        yield process, port
    finally:
        process.kill()
        process.wait()
        if process.stdout:
            process.stdout.close()


def ask(port: int, method: str, path: str, body: bytes | None = None, secret: str = "") -> tuple[int, bytes]:
    """Status and body of an answer. Raises OSError where nobody answers."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        headers = {"authorization": f"Bearer {secret}"} if secret else {}
        if body is not None and path.endswith("/jobs"):
            headers["content-type"] = "application/json"
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        return answer.status, answer.read()
    except http.client.HTTPException as error:
        raise OSError(str(error)) from error
    finally:
        connection.close()


def bring(port: int, secret: str, key: str, content: bytes, name: str = "a.vtt") -> int:
    """A job with one file, sent again until it is acknowledged: the same key is the same job."""
    status, body = ask(port, "POST", "/api/v1/jobs", json.dumps({"technician": "tarn", "key": key}).encode(), secret)
    assert status == 201, body
    job: int = json.loads(body)["id"]
    address = f"/api/v1/jobs/{job}/recordings?{urllib.parse.urlencode({'name': name})}"
    status, body = ask(port, "POST", address, content, secret)
    assert status == 201, body
    return job


def test_it_serves_works_and_ends_when_told(tmp_path: Path) -> None:
    pytest.importorskip("spacy")
    secret = prepared(tmp_path)
    with serving(tmp_path) as (process, port):
        job = bring(port, secret, "one", FAULTY.encode())
        for _ in range(600):
            status, body = ask(port, "GET", f"/api/v1/jobs/{job}", secret=secret)
            if json.loads(body)["state"] == "ready":
                break
            time.sleep(0.1)
        assert status == 200
        assert json.loads(body)["status"] == "blocked"
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) in (0, -signal.SIGTERM)
        said = process.stdout.read().decode() if process.stdout else ""
        assert f"http://127.0.0.1:{port}/" in said
        assert "rear panel" not in said  # the log holds nothing that was spoken


def test_a_network_address_without_tls_is_told(tmp_path: Path) -> None:
    prepared(tmp_path)
    with serving(tmp_path, "--host", "0.0.0.0", "--no-work") as (process, _):
        process.send_signal(signal.SIGTERM)
        process.wait(20)
        assert "in the clear" in (process.stdout.read().decode() if process.stdout else "")


def test_killed_at_any_moment_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    """kill -9 under load, again and again; VOICEREPORT_KILLS sets how often."""
    secret = prepared(tmp_path)
    chance = random.Random(7)
    acknowledged: dict[str, int] = {}
    for turn in range(KILLS):
        with serving(tmp_path, "--no-work") as (process, port):
            stop = time.monotonic() + chance.uniform(0.1, 0.9)

            def load(worker: int, turn: int = turn, port: int = port, stop: float = stop) -> list[tuple[str, int]]:
                done = []
                for n in range(1000):
                    if time.monotonic() > stop + 2:
                        break
                    key = f"{turn}-{worker}-{n}"
                    try:
                        done.append((key, bring(port, secret, key, f"{FAULTY}\n\nNOTE {key}\n".encode())))
                    except (OSError, AssertionError):
                        break
                return done

            with ThreadPoolExecutor(4) as pool:
                running = [pool.submit(load, worker) for worker in range(4)]
                time.sleep(max(0.0, stop - time.monotonic()))
                process.kill()
                for future in running:
                    acknowledged |= dict(future.result())
    store = open_store(f"sqlite:///{tmp_path / 'store.db'}", tmp_path)
    assert len(acknowledged) > KILLS
    for key, job in acknowledged.items():
        found = store.jobs.by_key(key)
        assert found is not None
        assert found.id == job
        kept = store.recordings.of(job)
        assert len(kept) == 1
        assert kept[0].path is not None
        assert key.encode() in kept[0].path.read_bytes()
        assert [task.state for task in store.queue.of(job)] == ["waiting"]
    assert store.trail.verify(files=True).sound
    store.close()


KILLS = 3


@pytest.fixture(autouse=True, scope="module")
def kills() -> None:
    global KILLS
    KILLS = int(os.environ.get("VOICEREPORT_KILLS", KILLS))


def test_fifty_uploads_at_once(tmp_path: Path) -> None:
    """Fifty recordings of ten minutes (16 kHz, 16 bit: 19.2 MB each) at once: all there, none twice, pages answer."""
    secret = prepared(tmp_path)
    head = b"RIFF" + (19_200_036).to_bytes(4, "little") + b"WAVE"
    block = os.urandom(1_000_000)
    with serving(tmp_path, "--no-work") as (_, port), ThreadPoolExecutor(UPLOADS) as pool:
        sent = [pool.submit(bring, port, secret, f"u{n}", head + bytes([n]) + block * 19, "long.wav")
                for n in range(UPLOADS)]  # fmt: skip
        waits = []
        while not all(future.done() for future in sent):
            before = time.monotonic()
            status, _ = ask(port, "GET", "/api/v1/jobs", secret=secret)
            waits.append(time.monotonic() - before)
            assert status == 200
            time.sleep(0.05)
        jobs = [future.result() for future in sent]
    store = open_store(f"sqlite:///{tmp_path / 'store.db'}", tmp_path)
    assert len(set(jobs)) == UPLOADS
    digests = {store.recordings.of(job)[0].sha256 for job in jobs}
    assert len(digests) == UPLOADS
    assert all(len(store.recordings.of(job)) == 1 and len(store.queue.of(job)) == 1 for job in jobs)
    store.close()
    waits.sort()
    print(f"{len(waits)} pages during the uploads: median {waits[len(waits) // 2]:.3f} s, longest {waits[-1]:.3f} s")
    assert waits[len(waits) // 2] < 0.5


UPLOADS = 50
