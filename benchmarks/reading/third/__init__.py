"""A third generator of photographed sheets, written from the contract of sheets alone.

Who wrote it had seen neither the reader nor the other generators. What the reader does on it says
whether its figures hold for pens, hands, paper and light that somebody else thought of.
"""
