"""The Choices pages."""
