"""The room logic."""
