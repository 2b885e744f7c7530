"""Small sheets to start from: the headings that are known, and two rows that show what goes where."""

from collections.abc import Mapping

SAMPLES: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "lines": (
        ("Trade code", "Trade name", "Code", "Description", "Kind", "Unit", "Quantity", "First budget"),
        ("T01", "Groundworks", "T01-01", "Strip out the yard", "work", "m2", "120", "14500.00"),
        ("T02", "Concrete", "T02-01", "Ground slab", "work", "m3", "38.5", "58700.00"),
    ),
    "quotes": (
        ("Vendor", "Line code", "Amount", "Currency", "Date", "Valid until", "Lead time", "Basis", "Reference", "Note"),
        (
            "A vendor",
            "T01-01",
            "13900.00",
            "",
            "2026-11-02",
            "2027-01-31",
            "2 weeks",
            "firm",
            "Q-17",
            "without tipping",
        ),
        (
            "A vendor",
            "T02-01",
            "61250.00",
            "",
            "2026-11-02",
            "2027-01-31",
            "2 weeks",
            "firm",
            "Q-17",
            "without tipping",
        ),
    ),
    "invoices": (
        (
            "Vendor",
            "Invoice number",
            "Invoice date",
            "Line code",
            "Net",
            "Tax",
            "Retention",
            "Change",
            "Due date",
            "Note",
        ),
        (
            "A vendor",
            "AV-101",
            "2026-12-18",
            "T01-01",
            "6950.00",
            "1320.50",
            "347.50",
            "",
            "2027-01-17",
            "half of the strip-out",
        ),
        ("A vendor", "AV-102", "2027-01-15", "T02-01", "20000.00", "", "", "", "", "tax and retention as agreed"),
    ),
}


def as_csv(kind: str) -> bytes:
    """Write a sample as CSV. Raises: KeyError for a kind there is none of."""
    return ("\r\n".join(",".join(row) for row in SAMPLES[kind]) + "\r\n").encode("utf-8-sig")
