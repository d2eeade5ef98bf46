"""Pages of this room: the list, a style's page, its parts, its outlines."""
