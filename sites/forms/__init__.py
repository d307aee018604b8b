"""Forms for places and antennas, and the fields and base that every app's forms share."""
