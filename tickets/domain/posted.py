"""What comes with a post, and the questions that are asked back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tickets.calculator.verdict import Verdict
from tickets.domain import names
from tickets.domain.refusal import Fault, Refused


class Asks(Refused):
    """The step goes against the log, or takes away a stencil that is still needed. One question, of one sentence or
    several; the same post again with `yes` in each of `fields` (in_hand, still_needed) is taken.

    `in_hand`, `still_needed`: the sentences of each.
    """

    status = 409

    def __init__(self, step: str, in_hand: Sequence[str] = (), still_needed: Sequence[str] = ()) -> None:
        self.step = step
        self.in_hand = tuple(in_hand)
        self.still_needed = tuple(still_needed)
        both = {"in_hand": self.in_hand, "still_needed": self.still_needed}
        self.fields = tuple(name for name, said in both.items() if said)
        super().__init__([Fault(name, " ".join(said)) for name, said in both.items() if said])


class Doubt(Refused):
    """What was sent may be a mistake: one question; the same post again with `yes` in the field `where` is taken, and
    the answer kept. `again`: the form that comes back shows what it was asked about, so that sending it answers.
    `answers`: what else than `yes` may be answered, each with its words."""

    status = 409

    def __init__(
        self, question: str, where: str, again: bool = False, answers: Mapping[str, str] | None = None
    ) -> None:
        self.question = question
        self.again = again
        self.answers = answers or {}
        super().__init__(question, where)


class Worse(Refused):
    """The verdict got worse than the one that was shown, or a stop needs somebody to go past it."""

    status = 409

    def __init__(self, message: str, verdict: Verdict, where: str = "override") -> None:
        self.verdict = verdict
        super().__init__(message, where)


@dataclass(frozen=True, slots=True)
class Form:
    """What was sent with a step: each name with the list of what was sent."""

    sent: Mapping[str, list[str]]

    def one(self, name: str) -> str:
        """The first thing sent under a name, trimmed; empty: nothing."""
        return next((text.strip() for text in self.sent.get(name, ()) if text.strip()), "")

    def words(self, name: str, most: int) -> str:
        """What was typed under a name in words of one's own. Raises Refused there where it is longer than `most`
        characters or has one that cannot be seen."""
        try:
            return names.words(self.one(name), most)
        except names.BadName as fault:
            raise Refused(str(fault), name) from None

    def yes(self, name: str) -> bool:
        """True for a ticked box or a yes."""
        return self.one(name).casefold() in {"yes", "1", "true", "on", "y"}


def form(sent: Mapping[str, Any]) -> Form:
    """A form out of plain values or lists of them."""
    lists = {
        name: [str(one) for one in value] if isinstance(value, (list, tuple)) else [str(value)]
        for name, value in sent.items()
        if value is not None
    }
    return Form(lists)
