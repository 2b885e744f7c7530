"""The owners' page on paper: the same content, set by typst into a tagged PDF."""
