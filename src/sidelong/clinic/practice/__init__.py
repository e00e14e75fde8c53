"""Practice at home: the nights as recorded, events, and the result that is signed."""
