"""Recordings of every kind in, thirty broken ones refused or used with a warning, snippets out."""

from __future__ import annotations

import io
import random
import struct
import wave
from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from voicereport.audio import decode, find_speech, load, measure_levels, probe, snippet, snippet_wav
from voicereport.audio import speech_probabilities as probabilities
from voicereport.audio.decode import mix
from voicereport.errors import AudioError

READINGS = Path(__file__).parent / "data" / "audio_readings"
Sound = NDArray[np.float32]


def sweep(seconds: float = 6.0, *, level: float = 0.5) -> Sound:
    """A tone that rises, so that each moment sounds like no other: positions can be told by correlation."""
    t = np.arange(round(seconds * 16_000)) / 16_000
    return (level * np.sin(2 * np.pi * (200 * t + 100 * t**2))).astype(np.float32)


def encode(
    path: Path, sound: Sound, *, codec: str, rate: int = 48_000, layout: str = "mono", video: bool = False
) -> Path:
    """`sound`, shape (n,) or (channels, n) at 16 kHz, written by PyAV in the container that the suffix names."""
    with av.open(str(path), "w") as container:
        if video:
            picture = container.add_stream("mpeg4", rate=10)
            picture.width = picture.height = 64
        stream = container.add_stream(codec, rate=rate, layout=layout)
        planes = np.atleast_2d(sound)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(planes), format="fltp", layout=layout)
        frame.sample_rate = 16_000
        if video:
            for _ in range(20):
                container.mux(picture.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8))))
            container.mux(picture.encode(None))
        resampler = av.AudioResampler(format=stream.codec_context.format, layout=layout, rate=rate,
                                      frame_size=stream.codec_context.frame_size or 1024)  # fmt: skip
        for given in (frame, None):
            for piece in resampler.resample(given):
                container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return path


def write_wav(path: Path, sound: Sound, *, rate: int = 16_000) -> Path:
    """A 16 bit wav file by the standard library; shape (n,) or (channels, n)."""
    planes = np.atleast_2d(sound)
    with wave.open(str(path), "wb") as out:
        out.setnchannels(len(planes))
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(np.round(planes.T * 32767).astype("<i2").tobytes())
    return path


def likeness(a: Sound, b: Sound) -> float:
    count = min(len(a), len(b))
    return float(np.corrcoef(a[:count], b[:count])[0, 1])


KINDS = {
    "a.wav": ("pcm_s16le", 16_000),
    "a.flac": ("flac", 16_000),
    "a.mp3": ("libmp3lame", 44_100),
    "a.m4a": ("aac", 44_100),
    "a.aac": ("aac", 44_100),
    "a.ogg": ("libopus", 48_000),
    "a.opus": ("libopus", 48_000),
    "a.webm": ("libopus", 48_000),
    "a.3gp": ("aac", 16_000),
    "a.mov": ("aac", 44_100),
    "a.mka": ("libopus", 48_000),
    "a.aiff": ("pcm_s16be", 16_000),
}


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_gives_the_same_sound_at_the_same_time(name: str, tmp_path: Path) -> None:
    codec, rate = KINDS[name]
    sound = sweep()
    clip = load(encode(tmp_path / name, sound, codec=codec, rate=rate))
    assert clip.duration_s == pytest.approx(6.0, abs=0.15)
    heard = clip.read(2.0, 4.0)
    best = max(likeness(heard, sound[32_000 + shift : 64_000 + shift]) for shift in range(-1200, 1201, 2))
    assert best > 0.95
    assert not clip.notes


def test_a_film_gives_its_sound(tmp_path: Path) -> None:
    clip = load(encode(tmp_path / "a.mp4", sweep(), codec="aac", rate=44_100, video=True))
    assert clip.duration_s == pytest.approx(6.0, abs=0.15)
    assert clip.notes == ()


def test_amr_is_read(tmp_path: Path) -> None:
    """RFC 4867, section 5.1: the magic number, then frames; 0x7C is a frame of mode 7 (12.2 kbit/s), 31 bytes more."""
    path = tmp_path / "a.amr"
    path.write_bytes(b"#!AMR\n" + b"".join(b"\x3c" + bytes((n * 37 + k) % 256 for k in range(31)) for n in range(100)))
    clip = load(path)
    assert clip.duration_s == pytest.approx(2.0, abs=0.03)  # 100 frames of 20 ms
    assert any("telephone" in note for note in clip.notes)


