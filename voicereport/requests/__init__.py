"""What people say to the tool, apart from what they say about the job: the call word, requests, notes, rests."""

from voicereport.requests.apart import content_of, notes_of, set_apart
from voicereport.requests.phrases import Phrases, load_phrases

__all__ = ["Phrases", "content_of", "load_phrases", "notes_of", "set_apart"]
