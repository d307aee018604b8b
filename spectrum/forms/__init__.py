"""Forms for channel plans, radio types, and links with their stations."""
