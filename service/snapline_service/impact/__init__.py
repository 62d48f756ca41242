"""What a draft would touch or a revision did: vehicles, fixtures, bays, kept visits."""
