"""The pages about a project itself; its money, choices and reports have views of their own apps."""
