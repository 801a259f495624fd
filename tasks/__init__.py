"""Background jobs: thin adapters that read the clock and call one service each."""
