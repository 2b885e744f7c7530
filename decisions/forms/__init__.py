"""The entry forms of Choices."""
