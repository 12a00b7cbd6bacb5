"""The reference firmware: its portable part under sanitizers, and the whole of it in an emulated chip."""
