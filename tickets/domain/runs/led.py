"""What a run's log comes to, led on by each entry that comes after the others; read whole where one does not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from tickets.domain.entry import Entry, stamp, standing_lines
from tickets.domain.jobs.colourways import Ways
from tickets.domain.runs import run
from tickets.domain.runs.run import Proof, Story
from tickets.domain.runs.run_trace import Poured, RunTrace, Upset, Warned, upset


@dataclass(frozen=True, slots=True)
class Led:
    """What a run's log comes to by now.

    `trace`: the rows beside the story; of its upsets those from `first` on, counted from 0 (the ones before stay as
    they are). `kept`: as plain data, what leading it on from here takes besides the story.
    """

    story: Story
    trace: RunTrace
    first: int
    kept: Mapping[str, Any]


class _Reader:
    """A run's log as it is read, an entry after the other."""

    def __init__(self, story: Story, proof: Proof, poured: Poured, warned: Warned, upsets: int) -> None:
        self._story, self._proof, self._poured, self._warned, self._first = story, proof, poured, warned, upsets
        self._upsets: list[Upset] = []

    def read(self, lines: Iterable[Entry]) -> Led:
        """What it comes to with these lines."""
        for entry in lines:
            self._story = run.after(self._story, entry)
            self._proof.see(entry)
            self._poured.see(entry)
            self._warned.see(entry)
            if (cost := upset(entry)) is not None:
                self._upsets.append(cost)
        trace = RunTrace(tuple(self._upsets), self._poured.lots(), self._warned.cautions())
        kept = {
            "target": self._story.target,
            "proof": self._proof.kept(),
            "poured": self._poured.kept(),
            "warned": self._warned.kept(),
            "upsets": self._first + len(self._upsets),
        }
        return Led(run.told(self._story, self._proof), trace, self._first, kept)


def whole(entries: Iterable[Entry], ways: Ways | None = None) -> Led:
    """What all entries of a run come to, in any order; `ways` as of `run.replay`."""
    lines = standing_lines(entries)
    story, proof = run.begun(lines, ways)
    return _Reader(story, proof, Poured(ways or {}, story.on), Warned(), 0).read(lines)


def again(story: Story, kept: Mapping[str, Any] | None, ways: Ways) -> Led | None:
    """What was kept of a run, as it was worked out then, to be led on (`on`) and compared with what that gives; its
    upsets stay where they are. None: nothing was kept."""
    return _reader(story, kept, ways).read(()) if kept else None


def on(story: Story, kept: Mapping[str, Any] | None, entries: Sequence[Entry], ways: Ways) -> Led | None:
    """A run as its `story` and what was `kept` with it have it, led on by `entries`, as the log keeps them, which all
    were saved later. None: its log is to be read whole, since nothing was kept, or they change what was before: one is
    dated back or crosses another out, or says for the first time which garment was printed up to then."""
    if not kept or any(one.step == "cross-out" or stamp(one.at) < story.last_at for one in entries):
        return None
    if not story.on and any(map(run.garment_in, entries)):
        return None
    return _reader(story, kept, ways).read(standing_lines(entries))


def _reader(story: Story, kept: Mapping[str, Any], ways: Ways) -> _Reader:
    proof, poured = Proof.led_on(ways, kept["proof"]), Poured.led_on(ways, kept["poured"])
    return _Reader(replace(story, target=kept["target"]), proof, poured, Warned(**kept["warned"]), kept["upsets"])
