"""Feed lines: move the plane of a sweep along them, their losses, and what a sweep says about them."""
