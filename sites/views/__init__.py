"""Pages of places, antennas, changes and jobs, and what the pages of every app share."""
