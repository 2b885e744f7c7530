"""How a sheet of line items or of quotes is read: plain values in, what was read and every trouble out.

Nothing here knows a file format, a database or a language. A cell is a text or a number; a trouble is a word with the
place it belongs to, and the sentence for it is made where the reader's language is known.
"""
