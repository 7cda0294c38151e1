"""A store that is closed between two rounds, so that others can use it, without reading all of it each time."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sproutlapse.vision.findings import Findings
from sproutlapse.work.store import Store


@dataclass
class Memory:
    """What was read of a store, as long as nobody else wrote into it.

    Attributes
    ----------
    mark
        Of its last change when it was closed, see `Store.mark`.
    looks, found
        As the store tells them; `found` by reference.
    """

    mark: str = ""
    looks: dict[str, tuple[str, dict[str, Any]]] | None = None
    found: dict[str, dict[str, Findings]] = field(default_factory=dict)

    def forget(self) -> None:
        """Read all of it again next time."""
        self.mark, self.looks, self.found = "", None, {}


class RememberingStore(Store):
    """A store whose findings stay in memory when it is closed.

    Parameters
    ----------
    folder
        The results folder; it exists.
    memory
        What is kept from one opening to the next.

    Raises
    ------
    ResultsError
        As `Store`.
    """

    def __init__(self, folder: Path, memory: Memory) -> None:
        self._memory = memory
        super().__init__(folder)
        # Nobody else writes from here on: the store is ours alone while it is open.
        if not memory.mark or memory.mark != self.mark():
            memory.forget()

    def close(self) -> None:
        self._memory.mark = self._mark or self._memory.mark
        super().close()

    def looks(self) -> dict[str, tuple[str, dict[str, Any]]]:
        if self._memory.looks is None:
            self._memory.looks = super().looks()
        return dict(self._memory.looks)

    def measured(self, reference: str) -> dict[str, Findings]:
        if reference not in self._memory.found:
            self._memory.found[reference] = super().measured(reference)
        return dict(self._memory.found[reference])

    def keep(self, digest: str, damaged: str, look: dict[str, Any], reference: str, found: Findings | None) -> None:
        super().keep(digest, damaged, look, reference, found)
        if self._memory.looks is not None:
            self._memory.looks[digest] = damaged, look
        if found is not None and reference in self._memory.found:
            # As it would be read again: without the label picture.
            self._memory.found[reference][digest] = Findings.from_values(found.to_values(), b"")

    def drop_other_references(self, *references: str) -> None:
        super().drop_other_references(*references)
        self._memory.found = {name: found for name, found in self._memory.found.items() if name in references}

    def drop_looks(self, values: dict[str, Any]) -> None:
        super().drop_looks(values)
        self._memory.looks = {}
