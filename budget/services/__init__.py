"""What may be done to the budget; every deed is one transaction with its trail row and its movements."""
