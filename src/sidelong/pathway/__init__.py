"""One module per step of a trainee's way through; values in, values out.

Each module takes what it needs from the world as arguments: today's date, a source of chance, a
typesetter. Where a step only forwards, entrances call the lower room directly.
"""
