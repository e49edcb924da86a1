"""The model: keyed draws, one kernel file per process, and the packing of inputs into arrays. See ODD.md."""
