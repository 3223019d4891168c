"""Recognisers' weights with what was trained here added to them, against the adapters' own recipe in torch."""

from __future__ import annotations

import io
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import scripts

from voicereport import paths
from voicereport.errors import WeightsError
from voicereport.speech import Weights, catalogue, open_engine
from voicereport.speech import weights as shelf
from voicereport.speech.adapter import adapted
from voicereport.speech.convert import places
from voicereport.speech.recognise import second_of

ROOT = Path(__file__).resolve().parents[1]
PUBLISHED = catalogue().named("tiny.en", "faster-whisper")
OWN = catalogue().named("tiny.en-service", "faster-whisper")


@pytest.fixture(scope="module")
def published() -> bytes:
    return shelf.read(PUBLISHED)["model.bin"]


@pytest.fixture(scope="module")
def recipe() -> ModuleType:
    return scripts.script(ROOT / "models" / "recogniser" / "recipe.py", "recogniser_recipe")


def archive(**arrays: np.ndarray) -> bytes:
    kept = io.BytesIO()
    np.savez(kept, **arrays)
    return kept.getvalue()


def values(data: bytes) -> dict[str, np.ndarray]:
    return {name: np.frombuffer(data, kind, int(np.prod(shape)), at).reshape(shape) for name, kind, shape, at in
            places(data)}  # fmt: skip


def test_a_matrix_gets_what_its_factors_make_and_nothing_else_changes(published: bytes) -> None:
    name = "encoder/layer_1/ffn/linear_0"
    before = values(published)
    out, width = before[f"{name}/weight"].shape
    generator = np.random.default_rng(3)
    a, b = (generator.integers(-127, 128, shape).astype(np.int8) for shape in ((2, width), (out, 2)))
    scale = {"a": np.full((2, 1), 1e-3, np.float32), "b": np.full((out, 1), 2e-3, np.float32)}
    kept = {f"{name}/A": a, f"{name}/A/scale": scale["a"], f"{name}/B": b, f"{name}/B/scale": scale["b"]}
    after = values(adapted(published, archive(**kept)))
    change = (b.astype(np.float64) @ a.astype(np.float64)) * 2e-6
    assert np.abs(change).max() > 0.01
    assert np.allclose(after[f"{name}/weight"], before[f"{name}/weight"] + change, atol=2e-3)
    assert [key for key in before if not np.array_equal(before[key], after[key])] == [f"{name}/weight"]


def test_a_file_of_weights_that_is_not_whole_is_refused(published: bytes) -> None:
    _, kind, shape, at = next(row for row in places(published) if row[0] == "encoder/conv1/bias")
    shorter = bytearray(published)
    shorter[at - 4 : at] = (int(np.prod(shape)) * int(kind[2]) - 2).to_bytes(4, "little")
    with pytest.raises(ValueError, match="encoder/conv1/bias is not whole"):
        list(places(bytes(shorter)))
    with pytest.raises(ValueError, match="is not whole"):
        list(places(published[: at + 2]))


def test_what_does_not_fit_the_weights_is_refused(published: bytes) -> None:
    one, scale = np.ones((4, 384), np.int8), np.ones((4, 1), np.float32)
    whole = np.ones((384, 4), np.int8), np.ones((384, 1), np.float32)

    def told(name: str, *, b: np.ndarray) -> bytes:
        return archive(**{f"{name}/A": one, f"{name}/A/scale": scale, f"{name}/B": b, f"{name}/B/scale": whole[1]})

    for adapter in (b"", b"no archive", told("encoder/layer_1/self_attention/linear_0", b=whole[0]),
                    told("encoder/layer_1/self_attention/linear_1", b=np.ones((384, 3), np.int8)),
                    archive(**{"encoder/layer_1/ffn/linear_0/A": one})):  # fmt: skip
        with pytest.raises(WeightsError, match="does not fit"):
            adapted(published, adapter)
    with pytest.raises(WeightsError, match=r"changes what the weights have not \(encoder/layer_99/ffn/linear_1\)"):
        adapted(published, told("encoder/layer_99/ffn/linear_1", b=whole[0]))


