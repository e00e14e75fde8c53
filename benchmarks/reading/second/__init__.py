"""A second generator of photographed sheets, written apart from the first.

The reader was tuned on the first one; what it does on this one says how far that carries.
"""
