"""A project as files: its tables for a spreadsheet, and the whole of it as one document that can be read back."""
