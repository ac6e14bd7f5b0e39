"""The command line: one file a command; options, wording, exit codes. The only place that prints."""

from compare.cli.entry import COMMANDS, main, parser

__all__ = ["COMMANDS", "main", "parser"]
