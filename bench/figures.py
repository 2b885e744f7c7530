"""What a measurement says."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure. `at_most` is None for what is only told, such as a time on this machine."""

    name: str
    value: float
    unit: str
    at_most: float | None = None

    @property
    def is_kept(self) -> bool:
        return self.at_most is None or self.value <= self.at_most

    def as_row(self) -> str:
        bound = "" if self.at_most is None else f"  at most {self.at_most:g}  {'ok' if self.is_kept else 'OVER'}"
        return f"  {self.name:<52} {self.value:>10.2f} {self.unit:<8}{bound}"
