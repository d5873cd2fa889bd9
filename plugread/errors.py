"""The errors a caller can react to: what could not be done, what was found, what to do now."""

from __future__ import annotations


class PlugreadError(Exception):
    """Something the user gave could not be used.

    Parameters
    ----------
    what : what could not be done, naming the file, field or value found.
    advice : what to do now, a short sentence; empty if there is nothing to add.
    """

    def __init__(self, what: str, advice: str = "") -> None:
        self.what, self.advice = what, advice
        super().__init__(f"{what}; {advice}" if advice else what)


class CaseError(PlugreadError):
    """A case file, or the engine it describes, contradicts itself or names something unknown."""


class PhotoError(PlugreadError):
    """A photo could not be opened or must not be measured."""


class RuleBaseError(PlugreadError):
    """The rule base has faults; the message lists all of them, one a line."""


class ModelError(PlugreadError):
    """A model file is damaged, foreign or newer than this program."""


class StoreError(PlugreadError):
    """A visit could not be kept or found again."""
