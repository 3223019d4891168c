"""Any recording as mono 16 kHz float32, where somebody speaks in it, how well it was recorded, and pieces of it."""

from voicereport.audio.clip import Clip, load
from voicereport.audio.container import Promise, digest, probe
from voicereport.audio.decode import RATE_HZ, Block, decode
from voicereport.audio.detection import Stretch, find_speech, speech_probabilities
from voicereport.audio.levels import Levels, longest_silence, measure_levels
from voicereport.audio.snippets import snippet, snippet_wav

__all__ = [
    "RATE_HZ",
    "Block",
    "Clip",
    "Levels",
    "Promise",
    "Stretch",
    "decode",
    "digest",
    "find_speech",
    "load",
    "longest_silence",
    "measure_levels",
    "probe",
    "snippet",
    "snippet_wav",
    "speech_probabilities",
]
