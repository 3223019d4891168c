"""Growing audio through the same stages: events as they settle, prompts, spoken requests, a report at the end."""

from voicereport.live.events import Event, as_json
from voicereport.live.recognise import Recogniser, open_recogniser
from voicereport.live.session import Session
from voicereport.requests.phrases import Phrases, load_phrases

__all__ = ["Event", "Phrases", "Recogniser", "Session", "as_json", "load_phrases", "open_recogniser"]
