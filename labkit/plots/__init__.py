"""The room plots."""
