"""What a person or another program is given: text and JSON."""
