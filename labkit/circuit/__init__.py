"""The room circuit."""
