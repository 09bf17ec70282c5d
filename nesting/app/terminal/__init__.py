"""What the terminal says of each action, and the bars it shows."""
