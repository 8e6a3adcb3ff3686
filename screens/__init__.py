"""What is on the glass (Kivy). Knows the job's ports, never the bus."""
