"""The room controller."""
