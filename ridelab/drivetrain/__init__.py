"""Drivetrains as their makers publish them: stages, the ladder they make, and the driven wheel."""
