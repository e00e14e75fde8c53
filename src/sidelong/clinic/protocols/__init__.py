"""The site's signed protocol and its ladder of pieces, every version kept."""
