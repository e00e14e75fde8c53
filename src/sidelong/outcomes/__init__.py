"""Science of the programme's figures: survival, proportions and power; arrays in, results out.

The room stands so that nothing has to move when the programme's figures come.
"""
