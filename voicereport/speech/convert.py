"""A CTranslate2 file of Whisper's weights as a checkpoint for the reference implementation.

The numbers are the same; only their names and the joined query, key and value matrices differ.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from voicereport.errors import WeightsError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_TYPES = {0: "<f4", 1: "<i1", 2: "<i2", 3: "<i4", 4: "<f2"}  #: CTranslate2's numbers for the kinds of values
_Arrays = dict[str, "NDArray[np.float32]"]


def checkpoint(files: dict[str, bytes]) -> tuple[dict[str, Any], tuple[tuple[int, int], ...]]:
    """{"dims", "model_state_dict"} as the reference implementation loads it, and the heads that words are timed by.

    files: of a CTranslate2 model, "model.bin" and "config.json". Raises WeightsError for another form of file.
    """
    import torch

    try:
        found = _variables(files["model.bin"])
        state = _encoder(found) | _decoder(found)
        dims = {
            "n_mels": found["encoder/conv1/weight"].shape[1],
            "n_audio_ctx": found["encoder/position_encodings/encodings"].shape[0],
            "n_audio_state": found["encoder/conv1/bias"].shape[0],
            "n_audio_head": int(found["encoder/num_heads"]),
            "n_audio_layer": _layers(found, "encoder"),
            "n_vocab": found["decoder/embeddings/weight"].shape[0],
            "n_text_ctx": found["decoder/position_encodings/encodings"].shape[0],
            "n_text_state": found["decoder/embeddings/weight"].shape[1],
            "n_text_head": int(found["decoder/num_heads"]),
            "n_text_layer": _layers(found, "decoder"),
        }
        heads = tuple((int(a), int(b)) for a, b in json.loads(files["config.json"])["alignment_heads"])
    except (KeyError, ValueError, struct.error) as error:
        raise WeightsError("model.bin", f"is no CTranslate2 file of Whisper's weights ({error!r})", None) from error
    tensors = {name: torch.from_numpy(array.copy()) for name, array in state.items()}
    return {"dims": dims, "model_state_dict": tensors}, heads


def places(data: bytes) -> Iterator[tuple[str, str, tuple[int, ...], int]]:
    """The arrays of a CTranslate2 file of Whisper's weights: name, NumPy's name for the kind, shape, place of the first
    byte.

    The file: version, specification, revision, then for each array name, rank, sizes, kind, length, values. Raises
    ValueError, KeyError or struct.error for another form of file.
    """
    at = 0

    def number(form: str) -> int:
        nonlocal at
        value = struct.unpack_from(f"<{form}", data, at)[0]
        at += struct.calcsize(f"<{form}")
        return int(value)

    def text() -> str:
        nonlocal at
        length = number("H")
        at += length
        return data[at - length : at - 1].decode()

    number("I")
    if text() != "WhisperSpec":
        raise ValueError("not WhisperSpec")
    number("I")
    for _ in range(number("I")):
        name = text()
        shape = tuple(number("I") for _ in range(number("B")))
        kind, length = _TYPES[number("B")], number("I")
        if length != math.prod(shape) * int(kind[2]) or at + length > len(data):
            raise ValueError(f"{name} is not whole")
        yield name, kind, shape, at
        at += length


def _variables(data: bytes) -> _Arrays:
    """The arrays of a CTranslate2 file."""
    import numpy as np

    return {
        name: np.frombuffer(data, kind, math.prod(shape), at).reshape(shape).astype(np.float32)
        for name, kind, shape, at in places(data)
    }


def _layers(found: _Arrays, side: str) -> int:
    return len({name.split("/")[1] for name in found if name.startswith(f"{side}/layer_") and "norm" not in
                name.split("/")[1]})  # fmt: skip


def _encoder(found: _Arrays) -> _Arrays:
    state = {"encoder.positional_embedding": found["encoder/position_encodings/encodings"]}
    for conv in ("conv1", "conv2"):
        state[f"encoder.{conv}.weight"] = found[f"encoder/{conv}/weight"]
        state[f"encoder.{conv}.bias"] = found[f"encoder/{conv}/bias"]
    for n in range(_layers(found, "encoder")):
        ours, theirs = f"encoder.blocks.{n}", f"encoder/layer_{n}"
        state |= _self_attention(found, theirs, ours) | _feed_forward(found, theirs, ours)
    return state | _norm(found, "encoder/layer_norm", "encoder.ln_post")


def _decoder(found: _Arrays) -> _Arrays:
    state = {
        "decoder.token_embedding.weight": found["decoder/embeddings/weight"],
        "decoder.positional_embedding": found["decoder/position_encodings/encodings"],
    }
    for n in range(_layers(found, "decoder")):
        ours, theirs = f"decoder.blocks.{n}", f"decoder/layer_{n}"
        state |= _self_attention(found, theirs, ours) | _feed_forward(found, theirs, ours)
        state |= _cross_attention(found, theirs, ours)
    return state | _norm(found, "decoder/layer_norm", "decoder.ln")


def _self_attention(found: _Arrays, theirs: str, ours: str) -> _Arrays:
    weight = found[f"{theirs}/self_attention/linear_0/weight"]
    bias = found[f"{theirs}/self_attention/linear_0/bias"]
    size = weight.shape[1]
    state = {
        f"{ours}.attn.query.weight": weight[:size],
        f"{ours}.attn.query.bias": bias[:size],
        f"{ours}.attn.key.weight": weight[size : 2 * size],  # a key has no bias in the reference
        f"{ours}.attn.value.weight": weight[2 * size :],
        f"{ours}.attn.value.bias": bias[2 * size :],
    }
    state |= _linear(found, f"{theirs}/self_attention/linear_1", f"{ours}.attn.out")
    return state | _norm(found, f"{theirs}/self_attention/layer_norm", f"{ours}.attn_ln")


def _cross_attention(found: _Arrays, theirs: str, ours: str) -> _Arrays:
    weight, bias = found[f"{theirs}/attention/linear_1/weight"], found[f"{theirs}/attention/linear_1/bias"]
    size = weight.shape[1]
    state = {
        f"{ours}.cross_attn.key.weight": weight[:size],
        f"{ours}.cross_attn.value.weight": weight[size:],
        f"{ours}.cross_attn.value.bias": bias[size:],
    }
    state |= _linear(found, f"{theirs}/attention/linear_0", f"{ours}.cross_attn.query")
    state |= _linear(found, f"{theirs}/attention/linear_2", f"{ours}.cross_attn.out")
    return state | _norm(found, f"{theirs}/attention/layer_norm", f"{ours}.cross_attn_ln")


def _feed_forward(found: _Arrays, theirs: str, ours: str) -> _Arrays:
    state = _linear(found, f"{theirs}/ffn/linear_0", f"{ours}.mlp.0")
    state |= _linear(found, f"{theirs}/ffn/linear_1", f"{ours}.mlp.2")
    return state | _norm(found, f"{theirs}/ffn/layer_norm", f"{ours}.mlp_ln")


def _linear(found: _Arrays, theirs: str, ours: str) -> _Arrays:
    return {f"{ours}.weight": found[f"{theirs}/weight"], f"{ours}.bias": found[f"{theirs}/bias"]}


def _norm(found: _Arrays, theirs: str, ours: str) -> _Arrays:
    return {f"{ours}.weight": found[f"{theirs}/gamma"], f"{ours}.bias": found[f"{theirs}/beta"]}
