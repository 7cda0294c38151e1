"""Answers that cost much and are needed again in every run, kept in the store under all that they depend on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sproutlapse import __version__
from sproutlapse.work.store import Store

KEY = "asked"


@dataclass
class Asked:
    """Answers of this run and of the last one, by a hash of what each depends on.

    Answers are plain values, ready for JSON. The same question has the same answer: an answer that could be another
    next time, such as one about a file that cannot be read, must be an exception, which is not kept.
    """

    store: Store
    before: dict[str, Any]
    now: dict[str, Any] = field(default_factory=dict)

    @staticmethod
    def of(store: Store) -> Asked:
        """With the answers that the last run left."""
        return Asked(store, store.about(KEY) or {})

    def ask(self, question: list[Any], find: Callable[[], Any]) -> Any:
        """The answer, found only if it was not before.

        Parameters
        ----------
        question
            All that the answer depends on, ready for JSON.
        find
            Finds it.
        """
        name = hashlib.sha256(json.dumps([__version__, question], sort_keys=True, allow_nan=False).encode()).hexdigest()
        if name not in self.now:
            self.now[name] = self.before[name] if name in self.before else find()
        return self.now[name]

    def keep(self) -> None:
        """Put all answers into the store, in case that the run does not come to its end."""
        self.store.set_about({KEY: {**self.before, **self.now}})

    def end(self) -> None:
        """Leave only the answers that this run needed."""
        if self.now != self.before:
            self.store.set_about({KEY: self.now})
