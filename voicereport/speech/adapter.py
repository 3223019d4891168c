"""Published weights made to hear a trade: low-rank changes, trained here, added to the matrices of a CTranslate2 file.

A matrix W of shape (out, in) becomes W + B A, A of shape (rank, in) and B of (out, rank), as in arXiv 2106.09685. An
adapter is a NumPy archive of NAME/A and NAME/B, eight bits a number, with NAME/A/scale and NAME/B/scale, one for each
row; NAME is that of the matrix, less "/weight". models/recogniser/ has the recipe.
"""

from __future__ import annotations

import io
import math
import struct
import zipfile
from typing import TYPE_CHECKING, Any

from voicereport.errors import WeightsError
from voicereport.speech.convert import places

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def adapted(model: bytes, adapter: bytes) -> bytes | bytearray:
    """The CTranslate2 file with the adapter's changes, of the same length and form.

    Raises WeightsError where the adapter is not one for these weights.
    """
    import numpy as np

    try:
        factors = _factors(adapter)
        found = bytearray(model)
        for name, kind, shape, at in places(model):
            if (pair := factors.pop(name.removesuffix("/weight"), None)) is None:
                continue
            if kind[1] != "f":
                raise ValueError(f"{name} is not in floating point")
            values = np.frombuffer(found, kind, math.prod(shape), at).reshape(shape)  # a view: written through
            values[...] = values.astype(np.float32) + pair[0] @ pair[1]
    except (EOFError, KeyError, ValueError, TypeError, struct.error, zipfile.BadZipFile) as error:
        raise WeightsError("adapter", f"does not fit the weights ({error!r})", "install voicereport again") from error
    if factors:
        raise WeightsError("adapter", f"changes what the weights have not ({min(factors)})",
                           "install voicereport again")  # fmt: skip
    return found


def _factors(adapter: bytes) -> dict[str, tuple[NDArray[np.float32], NDArray[np.float32]]]:
    """B and A of each matrix."""
    import numpy as np

    with np.load(io.BytesIO(adapter)) as archive:
        told: dict[str, Any] = dict(archive)
    return {
        name.removesuffix("/A"): (_whole(told, f"{name.removesuffix('/A')}/B"), _whole(told, name))
        for name in told
        if name.endswith("/A")
    }


def _whole(told: dict[str, Any], name: str) -> NDArray[np.float32]:
    whole: NDArray[np.float32] = told[name] * told[f"{name}/scale"]
    return whole
