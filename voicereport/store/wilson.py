"""The Wilson score interval of a share."""

from __future__ import annotations

from math import sqrt

Z_95 = 1.959964  #: two-sided 95 % point of the standard normal distribution


def interval(hits: int, of: int, z: float = Z_95) -> tuple[float, float]:
    """Lower and upper bound of the share `hits` / `of`; of nothing, (0, 1): nothing is known.

    Wilson (1927), Probable inference, the law of succession, and statistical inference; without continuity correction.
    """
    if of == 0:
        return 0.0, 1.0
    share = hits / of
    scale = 1 + z * z / of
    centre = (share + z * z / (2 * of)) / scale
    reach = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / scale
    return max(0.0, centre - reach), min(1.0, centre + reach)
