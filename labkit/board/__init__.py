"""The room board."""