@pytest.mark.parametrize("name", ["a.wav", "a.mp3", "a.m4a", "a.aac", "a.ogg", "a.webm", "a.flac"])
def test_a_snippet_is_exactly_the_seconds_that_were_asked_for(name: str, tmp_path: Path) -> None:
    path = encode(tmp_path / name, sweep(20.0, level=0.4) * 0.9, codec=KINDS[name][0], rate=KINDS[name][1])
    whole = load(path).read(12.3, 13.5)
    with wave.open(io.BytesIO(snippet_wav(path, 12.3, 13.5))) as data:
        piece = np.frombuffer(data.readframes(data.getnframes()), "<i2") / np.float32(32767)
    assert len(piece) == len(whole) == 19_200
    wider = load(path).read(12.295, 13.505)  # the resampler may stand a millisecond elsewhere
    assert max(likeness(piece, wider[n:]) for n in range(161)) > 0.95


def test_an_opus_snippet_plays_as_long_as_asked_and_is_the_same_each_time(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.ogg", sweep(), codec="libopus")
    data = snippet(path, 1.0, 3.0)
    (tmp_path / "s.ogg").write_bytes(data)
    assert load(tmp_path / "s.ogg").duration_s == pytest.approx(2.0, abs=0.03)
    assert data == snippet(path, 1.0, 3.0)


def test_a_snippet_after_the_end_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(AudioError, match="no sound from"):
        snippet(write_wav(tmp_path / "a.wav", sweep(1.0)), 5.0, 6.0)


def test_a_dead_side_does_not_halve_the_level() -> None:
    sound = sweep(1.0)
    mixed, dead = mix(np.stack([sound, np.zeros_like(sound)]))
    assert dead
    np.testing.assert_allclose(mixed, sound, atol=1e-6)


def test_sides_that_cancel_each_other_are_heard() -> None:
    sound = sweep(1.0)
    mixed, _ = mix(np.stack([sound, -sound]))
    np.testing.assert_allclose(np.abs(mixed), np.abs(sound), atol=1e-6)


def test_the_time_of_recording_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.m4a"
    with av.open(str(path), "w", options={}) as container:
        container.metadata["creation_time"] = "2026-03-04T10:20:30Z"
        stream = container.add_stream("aac", rate=44_100, layout="mono")
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
        frame.sample_rate = 44_100
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    assert (probe(path).recorded or "").startswith("2026-03-04T10:20:30")


def test_the_digest_is_that_of_the_file(tmp_path: Path) -> None:
    """SHA-256 of the three bytes "abc", FIPS 180-2, appendix B.1, by the function that digests recordings."""
    from voicereport.audio import digest

    (tmp_path / "abc").write_bytes(b"abc")
    assert digest(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


Maker = Callable[[Path], Path]


def _bytes(name: str, data: bytes) -> Maker:
    def make(folder: Path) -> Path:
        (folder / name).write_bytes(data)
        return folder / name

    return make


def _cut(name: str, codec: str, rate: int, share: float) -> Maker:
    def make(folder: Path) -> Path:
        path = encode(folder / name, sweep(), codec=codec, rate=rate)
        path.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)])
        return path

    return make


def _spoilt(name: str, codec: str, rate: int) -> Maker:
    """Every 400th byte after the head changed."""

    def make(folder: Path) -> Path:
        path = encode(folder / name, sweep(20.0), codec=codec, rate=rate)
        data = bytearray(path.read_bytes())
        for n in range(2000, len(data) - 200, 400):
            data[n] ^= 0x5A
        path.write_bytes(bytes(data))
        return path

    return make


def _wav_header(data_bytes: int) -> bytes:
    form = struct.pack("<IHHIIHH", 16, 1, 1, 16_000, 32_000, 2, 16)
    size = struct.pack("<I", (36 + data_bytes) & 0xFFFFFFFF)
    return b"RIFF" + size + b"WAVEfmt " + form + b"data" + struct.pack("<I", data_bytes)


def _no_track(folder: Path) -> Path:
    path = folder / "picture.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 64
        for _ in range(10):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8))))
        container.mux(stream.encode(None))
    return path


_TONE = np.round(sweep(2.0) * 32767).astype("<i2").tobytes()
_NOISE = random.Random(5).randbytes(40_000)

