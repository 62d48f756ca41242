"""What differs between two states of a catalogue, in the words of the trade."""
