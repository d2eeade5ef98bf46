"""Pages of the orders room: reading, entering, customers."""
