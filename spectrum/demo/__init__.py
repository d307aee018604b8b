"""The demo network: an invented utility in an invented valley. Names, places, people, equipment: nothing here exists."""
