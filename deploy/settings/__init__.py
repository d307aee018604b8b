"""One module per way of running: demo, test, production."""
