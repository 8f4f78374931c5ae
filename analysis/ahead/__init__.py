"""What lies ahead: the next trip, remaining range, what claims are worth, what a change brought."""
