"""Sound to words, with times and doubt. The only package that touches a recogniser."""

from voicereport.speech.catalogue import Catalogue, Weights, catalogue
from voicereport.speech.engine import Decoded, Engine, Manner, open_engine
from voicereport.speech.recognise import transcribe
from voicereport.speech.second_look import second_look

__all__ = [
    "Catalogue",
    "Decoded",
    "Engine",
    "Manner",
    "Weights",
    "catalogue",
    "open_engine",
    "second_look",
    "transcribe",
]
