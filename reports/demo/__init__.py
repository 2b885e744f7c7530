"""The demo project: an invented build, replayed day by day through the same services that a person uses."""
