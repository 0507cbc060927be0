"""The shop book: where jobs and plans are kept."""
