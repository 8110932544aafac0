"""The room cli."""
