"""See design notes in DEVELOPERS.md."""
