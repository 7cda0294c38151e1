"""The few errors that reach a person: what was wrong, where, and what to do next."""


class SproutlapseError(Exception):
    """A problem that ends a command with a plain message and a non-zero status.

    Parameters
    ----------
    what
        What was wrong, as one sentence.
    where
        The file, folder, line or key that it concerns.
    remedy
        What the person can do next.
    """

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what, self.where, self.remedy = what, where, remedy
        super().__init__(self.message())

    def message(self) -> str:
        """The whole text as a person reads it."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head}\n  What to do: {self.remedy}" if self.remedy else head


class TrayError(SproutlapseError):
    """tray.toml is broken or contradicts itself or the pictures."""

    exit_code = 3


class PhotosError(SproutlapseError):
    """The photo folder cannot be used."""

    exit_code = 4


class ResultsError(SproutlapseError):
    """The results folder cannot be used."""

    exit_code = 5


class ClusterError(SproutlapseError):
    """The cluster cannot be used."""

    exit_code = 7
