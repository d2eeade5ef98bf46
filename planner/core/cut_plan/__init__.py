"""The cut plan as mathematics: which kinds share a marker, and how many spreads of it are cut."""
