"""The pages and the API: server-rendered, small scripts of our own, the same rules for both."""

from voicereport.web.app import create_app

__all__ = ["create_app"]
