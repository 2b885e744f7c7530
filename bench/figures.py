"""What a measurement says."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure with its target; without one it is only told, such as a time on this machine.

    A ratio is written as how many times faster than its reference, which `against` names with both times.
    """

    name: str
    value: float
    unit: str
    at_most: float | None = None
    at_least: float | None = None
    against: str = ""

    @property
    def is_kept(self) -> bool:
        low = self.at_least is None or self.value >= self.at_least
        return low and (self.at_most is None or self.value <= self.at_most)

    def as_row(self) -> str:
        bounds = [f"at most {self.at_most:g}"] if self.at_most is not None else []
        bounds += [f"at least {self.at_least:g}"] if self.at_least is not None else []
        target = f"  {', '.join(bounds)}  {'ok' if self.is_kept else 'MISSED'}" if bounds else ""
        return f"  {self.name:<46} {self.value:>9.2f} {self.unit:<7}{target:<24}{self.against}".rstrip()


def faster(name: str, ours: float, theirs: float, reference: str, *, at_least: float) -> Figure:
    """How many times faster than a reference of the same run; both in seconds."""
    against = f"{reference}: {theirs * 1000:.1f} ms, ours {ours * 1000:.1f} ms"
    return Figure(name, theirs / ours, "times", at_least=at_least, against=against)
