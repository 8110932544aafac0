"""The room notebook."""
