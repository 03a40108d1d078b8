"""What is read and written on a phone."""
