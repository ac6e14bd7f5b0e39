"""The report on a terminal: read at a glance when wide, still whole when narrow, plain when piped."""

from compare.report.terminal.detail import detail_report
from compare.report.terminal.page import PLAIN, plain_characters
from compare.report.terminal.rank import rank_report
from compare.report.terminal.take_in import take_in_report
from compare.report.terminal.what_if import what_if_report

__all__ = [
    "PLAIN",
    "detail_report",
    "plain_characters",
    "rank_report",
    "take_in_report",
    "what_if_report",
]
