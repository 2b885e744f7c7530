"""The rules of the pages that report."""
