"""The room lessons."""
