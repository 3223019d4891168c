"""Speaking aloud by espeak-ng where it is installed; else a bell."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field

_PROGRAM = "espeak-ng"
_WORDS_PER_MINUTE = 165
_WORD_S = 0.42  #: seconds that a spoken word takes at that speed, pauses counted in


@dataclass(slots=True)
class Voice:
    """Says one sentence at a time, in a process of its own; a new one takes the place of the last."""

    language: str = "en"
    ring: Callable[[], None] | None = None  #: what is done where nothing can speak
    program: str | None = field(default_factory=lambda: shutil.which(_PROGRAM))
    _speaking: subprocess.Popen[bytes] | None = None

    def say(self, text: str) -> float:
        """Begin to say `text`; returns the seconds that it takes, 0 where only the bell rang."""
        if self.program is None:
            if self.ring:
                self.ring()
            return 0.0
        self.stop()
        command = [self.program, "-v", self.language, "-s", str(_WORDS_PER_MINUTE), "--", text]
        try:
            self._speaking = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
        except OSError:
            self.program = None
            return self.say(text)
        return 0.5 + _WORD_S * len(text.split())

    def stop(self) -> None:
        """Fall silent."""
        if self._speaking is not None and self._speaking.poll() is None:
            self._speaking.terminate()
            self._speaking.wait()
        self._speaking = None

    def wait(self, seconds: float = 10.0) -> None:
        """Let the last sentence end, for at most so long."""
        if self._speaking is not None:
            try:
                self._speaking.wait(seconds)
            except subprocess.TimeoutExpired:
                self.stop()
