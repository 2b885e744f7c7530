"""What may be done to decisions; every deed is one transaction with its trail row."""
