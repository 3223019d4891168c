"""Scores of reports against annotated narrations and sentences, with intervals and thresholds."""
