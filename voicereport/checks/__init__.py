"""Report and trade to check states and reading verdicts. Knows no trade; entries and limits are data."""

from voicereport.checks.engine import check_report, check_said, status_of
from voicereport.checks.limits import judge_report

__all__ = ["check_report", "check_said", "judge_report", "status_of"]
