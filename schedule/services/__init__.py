"""What may be done to the sequence; every deed is one transaction with its trail row, and ends with `plan.settle`."""
