"""One thin file per screen: reads the case, calls the model, draws."""
