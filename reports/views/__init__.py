"""The pages that report."""
