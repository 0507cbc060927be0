"""Use cases, and the one place where the layers are put together."""
