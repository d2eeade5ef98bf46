"""Pages of the materials room: each module one shelf of it."""
