"""Faults that are not the artwork's, each with the exit status it ends a command with.

    Fault
    +-- UsageFault      2   bad option, path, rules file or ticket: one line that names file, key and what was expected
    +-- ToolFault      30   a limit or fault of this tool or machine: the answer is ``unchecked``

What is wrong with the *artwork* is never an exception: it is a finding.
"""

from __future__ import annotations


class Fault(Exception):
    """Base of the faults that end a command with one clear line."""

    exit_status = 30


class UsageFault(Fault):
    """Wrong usage: the message names the file, the key and what was expected."""

    exit_status = 2


class ToolFault(Fault):
    """This tool, or the machine, could not do its part."""

    exit_status = 30
