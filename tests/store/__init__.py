"""The store: nothing recorded is lost, changed or overwritten."""