REFUSED: dict[str, tuple[Maker, str]] = {
    "zero bytes": (_bytes("a.wav", b""), "is empty"),
    "zero bytes mp3": (_bytes("a.mp3", b""), "is empty"),
    "text": (_bytes("a.wav", b"the plug is out\n" * 50), "is text"),
    "text with accents": (_bytes("a.mp3", "déjà vu, ça va\n".encode() * 400), "is text"),
    "a web page": (_bytes("a.m4a", b"<html><body>404 not found</body></html>"), "is text"),
    "a play list": (_bytes("a.mp3", b"#EXTM3U\n#EXTINF:10,\nother.mp3\n"), "is text"),
    "random bytes": (_bytes("a.wav", _NOISE), "no recording|can be decoded"),
    "random bytes ogg": (_bytes("a.ogg", _NOISE[1:]), "no recording|can be decoded"),
    "only zeros": (_bytes("a.wav", bytes(5000)), "nothing but zeros"),
    "a picture": (_bytes("a.wav", b"\x89PNG\r\n\x1a\n" + _NOISE[:3000]), "no recording|no sound"),
    "an archive": (_bytes("a.ogg", b"PK\x03\x04" + _NOISE[:3000]), "no recording|can be decoded"),
    "wav header cut": (_bytes("a.wav", _wav_header(64_000)[:20]), "begins like a recording|no recording"),
    "wav header only": (_bytes("a.wav", _wav_header(0)), "begins like|holds no sound"),
    "wav header and no data": (_bytes("a.wav", _wav_header(64_000)), "begins like|holds no sound"),
    "wav of no known codec": (_bytes("a.wav", _wav_header(64_000).replace(b"\x01\x00\x01\x00", b"\x99\x99\x01\x00")
                                     + _TONE), "be decoded|no recording|begins like"),
    "ogg page alone": (_bytes("a.ogg", b"OggS" + bytes(100)), "begins like|no recording"),
    "flac mark alone": (_bytes("a.flac", b"fLaC" + bytes(60)), "begins like|no recording|no sound"),
    "film without index": (_cut("a.m4a", "aac", 44_100, 0.5), "without its index"),
    "no sound track": (_no_track, "no sound track"),
    "a folder": (lambda folder: folder, "is no file"),
    "not there": (lambda folder: folder / "missing.wav", "cannot be read"),
}  # fmt: skip