def test_the_recipe_and_the_recogniser_add_the_same(published: bytes, recipe: ModuleType, tmp_path: Path) -> None:
    """What the recipe's adapted network says of some sound, and the reference implementation with the adapted file.

    The names and the joined matrices are the only thing that could differ; the factors here are large.
    """
    import torch
    import whisper

    from voicereport.speech.convert import checkpoint

    model = recipe.model_of("tiny.en")
    learnt = recipe.adapt(model, rank=2)
    generator = torch.Generator().manual_seed(1)
    for name, value in learnt.items():
        if name.endswith("/B"):
            value.data = 0.3 * torch.randn(value.shape, generator=generator)
    torch.save({name: value.detach() for name, value in learnt.items()}, tmp_path / "learnt.pt")
    recipe.main(["export", str(tmp_path / "learnt.npz"), str(tmp_path / "learnt.pt"), "--share", "1"])
    files = shelf.read(PUBLISHED) | {"model.bin": adapted(published, (tmp_path / "learnt.npz").read_bytes())}
    told, _ = checkpoint(files)
    other = whisper.model.Whisper(whisper.model.ModelDimensions(**told["dims"]))
    other.load_state_dict(told["model_state_dict"])
    plain = recipe.model_of("tiny.en")
    mel = torch.randn((1, 80, 3000), generator=generator)
    tokens = torch.tensor([[50257, 50362, 464, 10720]])
    with torch.no_grad():
        ours, theirs, neither = (m.eval()(mel, tokens) for m in (model, other, plain))
    assert float((ours - neither).abs().mean()) > 1
    assert float((ours - theirs).abs().mean()) < 0.05 * float((ours - neither).abs().mean())


@pytest.mark.parametrize("own", [entry for entry in catalogue().weights if entry.adapter], ids=lambda own: own.name)
def test_a_shipped_adapter_changes_every_matrix_a_little_and_nothing_else(own: Weights) -> None:
    published = catalogue().named(own.published, own.engine)
    before, after = (values(shelf.read(entry)["model.bin"]) for entry in (published, own))
    changed = {name for name in before if not np.array_equal(before[name], after[name])}
    matrices = {name for name in before if "linear_" in name and name.endswith("/weight")}
    assert changed == matrices
    for name in matrices:
        change = after[name].astype(np.float32) - before[name].astype(np.float32)
        assert np.sqrt(np.mean(change**2)) < 0.5 * np.sqrt(np.mean(before[name].astype(np.float32) ** 2)), name


def test_an_adapter_that_was_changed_is_never_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "recogniser").mkdir()
    data = bytearray((paths.models_dir() / OWN.adapter.path).read_bytes())
    data[len(data) // 2] ^= 1
    (tmp_path / OWN.adapter.path).write_bytes(bytes(data))
    monkeypatch.setattr(paths, "models_dir", lambda: tmp_path)
    with pytest.raises(WeightsError, match=r"tiny\.en\.npz is not the published file.*install voicereport again"):
        open_engine("faster-whisper", weights="tiny.en-service")
    (tmp_path / OWN.adapter.path).unlink()
    with pytest.raises(WeightsError, match=r"tiny\.en\.npz: cannot be read"):
        shelf.read(OWN)


def test_other_languages_are_heard_by_the_weights_as_they_were_published() -> None:
    shelf_ = catalogue()
    assert [shelf_.usual("faster-whisper", language) for language in ("en", "fr")] == ["base-service", "base"]
    assert shelf_.usual("faster-whisper", "en", second=True) == "tiny.en-service"
    assert open_engine("auto", language="fr").model == "base"
    assert second_of(shelf_, "faster-whisper", "base", "fr") is None


def test_numbers_are_heard_again_by_other_weights_as_published_where_the_first_are() -> None:
    pairs = {"base-service": "tiny.en-service", "base": "tiny.en", "tiny.en": None, "tiny.en-service": None}
    for engine in ("faster-whisper", "openai-whisper"):
        assert {first: second_of(catalogue(), engine, first, "en") for first in pairs} == pairs


def test_both_implementations_have_the_adapted_weights() -> None:
    own = catalogue().named("tiny.en-service", "openai-whisper")
    assert shelf.made_from(own) == OWN
    state = {(row["name"], row["engine"]): row["state"] for row in shelf.verify_all()}
    assert state["tiny.en-service", "faster-whisper"] == "right"
    assert state["tiny.en-service", "openai-whisper"] == "made from faster-whisper"


def test_windows_heard_by_other_adapters_are_not_taken_from_the_cache(tmp_path: Path) -> None:
    from voicereport.speech.engine import Decoded, Manner
    from voicereport.speech.resume import Memory
    from voicereport.speech.windows import Piece, Window

    class Ear:
        name, model = "faster-whisper", "base-service"

        def __init__(self, version: str) -> None:
            self.version = version

    window, decoded = Window(pieces=(Piece(start=0.0, end=1.0, at=0.0),)), Decoded(
        words=(), log_probability=-0.1, no_speech=0.1, compression=1.0
    )  # fmt: skip
    memory = Memory("0" * 64, folder=tmp_path)
    memory.put(Ear("a"), window, decoded, language="en", manner=Manner())
    assert memory.get(Ear("a"), window, language="en", manner=Manner()) == decoded
    assert memory.get(Ear("b"), window, language="en", manner=Manner()) is None
    assert all(len(entry.version) == 64 for entry in catalogue().weights if entry.adapter)
    assert open_engine("openai-whisper", weights="tiny.en-service").version == OWN.version
    assert open_engine("openai-whisper", weights="tiny.en").version == ""
