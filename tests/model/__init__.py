"""What must be true of any run of the model, on random sites, strategies and both vines."""
