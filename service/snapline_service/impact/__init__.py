"""What a draft would touch: vehicles, fixtures, bays, kept visits."""
