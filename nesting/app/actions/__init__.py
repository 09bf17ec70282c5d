"""What the commands, the page and a notebook do: each action gives a result and says nothing."""
