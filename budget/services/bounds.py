"""What an entered figure or date may be; the rule is the house's, kept where every app can reach it."""

from projects.bounds import (
    EARLIEST,
    LATEST,
    amount_within_bounds,
    columns_within_bounds,
    date_within_bounds,
    share_within_bounds,
)
from units.amounts import LARGEST_MINOR

__all__ = [
    "EARLIEST",
    "LARGEST_MINOR",
    "LATEST",
    "amount_within_bounds",
    "columns_within_bounds",
    "date_within_bounds",
    "share_within_bounds",
]
