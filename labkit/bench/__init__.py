"""The room bench."""
