"""The words and rules of the trade, as frozen values; standard library only."""