USED: dict[str, tuple[Maker, str]] = {
    "wav cut off": (_bytes("a.wav", _wav_header(192_000) + _TONE), r"promises 6\.0 s, 2\.0 s"),
    "wav of size 0": (_bytes("a.wav", _wav_header(0) + _TONE), "no length"),
    "wav of size 2**32-1": (_bytes("a.wav", _wav_header(0xFFFFFFFF) + _TONE), "no length"),
    "mp3 cut off": (_cut("a.mp3", "libmp3lame", 44_100, 0.5), r"promises 6\.\d s, [23]\.\d s"),
    "flac cut off": (_cut("a.flac", "flac", 16_000, 0.5), r"promises 6\.0 s"),
    "webm cut off": (_cut("a.webm", "libopus", 48_000, 0.5), r"promises 6\.\d s"),
    "ogg cut off": (_cut("a.ogg", "libopus", 48_000, 0.5), "no end mark"),
    "spoilt mp3": (_spoilt("a.mp3", "libmp3lame", 44_100), "damaged|holes|cut off"),
    "spoilt aac": (_spoilt("a.aac", "aac", 44_100), "damaged|holes|cut off"),
    "telephone": (lambda f: write_wav(f / "a.wav", sweep(2.0), rate=8_000), "telephone"),
    "silence": (lambda f: write_wav(f / "a.wav", np.zeros(32_000, np.float32)), "silent from start to end"),
    "dead side": (lambda f: write_wav(f / "a.wav", np.stack([sweep(2.0), np.zeros(32_000, np.float32)])), "dead side"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_recording_is_refused_in_one_clear_line(name: str, tmp_path: Path) -> None:
    make, problem = REFUSED[name]
    with pytest.raises(AudioError, match=problem) as caught:
        load(make(tmp_path))
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", USED)
def test_what_is_usable_is_used_with_a_warning(name: str, tmp_path: Path) -> None:
    make, note = USED[name]
    clip = load(make(tmp_path))
    assert clip.duration_s > 1.0
    assert len(clip.read(0, 0.5)) == 8000
    import re

    assert any(re.search(note, text) for text in clip.notes), clip.notes


def test_a_renamed_file_is_known_by_its_content(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.mp3", sweep(), codec="libmp3lame", rate=44_100)
    assert load(path.rename(tmp_path / "a.wav")).duration_s == pytest.approx(6.0, abs=0.15)


def test_blocks_are_short_and_join_without_a_seam(tmp_path: Path) -> None:
    sound = sweep(25.0, level=0.3)
    blocks = list(decode(write_wav(tmp_path / "a.wav", sound)))
    assert [round(block.start) for block in blocks] == [0, 10, 20]
    np.testing.assert_allclose(np.concatenate([b.samples for b in blocks]), sound, atol=1e-4)


def _reading(name: str = "reading-0870.wav") -> Sound:
    return load(READINGS / name).read(0, 60)


def test_speech_is_found_and_the_pause_is_not(tmp_path: Path) -> None:
    speech = _reading()
    clip = load(write_wav(tmp_path / "a.wav", np.concatenate([speech, np.zeros(20 * 16_000, np.float32), speech])))
    found = find_speech(probabilities(clip), duration_s=clip.duration_s)
    end = len(speech) / 16_000
    assert sum(s.end - s.start for s in found) > 2 * 0.7 * end
    assert not [s for s in found if s.end > end + 0.3 and s.start < end + 19.7]


@pytest.mark.parametrize("mains_hz", [50, 60])
def test_hum_and_fan_are_no_speech(mains_hz: int, tmp_path: Path) -> None:
    t = np.arange(60 * 16_000) / 16_000
    noise = np.random.default_rng(1).standard_normal(len(t))
    hum = sum(np.sin(2 * np.pi * mains_hz * k * t) for k in (1, 2, 3, 6)) / 8 + 0.03 * noise
    clip = load(write_wav(tmp_path / "a.wav", hum.astype(np.float32)))
    assert find_speech(probabilities(clip), duration_s=clip.duration_s) == ()


def test_faint_speech_is_found_as_well_as_loud(tmp_path: Path) -> None:
    speech = _reading()
    loud, faint = (load(write_wav(tmp_path / f"{n}.wav", speech * gain)) for n, gain in ((1, 1.0), (2, 0.004)))
    seconds = [sum(s.end - s.start for s in find_speech(probabilities(c), duration_s=c.duration_s))
               for c in (loud, faint)]  # fmt: skip
    assert seconds[1] > 0.85 * seconds[0]
    speech_found = find_speech(probabilities(faint), duration_s=faint.duration_s)
    assert any("faint" in text for text in measure_levels(faint, speech_found).warnings())


def test_clipping_and_noise_are_told(tmp_path: Path) -> None:
    speech = np.tile(_reading(), 2)
    driven = load(write_wav(tmp_path / "a.wav", np.clip(speech * 30, -1, 1)))
    told = measure_levels(driven, find_speech(probabilities(driven), duration_s=driven.duration_s)).warnings()
    assert any("overdriven" in text for text in told)
    noise = np.random.default_rng(2).standard_normal(len(speech)).astype(np.float32) * speech.std()
    noisy = load(write_wav(tmp_path / "b.wav", np.clip(np.concatenate([noise[:32_000], speech + noise]) * 0.3, -1, 1)))
    told = measure_levels(noisy, find_speech(probabilities(noisy), duration_s=noisy.duration_s)).warnings()
    assert any("above the noise" in text for text in told)


def test_speech_detection_does_not_depend_on_where_the_chunks_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import voicereport.audio.detection as detection

    clip = load(write_wav(tmp_path / "a.wav", np.tile(_reading(), 3)))
    whole = probabilities(clip)
    monkeypatch.setattr(detection, "_CHUNK_S", 5 * 512 / 16_000)
    np.testing.assert_allclose(probabilities(clip), whole, atol=1e-4)


def test_a_long_recording_is_worked_on_in_halves_with_the_same_result(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check is the same network over the whole in one piece."""
    speech = np.concatenate([load(READINGS / f"reading-{n}.wav").read(0, 60) for n in ("0930", "0890", "0870")])
    clip = load(write_wav(tmp_path / "a.wav", np.tile(np.pad(speech, (0, 16_000)), 20)[: 320 * 16_000]))
    assert clip.duration_s >= 300
    halves = probabilities(clip)
    monkeypatch.setattr("voicereport.audio.detection._HALVED_S", 1e9)
    whole = probabilities(clip)
    assert len(halves) == len(whole)
    assert float(np.abs(halves - whole).max()) < 0.1
    edges = [[t for s in find_speech(p, duration_s=clip.duration_s) for t in (s.start, s.end)] for p in (halves, whole)]
    assert edges[0] == pytest.approx(edges[1], abs=0.1)
