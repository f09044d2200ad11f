"""What several tests lean on: parts of the machine, and a JACK server with no sound card."""
