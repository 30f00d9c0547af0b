"""The command line face. Heavy imports stay inside the functions that need them."""
