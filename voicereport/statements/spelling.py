"""Numbers that a recogniser wrote in figures, in the words that were spoken: the reader learnt from words."""

from __future__ import annotations

import re

from voicereport.wording.lexemes import DIGITS, TEENS, TENS

_FIGURES = re.compile(r"(?<![\w.,:/-])([-−])?(\d{1,3}(?:,\d{3})+|\d+)(\.\d+)?(?![\w:/-]|[.,]\d)")
_MOST = 999_999
_ONES = {0: "zero", **{value: word for word, value in reversed([*DIGITS.items(), *TEENS.items()])}}
_TENS = {value: word for word, value in reversed(TENS.items())}


def spelled(line: str) -> tuple[str, list[tuple[int, int]]]:
    """The line with its numbers in words, and for each character of it the [first, last) of `line` that it stands for.

    Figures that are part of a word, a date, a time or a range are left: "R600a", "10:30", "3-pin".
    """
    text: list[str] = []
    owner: list[tuple[int, int]] = []
    at = 0
    for match in _FIGURES.finditer(line):
        text.append(line[at : match.start()])
        owner += [(k, k + 1) for k in range(at, match.start())]
        words = in_words(match[2].replace(",", ""), (match[3] or "")[1:])
        words = f"minus {words}" if match[1] else words
        text.append(words)
        owner += [match.span()] * len(words)
        at = match.end()
    text.append(line[at:])
    owner += [(k, k + 1) for k in range(at, len(line))]
    return "".join(text), owner


def in_words(whole: str, decimals: str = "") -> str:
    """A number as it is spoken in English: "300" is three hundred, "0" and "96" zero point nine six.

    whole, decimals: figures. A whole number with leading zeros, or over 999,999, is spoken figure by figure.
    """
    by_figure = (whole[0] == "0" and len(whole) > 1) or int(whole) > _MOST
    words = _figures(whole) if by_figure else _whole(int(whole))
    return f"{words} point {_figures(decimals)}" if decimals else words


def _figures(digits: str) -> str:
    return " ".join(_ONES[int(digit)] for digit in digits)


def _whole(number: int) -> str:
    if number < 20:
        return _ONES[number]
    if number < 100:
        return _TENS[number - number % 10] + (f" {_ONES[number % 10]}" if number % 10 else "")
    if number < 1000:
        return f"{_ONES[number // 100]} hundred" + (f" {_whole(number % 100)}" if number % 100 else "")
    return f"{_whole(number // 1000)} thousand" + (f" {_whole(number % 1000)}" if number % 1000 else "")
